"""The squad's commands as a coach types them."""

import functools
import json
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS / "season"), str(TESTS / "squad")]

import fake_squad  # noqa: E402

from analysis.errors import SettingsError  # noqa: E402
from analysis.season.store import Season  # noqa: E402
from analysis.squad import run as squad_run  # noqa: E402
from analysis.squad import share as squad_share  # noqa: E402
from cli import exit_codes  # noqa: E402
from cli.main import app  # noqa: E402


@pytest.fixture
def clips(tmp_path, monkeypatch):
    """A folder of a few clips, reviewed by a stand-in, in a directory of its own."""
    monkeypatch.chdir(tmp_path)
    faked = functools.partial(squad_run.run_squad, review=fake_squad.review)
    monkeypatch.setattr(squad_run, "run_squad", faked)
    folder = tmp_path / "clips"
    fake_squad.film_squad(folder, 2, fake_squad.DAYS[:2])
    return folder


def sideon(*words, **more):
    return CliRunner().invoke(app, [str(word) for word in words], **more)


def test_a_session(clips):
    result = sideon("squad", clips)
    assert result.exit_code == exit_codes.ALL_DONE, result.output
    assert "New athletes: rower00, rower01" in result.stderr
    assert "4 to review, 0 done already" in result.stderr
    assert result.stdout.strip().endswith(str(Path("season") / "index.html"))
    assert "4 reviewed, 0" not in result.stdout
    again = sideon("squad", clips)
    assert "0 reviewed, 4 done already" in again.stdout


@pytest.mark.parametrize("words", [(), ("--json",), ("--quiet",)])
@pytest.mark.parametrize("case", ["whole", "failed", "unclear", "neither"])
def test_exit_codes_and_outputs_agree(clips, words, case):
    for path in clips.iterdir():
        path.unlink()
    fake_squad.film(clips, "ann", fake_squad.DAYS[0])
    if case in ("failed", "neither"):
        fake_squad.film(clips, "bo", fake_squad.DAYS[0], fails="Nobody rows here.")
    if case in ("unclear", "neither"):
        fake_squad.film(clips, "IMG", "0042")
    result = sideon("squad", clips, "--workers", 1, *words)
    assert result.exit_code == (exit_codes.ALL_DONE if case == "whole" else exit_codes.SOME_FAILED)
    if "--json" in words:
        document = json.loads(result.stdout)
        assert document["reviewed"] == 1
        assert [f["why"] for f in document["failed"]] == (
            ["Nobody rows here."] if case in ("failed", "neither") else []
        )
        assert len(document["unclear"]) == (case in ("unclear", "neither"))
    else:
        assert ("Nobody rows here." in result.stderr) == (case in ("failed", "neither"))
    assert ("whose clip is this?" in result.stderr) == (case in ("unclear", "neither"))
    if words == ("--quiet",):
        assert result.stdout == ""
        if case == "whole":
            assert result.stderr == ""


def test_what_could_not_be_reviewed_is_not_done(clips):
    fake_squad.film(clips, "bo", fake_squad.DAYS[0], fails="Nobody rows here.")
    sideon("squad", clips, "--workers", 1)
    again = sideon("squad", clips, "--workers", 1)
    assert "0 to review, 4 done already" in again.stderr
    assert "0 reviewed, 4 done already" in again.stdout
    assert "Nobody rows here." in again.stderr
    assert json.loads(sideon("squad", clips, "--json").stdout)["done_already"] == 4


def test_dry_run_begins_nothing(clips, tmp_path):
    result = sideon("squad", clips, "--dry-run")
    assert result.exit_code == exit_codes.ALL_DONE
    assert "rower00: rower00_2026-01-12.mp4" in result.stderr
    assert not (tmp_path / "season").exists()


def test_a_new_sheet_is_written_and_never_over_another(clips):
    result = sideon("squad", clips, "--new-sheet")
    assert result.exit_code == exit_codes.ALL_DONE
    sheet = clips / "session.csv"
    assert str(sheet) in result.stdout
    assert sheet.read_text(encoding="utf-8-sig").count("rower00") == 4
    assert isinstance(sideon("squad", clips, "--new-sheet").exception, SettingsError)
    assert sideon("squad", clips, "--sheet", sheet).exit_code == exit_codes.ALL_DONE


def test_wrong_words_end_in_one_sentence(clips):
    for words in (
        ("squad", clips, "--date", "soon"),
        ("squad", clips / "none"),
        ("squad", clips, "--standard", "none"),
        ("squad", clips, "--scheduler", "tcp://127.0.0.1:9"),
        ("export", "--season", "none"),
        ("forget", "ann", "--season", "none"),
        ("note", "ann", "x", "--season", "none"),
        ("forget", "ann"),
        ("consent", "ann"),
        ("consent", "ann", "soon", "--by", "x"),
    ):
        result = sideon(*words)
        assert isinstance(result.exception, SettingsError), (words, result.output)
        assert "\n" not in str(result.exception)


def test_consent_and_notes_reach_the_pages(clips, tmp_path):
    sideon("squad", clips)
    assert sideon("consent", "rower00", "31.01.2026", "--by", "a parent").exit_code == 0
    assert sideon("note", "rower00", "Sits tall.", "--date", "2026-02-01").exit_code == 0
    page = (tmp_path / "season/athletes/rower00/index.html").read_text()
    assert "Consent given on 31 January 2026 by a parent." in page
    assert "Sits tall." in page
    assert sideon("consent", "rower00", "--withdraw").exit_code == 0
    page = (tmp_path / "season/athletes/rower00/index.html").read_text()
    assert "No consent is noted" in page


def test_export(clips, tmp_path):
    sideon("squad", clips)
    assert sideon("export").exit_code == 0
    assert (tmp_path / "season_csv/strokes.csv").read_text(encoding="utf-8-sig").count("\n") == 25
    said = sideon("export", "--format", "json")
    assert len(json.loads(said.stdout)["clips"]) == 4
    assert sideon("export", "--format", "json", "--out", "all.json").exit_code == 0
    assert (tmp_path / "all.json").read_text() == said.stdout


def shared(monkeypatch):
    faked = functools.partial(squad_share.share, review=fake_squad.review_for_sharing)
    monkeypatch.setattr(squad_share, "share", faked)


def test_share_warns_of_consent_and_names_nobody(clips, tmp_path, monkeypatch):
    shared(monkeypatch)
    sideon("squad", clips)
    sideon("consent", "rower01", "2026-01-01", "--by", "a parent")
    result = sideon("share", "rower00", "rower01", "--out", "for_parents")
    assert result.exit_code == exit_codes.ALL_DONE, result.output
    warnings = [line for line in result.stderr.splitlines() if line.startswith("WARNING")]
    assert len(warnings) == 1 and "no consent is noted for rower00" in warnings[0]
    assert "Look through each clip" in result.stdout
    made = sorted(p.relative_to(tmp_path) for p in (tmp_path / "for_parents").rglob("*"))
    assert len(made) == 12 and not any("rower" in str(path) for path in made)
    forgotten = sideon("forget", "rower00", "--yes")
    assert forgotten.stdout.count("  shared  ") == 2
    assert len(list((tmp_path / "for_parents").iterdir())) == 2


def test_share_that_still_names_somebody_fails(clips, monkeypatch):
    faked = functools.partial(squad_share.share, review=fake_squad.review)
    monkeypatch.setattr(squad_share, "share", faked)
    sideon("squad", clips)
    result = sideon("share", "rower00_2026-01-12.mp4")
    assert result.exit_code == exit_codes.SOME_FAILED
    assert "Do not share" in result.stderr


def test_watch_refuses_what_is_no_folder(clips):
    for words in (("watch", clips / "none"), ("watch", clips, "--date", "soon")):
        assert isinstance(sideon(*words).exception, SettingsError)


def test_forget_shows_asks_does_and_proves(clips, tmp_path):
    sideon("squad", clips)
    unasked = sideon("forget", "rower00")
    assert isinstance(unasked.exception, SettingsError)
    assert "say --yes" in str(unasked.exception)
    assert "2 clips, 12 strokes, 0 notes" in unasked.stdout
    assert "rower00_2026-01-12.mp4" in unasked.stdout
    with Season(tmp_path / "season") as season:
        assert "rower00" in season.athletes()
    result = sideon("forget", "rower00", "--yes")
    assert result.exit_code == exit_codes.ALL_DONE, result.output
    assert "nothing is left" in result.stdout
    left = [p for p in tmp_path.rglob("*") if p.is_file() and b"rower00" in p.read_bytes()]
    assert left == []
    assert [p.name for p in sorted(clips.iterdir())] == [
        "rower01_2026-01-12.mp4",
        "rower01_2026-02-09.mp4",
    ]
    assert "rower01" in (tmp_path / "season/index.html").read_text()


def test_forget_says_where_something_is_left(clips, tmp_path):
    sideon("squad", clips)
    sideon("note", "rower01", "Copies rower00.")
    result = sideon("forget", "rower00", "--yes", "--keep-clips")
    assert result.exit_code == exit_codes.SOME_FAILED
    assert "notes, text: Copies rower00." in result.stderr
    assert len(list(clips.iterdir())) == 4


def test_compare_two_days(clips, tmp_path):
    fake_squad.film(clips, "rower00", "2026-03-09", seed=9, layback_deg=12.0)
    sideon("squad", clips)
    result = sideon("compare", "2026-01-12", "2026-03-09", "--athlete", "rower00")
    assert result.exit_code == exit_codes.ALL_DONE, result.output
    assert "12 January 2026  →  9 March 2026: Changed for the better" in result.stdout
    # What changed comes first, behind the headline and the heads of the columns.
    line = result.stdout.splitlines()[2]
    assert line.startswith("Layback")
    assert "26°" in line and "changed for the better" in line
    assert "by chance" in result.stdout
    # The stand-in wrote no measurements, so that there is nothing to draw from.
    assert "No clip of both strokes" in result.stderr
    page = tmp_path / result.stdout.strip().splitlines()[-1].removeprefix("page: ")
    assert "Changed for the better" in page.read_text()
    athlete = (tmp_path / "season/athletes/rower00/index.html").read_text()
    assert f"{page.parent.name}/index.html" in athlete


def test_compare_two_clips_as_json(clips):
    sideon("squad", clips)
    names = [clips / f"rower01_{day}.mp4" for day in fake_squad.DAYS[:2]]
    result = sideon("compare", *names, "--json", "--no-clip")
    assert result.exit_code == exit_codes.ALL_DONE, result.output
    document = json.loads(result.stdout)
    layback = next(m for m in document["measures"] if m["measure"] == "layback_deg")
    assert layback["verdict"] == "no change"
    assert layback["interval"][0] < layback["change"] < layback["interval"][1]
    assert layback["mdc95"] == pytest.approx(1.96 * 2**0.5 * layback["sem"])
    wrong = sideon("compare", names[0], names[0])
    assert isinstance(wrong.exception, SettingsError)


def test_a_language_that_is_not_there_is_told_first(clips, tmp_path):
    for words in (("squad", clips), ("watch", clips), ("share", "rower00")):
        result = sideon(*words, "--language", "xx")
        assert isinstance(result.exception, SettingsError), words
        assert "use one of en, de" in str(result.exception)
    assert not (tmp_path / "season").exists()


@pytest.mark.parametrize("words", [("--sheet", "gone.csv"), ("--standard", "nobodys")])
@pytest.mark.parametrize("command", ["squad", "watch"])
def test_no_season_is_begun_with_what_cannot_be_used(clips, tmp_path, command, words):
    assert isinstance(sideon(command, clips, *words).exception, SettingsError)
    assert not (tmp_path / "season").exists()
