"""The review command through its real entry point: errors, exit codes, what is written."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MIRA = ROOT / "sample_clips" / "mira_2026-05-09_sound.mp4"


def sideon(*words: object) -> subprocess.CompletedProcess[str]:
    script = Path(sys.executable).parent / "sideon"
    command = [str(script)] if script.exists() else [sys.executable, "-m", "cli.main"]
    return subprocess.run(
        [*command, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False
    )


def assert_one_plain_sentence(text: str) -> None:
    assert "Traceback" not in text
    assert len(text.strip().splitlines()) == 1
    assert text.strip().endswith(".")


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess]:
    """One good clip and two that cannot be read, in one run."""
    place = tmp_path_factory.mktemp("monday")
    (place / "mira_2026-05-09_sound.mp4").symlink_to(MIRA)
    (place / "no video.mp4").write_text("these are words")
    (place / "cut_short.mp4").write_bytes(MIRA.read_bytes()[:3000])
    out = place / "out"
    return out, sideon("review", place, "--out", out, "--json", "--to", 7)


def test_the_others_are_reviewed_when_some_clips_are_bad(reviewed) -> None:
    _, done = reviewed
    assert done.returncode == 1
    document = json.loads(done.stdout)
    assert [r["clip"]["file"] for r in document["reviewed"]] == ["mira_2026-05-09_sound.mp4"]
    assert sorted(Path(f["file"]).name for f in document["failed"]) == [
        "cut_short.mp4",
        "no video.mp4",
    ]
    for failure in document["failed"]:
        assert_one_plain_sentence(failure["why"])
    assert "Traceback" not in done.stderr


def test_every_file_of_the_contract_is_written(reviewed) -> None:
    out, _ = reviewed
    folder = out / "mira_2026-05-09_sound"
    expected = {
        "annotated.mp4", "catch.jpg", "release.jpg", "motion.csv", "strokes.csv", "review.json",
        "report.html",
    }  # fmt: skip
    assert {p.name for p in folder.iterdir()} >= expected
    index = (out / "index.html").read_text(encoding="utf-8")
    assert "mira_2026-05-09_sound/report.html" in index
    assert "no video.mp4" in index


@pytest.mark.parametrize(
    "words",
    [
        ("nowhere.mp4",),
        (MIRA, "--who", "somebody"),
        (MIRA, "--from", 5, "--to", 2),
        (MIRA, "--stature-m", 172),
        (MIRA, "--stage", "halfslide"),
        (MIRA, "--standard", "nobodys"),
    ],
)
def test_a_command_that_makes_no_sense_ends_in_one_sentence(words, tmp_path: Path) -> None:
    done = sideon("review", *words, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert_one_plain_sentence(done.stderr)
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    done = sideon("review", MIRA, "--out", tmp_path / "out", "--to", 6)
    assert done.returncode == 2
    assert_one_plain_sentence(done.stderr)


def test_an_output_folder_that_is_a_file(tmp_path: Path) -> None:
    taken = tmp_path / "out"
    taken.write_text("not a folder")
    done = sideon("review", MIRA, "--out", taken)
    assert done.returncode == 2
    assert_one_plain_sentence(done.stderr)
    assert taken.read_text() == "not a folder"


def test_help_and_version() -> None:
    assert "review" in sideon("--help").stdout
    assert sideon("--version").stdout.startswith("sideon ")
    assert sideon("review").returncode == 2
