"""``--corrections``, ``--language`` and ``--single-file`` through the real entry point."""

from __future__ import annotations

import csv
import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MIRA = ROOT / "sample_clips" / "mira_2026-05-09_sound.mp4"


def sideon(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "cli.main", *map(str, words)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


def corrections(file: Path, clip: Path, **more: object) -> Path:
    sha256 = hashlib.sha256(clip.read_bytes()).hexdigest()
    content = {"sideon_corrections": 1, "clip": {"file": clip.name, "sha256": sha256}}
    content |= {"moved": [], "left_out": []} | more
    file.write_text(json.dumps(content), encoding="utf-8")
    return file


def test_what_cannot_be_used_is_told_before_any_work(tmp_path: Path) -> None:
    other = tmp_path / "other.mp4"
    other.write_bytes(b"something else")
    good = corrections(tmp_path / "good.json", MIRA, who=2)
    for words, says in (
        ((MIRA, "--corrections", tmp_path / "gone.json"), "cannot be read"),
        ((MIRA, "--corrections", other), "not a file of corrections"),
        ((MIRA, "--corrections", corrections(tmp_path / "o.json", other)), "another clip"),
        ((MIRA, other, "--corrections", good), "one clip"),
        ((MIRA, "--corrections", good, "--who", 1), "do not agree"),
        ((MIRA, "--language", "xx"), "use one of en, de"),
    ):
        done = sideon("review", *words, "--out", tmp_path / "out")
        assert done.returncode == 2, (words, done.stderr)
        assert says in done.stderr and len(done.stderr.strip().splitlines()) == 1, done.stderr
        assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_a_clip_is_reviewed_again_with_its_corrections(tmp_path: Path) -> None:
    def strokes(folder: Path) -> list[dict[str, str]]:
        with (folder / MIRA.stem / "strokes.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    first, second = tmp_path / "first", tmp_path / "second"
    assert sideon("review", MIRA, "--out", first, "--no-clip").returncode == 0
    before = strokes(first)
    was = float(before[0]["release_s"])
    marks = corrections(
        tmp_path / "mira.json", MIRA, note="The wind was strong.",
        moved=[{"event": "release", "was_s": was, "at_s": was - 0.1}],
        left_out=[{"catch_s": float(before[-1]["catch_s"])}],
    )  # fmt: skip
    done = sideon(
        "review", MIRA, "--out", second, "--corrections", marks, "--language", "de",
        "--single-file",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "corrected by the coach: moved 1, strokes left out 1" in done.stdout
    after = strokes(second)
    assert len(after) == len(before) - 1
    assert float(after[0]["release_s"]) == pytest.approx(was - 0.1, abs=1e-3)
    assert float(after[0]["drive_s"]) == pytest.approx(float(before[0]["drive_s"]) - 0.1, abs=1e-3)
    folder = second / MIRA.stem
    told = json.loads((folder / "review.json").read_text(encoding="utf-8"))["corrections"]
    assert told["note"] == "The wind was strong." and len(told["moved"]) == 1
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "Von Hand berichtigt" in page and "The wind was strong." in page
    assert (folder / f"{MIRA.stem}_one_file.html").stat().st_size < 18e6
    assert "_one_file.html (" in done.stdout
