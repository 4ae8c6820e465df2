import pytest
from typer.testing import CliRunner

from analysis.errors import SettingsError
from cli.main import app


def run(*words: object):
    return CliRunner().invoke(app, ["standard", *map(str, words)])


def test_the_standard_in_force_is_printed_plainly_when_piped():
    result = run()
    assert result.exit_code == 0
    assert "layback_deg" in result.stdout and "3° … 20°" in result.stdout
    assert "\x1b" not in result.stdout and "─" not in result.stdout


def test_another_strictness_and_stage_are_printed():
    assert "8° … 35°" in run("trained").stdout
    short = run("--stage", "arms_only").stdout
    assert "layback_deg" not in short and "handle_level_share" in short
    assert "hand_gap_share" in run("--on", "boat").stdout
    assert "hand_gap_share" not in run().stdout


def test_a_copy_is_written_checked_and_never_replaced_unasked(tmp_path):
    path = tmp_path / "squad.toml"
    assert run("--write", path).exit_code == 0
    assert run("--check", path).exit_code == 0
    path.write_text("[limits.layback_deg]\nhigh = 25\n")
    again = run("--write", path)
    assert isinstance(again.exception, SettingsError)
    assert "--force" in str(again.exception)
    assert path.read_text().endswith("high = 25\n")
    assert run("--write", path, "--force").exit_code == 0
    assert "A copy of the standard" in path.read_text()


def test_an_athletes_own_limits_are_printed(tmp_path):
    path = tmp_path / "squad.toml"
    path.write_text("[athlete.Eva.layback_deg]\nhigh = 26\n")
    assert "3° … 26°" in run(path, "--athlete", "eva").stdout
    other = run(path, "--athlete", "Ida").stdout
    assert "3° … 20°" in other and "Ida has no limits of their own" in other
    assert "own: eva." in run("--check", path).stdout


def test_a_wrong_copy_ends_in_one_sentence_and_exit_code_2(tmp_path, monkeypatch, capsys):
    from cli import main

    path = tmp_path / "squad.toml"
    path.write_text("[limits.layback_deg]\nhigh = 'far'\n")
    monkeypatch.setattr("sys.argv", ["sideon", "standard", "--check", str(path)])
    with pytest.raises(SystemExit) as ended:
        main.main()
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and f"{path}, line 2: limits.layback_deg.high" in said


def test_a_folder_that_is_not_there(tmp_path):
    result = run("--write", tmp_path / "gone" / "squad.toml")
    assert "cannot be written" in str(result.exception)


def test_write_and_check_do_not_go_together(tmp_path):
    result = run("--write", tmp_path / "a.toml", "--check", tmp_path / "b.toml")
    assert "give one of them" in str(result.exception)
    assert not (tmp_path / "a.toml").exists()
