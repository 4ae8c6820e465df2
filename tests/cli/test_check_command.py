"""The filming check through its real entry point."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from analysis.filming import Checked, yaw_effects_deg
from analysis.result import QualityPoint
from cli.check_command import _lines

ROOT = Path(__file__).resolve().parents[2]
MIRA = ROOT / "sample_clips" / "mira_2026-05-09_sound.mp4"


def sideon(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "cli.main", *map(str, words)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"OMP_NUM_THREADS": "1"},
    )


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory):
    place = tmp_path_factory.mktemp("monday")
    (place / "a.mp4").symlink_to(MIRA)
    (place / "words.mp4").write_text("these are words")
    return place, sideon("check", place, "--to", 6, "--json", "--page", place / "p.html")


def test_one_clip_checked_the_other_told(both) -> None:
    place, done = both
    assert done.returncode == 1
    document = json.loads(done.stdout)
    assert [one["file"] for one in document["checked"]] == ["a.mp4"]
    points = {p["key"]: p["level"] for p in document["checked"][0]["points"]}
    assert points["in_frame"] == points["size"] == points["sharp"] == points["steady"] == "good"
    # Six seconds hold no two whole strokes: that is told, and the clip is not refused.
    assert points["strokes"] == "poor"
    assert document["checked"][0]["refused"].startswith("Strokes cannot be measured")
    assert [Path(f["file"]).name for f in document["failed"]] == ["words.mp4"]
    assert "words.mp4" in (place / "p.html").read_text(encoding="utf-8")
    assert "Traceback" not in done.stderr


def test_wrong_options_are_told_before_anything_is_read() -> None:
    done = sideon("check", MIRA, "--who", "middle")
    assert done.returncode == 2
    assert "--who middle is not known" in done.stderr


def test_what_is_filmed_well_takes_one_line() -> None:
    """A coach with forty clips reads what to change, not ten times "good" for each."""
    good = [QualityPoint(key, key, "good", 1.0, "") for key in ("level", "light", "sharp")]
    dark = QualityPoint("light", "Light", "fair", 20.0, "", "It is dark.", "More light.")
    effects = yaw_effects_deg(2.0)
    fine = _lines(Checked("a.mp4", "640×360", tuple(good), "", 2.0, effects))
    assert fine == ["a.mp4", "  640×360", "  ✓ Filmed well."]
    weak = _lines(Checked("a.mp4", "640×360", (dark, *good[::2]), "", 2.0, effects))
    assert weak[2:] == [
        "  ! Light: fair. It is dark. More light.",
        "  ✓ Everything else is filmed well.",
    ]
