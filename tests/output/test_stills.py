"""The catch and release pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.output import stills
from analysis.output.annotated import frames_of
from analysis.output.palette import BODY
from analysis.result import Review


def test_taken_at_full_compression_and_release(review: Review) -> None:
    found = stills.still_frames(review)
    step_s = float(np.diff(review.motion.t_s).max())
    t_s, strokes = review.motion.t_s, review.strokes
    assert abs(t_s[found["catch.jpg"]] - strokes.full_compression_s[1]) <= step_s / 2
    assert abs(t_s[found["release.jpg"]] - strokes.release_s[1]) <= step_s / 2


def test_catch_is_taken_where_full_compression_is_unknown(review: Review) -> None:
    unknown = np.full(review.strokes.count, np.nan)
    changed = replace(review, strokes=replace(review.strokes, full_compression_s=unknown))
    at = stills.still_frames(changed)["catch.jpg"]
    assert abs(review.motion.t_s[at] - review.strokes.catch_s[1]) < 0.05


def test_no_stroke_no_still(review: Review) -> None:
    none = np.empty(0)
    empty = replace(
        review.strokes, catch_s=none, release_s=none, next_catch_s=none, full_compression_s=none,
        stage_of_stroke=(), measures={},
    )  # fmt: skip
    assert stills.still_frames(replace(review, strokes=empty)) == {}


def test_crop_holds_the_athlete_and_stays_inside(review: Review) -> None:
    left, top, right, bottom = stills.crop_box(review)
    clip = review.pose.clip
    assert 0 <= left < right <= clip.width_px and 0 <= top < bottom <= clip.height_px
    joints = review.motion.joints_px[review.strokes.stroke == 2]
    joints = joints[np.isfinite(joints).all(axis=2)]
    assert (joints >= [left, top]).all() and (joints <= [right, bottom]).all()


def test_joints_are_drawn_where_they_are_in_the_crop(review: Review) -> None:
    name, index = "release.jpg", stills.still_frames(review)["release.jpg"]
    frame = next(picture for i, picture in frames_of(review, 640, 360) if i == index)
    drawn = stills.draw_still(review, frame, index, name)
    left, top, right, bottom = stills.crop_box(review)
    scale = drawn.shape[1] / (right - left)
    assert drawn.shape[0] / (bottom - top) == pytest.approx(scale, rel=0.02)
    x, y = (review.motion.joint("hip")[index] - [left, top]) * scale
    spot = drawn[round(y) - 2 : round(y) + 3, round(x) - 2 : round(x) + 3]
    assert np.abs(spot.mean(axis=(0, 1)) - BODY).max() < 10


def test_the_head_is_in_the_still_where_the_clip_has_it(review: Review) -> None:
    """Upright with the legs bent, as high as wide, in a large picture with room all around."""
    clip = replace(review.pose.clip, width_px=1200, height_px=900)
    at = stills.still_frames(review)["catch.jpg"]
    still = np.repeat(review.motion.joints_px[[at]], len(review.motion.t_s), axis=0)
    motion = replace(review.motion, joints_px=still + np.array([400.0, 300.0]))
    far = replace(review, pose=replace(review.pose, clip=clip), motion=motion)
    _, top, _, bottom = stills.crop_box(far)
    assert top > 0 and bottom < 900
    highest = float(np.nanmin(motion.joint("ear")[review.strokes.stroke == 2, 1]))
    # The head reaches about a third of the trunk above the ear.
    assert highest - top >= 0.33 * motion.segments_px["trunk"]
