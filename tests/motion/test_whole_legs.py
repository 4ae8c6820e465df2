"""Legs that models put together wrongly. Expected places are those of the made legs themselves."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.evidence import Evidence
from analysis.motion.motion import JOINTS
from analysis.motion.whole_legs import with_whole_legs

FRAMES = 40
WRONG = slice(10, 16)


def side(shift_px: float = 0.0) -> Evidence:
    """One side seen by two models: a seat that slides, thigh and shank of 100 px each."""
    xy = np.full((2, FRAMES, len(JOINTS), 2), np.nan)
    hip_x = 150.0 + 40.0 * np.cos(2 * np.pi * np.arange(FRAMES) / 20)
    half = hip_x / 2
    places = {
        "ankle": (np.zeros(FRAMES), np.zeros(FRAMES)),
        "knee": (half, -np.sqrt(100.0**2 - half**2)),
        "hip": (hip_x, np.zeros(FRAMES)),
        "shoulder": (hip_x, np.full(FRAMES, -110.0)),
    }
    for name, (x, y) in places.items():
        xy[:, :, JOINTS.index(name)] = np.stack([x + shift_px, y], axis=-1)
    seen = np.isfinite(xy[..., 0])
    return Evidence(xy, np.where(seen, 0.9, 0.0), np.ones((2, FRAMES), bool))


def test_whole_legs_stay_as_they_are() -> None:
    near = side()
    assert np.array_equal(with_whole_legs(near, side(8.0)).xy_px, near.xy_px, equal_nan=True)


def test_a_knee_put_at_the_hip_is_where_the_far_knee_is() -> None:
    near, far = side(), side(8.0)
    knee, hip = JOINTS.index("knee"), JOINTS.index("hip")
    near.xy_px[0, WRONG, knee] = near.xy_px[0, WRONG, hip] + [5.0, 10.0]
    mended = with_whole_legs(near, far).xy_px
    assert np.array_equal(mended[0, WRONG, knee], far.xy_px[0, WRONG, knee])
    assert np.array_equal(mended[1], near.xy_px[1], equal_nan=True)
    others = [index for index in range(len(JOINTS)) if index != knee]
    assert np.array_equal(mended[:, :, others], near.xy_px[:, :, others], equal_nan=True)


def test_without_a_far_knee_that_makes_a_leg_it_is_left_out() -> None:
    near, far = side(), side(8.0)
    knee, hip = JOINTS.index("knee"), JOINTS.index("hip")
    for each in (near, far):
        each.xy_px[0, WRONG, knee] = near.xy_px[0, WRONG, hip] + [5.0, 10.0]
    mended = with_whole_legs(near, far).xy_px[0, :, knee]
    assert np.isnan(mended[WRONG]).all()
    assert np.isfinite(np.delete(mended, np.r_[WRONG], axis=0)).all()


def test_a_hip_that_fits_neither_trunk_nor_thigh_is_left_out_and_the_knee_stays() -> None:
    near = side()
    knee, hip = JOINTS.index("knee"), JOINTS.index("hip")
    near.xy_px[1, WRONG, hip] = near.xy_px[1, WRONG, knee] + [10.0, -10.0]
    near.xy_px[1, WRONG, JOINTS.index("shoulder")] = near.xy_px[1, WRONG, hip] + [20.0, -20.0]
    mended = with_whole_legs(near, side(8.0)).xy_px
    assert np.isnan(mended[1, WRONG, hip]).all()
    assert np.array_equal(mended[:, :, knee], near.xy_px[:, :, knee])


def test_a_hip_drawn_into_the_thigh_is_still_a_hip() -> None:
    near = side()
    knee, hip = JOINTS.index("knee"), JOINTS.index("hip")
    drawn = 0.35 * (near.xy_px[0, WRONG, knee] - near.xy_px[0, WRONG, hip])
    near.xy_px[0, WRONG, hip] += drawn
    assert np.array_equal(with_whole_legs(near, side()).xy_px, near.xy_px, equal_nan=True)


@pytest.mark.parametrize("hidden", ["ankle", "knee", "hip"])
def test_what_is_not_seen_contradicts_nothing(hidden: str) -> None:
    near = side()
    near.xy_px[:, :, JOINTS.index(hidden)] = np.nan
    assert np.array_equal(with_whole_legs(near, side()).xy_px, near.xy_px, equal_nan=True)
