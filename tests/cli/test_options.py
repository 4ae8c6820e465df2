"""Values that an option does not take end in one plain sentence, in every command."""

import pytest
import typer
from typer.testing import CliRunner

from analysis.errors import SettingsError
from analysis.output.language import languages
from analysis.season.sheet import read_stage
from analysis.stroke.strokes import STAGES
from cli import exit_codes
from cli.main import app, main
from cli.options import StageName, known


def said(*words: str) -> str:
    """What a command that cannot be carried out says."""
    error = CliRunner().invoke(app, list(words)).exception
    assert isinstance(error, SettingsError), error
    return str(error)


def test_the_stages_that_can_be_named_are_those_there_are() -> None:
    assert tuple(StageName) == STAGES


@pytest.mark.parametrize("typed", ["halfslide", "half_slid", "HalfSlide"])
@pytest.mark.parametrize("command", [("review", "x.mp4"), ("standard",)])
def test_the_nearest_value_is_offered(command, typed) -> None:
    assert said(*command, "--stage", typed) == (
        f"--stage {typed} is not known here: use half_slide "
        "(others: arms_only, arms_and_body, quarter_slide, full_slide)."
    )


def test_nothing_is_offered_where_nothing_is_near() -> None:
    assert said("review", "x.mp4", "--on", "water") == (
        "--on water is not known here: use one of erg, boat."
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("review", "x.mp4", "--on", "ergo"), "use erg (others: boat)"),
        (("check", "x.mp4", "--on", "water"), "use one of erg, boat"),
        (("standard", "--on", "water"), "use one of erg, boat"),
        (("export", "--format", "xml"), "use one of csv, json"),
        (("review", "x.mp4", "--from", "a"), "--from a is no number: give seconds, like"),
        (("check", "x.mp4", "--to", "nan"), "--to nan is no number: give seconds, like"),
        (("review", "x.mp4", "--stature-m", "1,72"), "no number: give metres, like 1.72"),
    ],
)
def test_what_an_option_does_not_take(words, told) -> None:
    assert told in said(*words) and said(*words).endswith(".")


@pytest.mark.parametrize(
    "command", [("review", "x"), ("squad", "x"), ("watch", "x"), ("share", "x")]
)
def test_options_of_several_commands_are_read_alike(command) -> None:
    for count in ("0", "-1", "two", "1.5"):
        assert said(*command, "--workers", count).startswith(f"--workers {count} is no number of")
    assert f"use one of {', '.join(languages())}." in said(*command, "--language", "xx")


@pytest.mark.parametrize("typed", ["half_slide", "half-slide", "Half slide"])
def test_a_stage_may_be_written_as_in_a_sheet(typed) -> None:
    assert known("--stage", typed, STAGES) == read_stage(typed) == "half_slide"


def test_choices_are_shown_and_completed() -> None:
    told = CliRunner().invoke(app, ["review", "--help"]).stdout
    assert f"[{'|'.join(STAGES)}]" in told
    command = typer.main.get_command(app).commands["review"]
    stage = next(p for p in command.params if p.name == "stage")
    context = typer.Context(command)
    assert [one.value for one in stage.shell_complete(context, "half")] == ["half_slide"]


@pytest.mark.parametrize("within", ["command", "library"])
def test_ctrl_c_says_that_it_stopped(monkeypatch, capsys, within) -> None:
    """Raised while a command runs, or past the option library."""

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("sys.argv", ["sideon", "review", "x.mp4"])
    if within == "command":
        monkeypatch.setattr("analysis.review.find_clips", stop)
    else:
        monkeypatch.setattr("cli.main.app", stop)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == exit_codes.STOPPED
    assert capsys.readouterr().err == "sideon: stopped; finished reviews are kept.\n"


def test_a_question_without_an_answer(monkeypatch, capsys) -> None:
    def ask(*_, **__):
        raise typer.Abort

    monkeypatch.setattr("sys.argv", ["sideon", "review", "x.mp4"])
    monkeypatch.setattr("analysis.review.find_clips", ask)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == exit_codes.STOPPED
    assert capsys.readouterr().err == "sideon: stopped without an answer; nothing was done.\n"


def test_the_list_of_commands_has_whole_sentences() -> None:
    told = CliRunner().invoke(app, ["--help"], terminal_width=80).stdout
    listed = told.split("Commands:")[1].strip().splitlines()
    assert len(listed) == len(typer.main.get_command(app).commands)
    assert all(line.endswith(".") and not line.endswith("...") for line in listed)


@pytest.mark.parametrize(
    ("words", "wrong", "command"),
    [
        (("review",), "missing argument 'clips'", "sideon review"),
        (("compare", "a"), "missing argument 'after'", "sideon compare"),
        (
            ("review", "x.mp4", "--ou", "y"),
            "--ou is no option (did you mean --on or --out or --to?)",
            "sideon review",
        ),
        (("review", "x.mp4", "--blue"), "--blue is no option", "sideon review"),
        (("review", "x.mp4", "--out"), "option '--out' requires an argument", "sideon review"),
        (("reviw", "x.mp4"), "no such command 'reviw'", "sideon"),
        (("compare", "a", "b", "c"), "got unexpected extra argument(s) (c)", "sideon compare"),
    ],
)
def test_words_that_make_no_command(monkeypatch, capsys, words, wrong, command) -> None:
    monkeypatch.setattr("sys.argv", ["sideon", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == exit_codes.USAGE
    said = capsys.readouterr()
    told, _, rest = said.err.partition(": " + command)
    assert told.split("(Possible")[0].startswith(f"sideon: {wrong}"), said.err
    assert rest == " --help tells how it is used.\n" and not said.out


def test_no_words_at_all_ask_for_help(monkeypatch, capsys) -> None:
    monkeypatch.setattr("sys.argv", ["sideon"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == exit_codes.ALL_DONE
    assert capsys.readouterr().out.startswith("Usage: sideon ")
