"""Whole reviews of the rendered sample clips, held against their truth.

Tolerances are about twice what `tests/accuracy/angles_bench.py` measures on these clips, so that a
broken stage fails and another machine's rounding does not.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from rendered_truth import Truth, find_truth

from analysis.coaching.standard import load_standard
from analysis.errors import SettingsError
from analysis.result import Review
from analysis.review import ReviewOptions, athlete_of, date_of, find_clips, review_clip

SAMPLES = Path(__file__).resolve().parents[1] / "sample_clips"
TRUTHS = {truth.clip.stem: truth for truth in find_truth(SAMPLES)}


@cache
def reviewed(stem: str) -> Review:
    return review_clip(TRUTHS[stem].clip, load_standard("novice"))


@pytest.fixture(params=sorted(TRUTHS))
def pair(request: pytest.FixtureRequest) -> tuple[Review, Truth]:
    return reviewed(request.param), TRUTHS[request.param]


def test_there_are_sample_clips() -> None:
    assert len(TRUTHS) >= 8
    assert {truth.facing for truth in TRUTHS.values()} == {"left", "right"}
    assert {truth.setting for truth in TRUTHS.values()} == {"erg", "boat"}


def test_setting_stage_and_facing_are_recognised(pair: tuple[Review, Truth]) -> None:
    review, truth = pair
    assert review.motion.facing == truth.facing
    assert review.strokes.stage == truth.stage
    assert review.strokes.setting == truth.setting


def test_every_stroke_is_found_once(pair: tuple[Review, Truth]) -> None:
    review, truth = pair
    # A whole stroke that the clip's edges cut close may be one more or less.
    assert abs(review.strokes.count - len(truth.strokes)) <= 1


def test_events_come_within_a_frame_or_two(pair: tuple[Review, Truth]) -> None:
    review, truth = pair
    off = []
    for stroke in truth.strokes:
        for found, when in (
            (review.strokes.catch_s, stroke["catch_s"]),
            (review.strokes.release_s, stroke["release_s"]),
        ):
            nearest = float(np.min(np.abs(found - when)))
            if nearest < 0.3:
                off.append(nearest)
    assert len(off) >= 2 * (len(truth.strokes) - 1)
    assert np.median(off) <= 0.045


@pytest.mark.parametrize(
    ("angle", "most_deg"),
    [("trunk_deg", 3.0), ("shin_deg", 4.0), ("knee_deg", 4.0), ("elbow_deg", 7.0)],
)
def test_angles_are_near_truth(pair: tuple[Review, Truth], angle: str, most_deg: float) -> None:
    review, truth = pair
    off = review.motion.angle(angle) - truth.at(angle, review.motion.t_s)
    assert np.isfinite(off).mean() > 0.8
    assert np.nanmean(np.abs(off)) < most_deg


def test_intervals_are_honest() -> None:
    """Over all sample clips, 95 % intervals of the trunk cover truth, and are not just wide."""
    inside, width = [], []
    for stem, truth in TRUTHS.items():
        motion = reviewed(stem).motion
        off = motion.angle("trunk_deg") - truth.at("trunk_deg", motion.t_s)
        told = np.isfinite(off)
        inside.append(np.abs(off[told]) <= 1.96 * motion.angle_se("trunk_deg")[told])
        width.append(motion.angle_se("trunk_deg")[told])
    assert np.concatenate(inside).mean() > 0.9
    assert np.median(np.concatenate(width)) < 4.0


def test_the_planted_fault_comes_first(pair: tuple[Review, Truth]) -> None:
    review, truth = pair
    if truth.planted:
        assert review.findings.first_check in truth.planted
        assert review.findings.drill is not None
    else:
        assert review.findings.first_check is None
        assert not [f for f in review.findings.findings if f.level == "work on"]


def test_names_and_dates_come_from_the_file_name() -> None:
    assert athlete_of(Path("in/zoe_2031-02-03_late.mp4")) == "zoe"
    assert athlete_of(Path("Jürg Ø.mov")) == "Jürg Ø"
    assert date_of(Path("zoe_2031-02-03_late.mp4")) == "2031-02-03"
    assert date_of(Path("zoe_12031-02-034.mp4")) == ""


def test_find_clips(tmp_path: Path) -> None:
    for name in ("b.mp4", "a.MOV", ".hidden.mp4", "notes.txt"):
        (tmp_path / name).touch()
    assert [p.name for p in find_clips([tmp_path])] == ["a.MOV", "b.mp4"]
    assert [p.name for p in find_clips([tmp_path / "notes.txt"])] == ["notes.txt"]
    with pytest.raises(SettingsError, match="does not exist"):
        find_clips([tmp_path / "gone.mp4"])
    (tmp_path / "empty").mkdir()
    with pytest.raises(SettingsError, match="No clip"):
        find_clips([tmp_path / "empty"])


def test_a_named_stage_decides() -> None:
    options = ReviewOptions(stage="arms_and_body")
    review = review_clip(
        TRUTHS["oskar_2026-05-05_arms_only"].clip, load_standard("novice"), options
    )
    assert review.strokes.stage == "arms_and_body"
    assert review.strokes.stage_named
