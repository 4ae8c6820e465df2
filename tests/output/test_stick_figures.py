"""Strokes over each other: joints where they are, comparable between clips, told apart."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_review import made_review

from analysis.motion.motion import JOINTS
from analysis.output.stick_figures import (
    PHASES,
    StickSet,
    joints_at_phases,
    moments_along,
    own_strokes,
    stick_picture,
)
from analysis.result import Review


def test_moments_are_in_the_order_of_the_stroke() -> None:
    along = moments_along(0.4)
    assert along == pytest.approx((0.0, 0.2, 0.4, 0.58, 0.79))  # by hand: 0.4 + 0.3 × 0.6, …
    assert len(along) == len(PHASES)


def test_joints_are_those_of_the_motion_in_trunks(review: Review) -> None:
    joints = joints_at_phases(review)
    assert joints.shape == (review.strokes.count, len(PHASES), len(JOINTS), 2)
    k, wrist = 1, JOINTS.index("wrist")
    for p, at_s in ((0, review.strokes.catch_s[k]), (2, review.strokes.release_s[k])):
        for axis in range(2):
            true = np.interp(at_s, review.motion.t_s, review.motion.place_px[:, wrist, axis])
            assert joints[k, p, wrist, axis] * review.motion.segments_px["trunk"] == pytest.approx(
                true, abs=1e-6
            )


def test_size_and_side_of_the_picture_drop_out(review: Review, tmp_path: Path) -> None:
    other = made_review(tmp_path, strokes=3, stroke_s=1.5, fps=24.0, size=(640, 360), facing="left")
    np.testing.assert_allclose(joints_at_phases(other), joints_at_phases(review), atol=1e-6)


def test_a_joint_not_seen_breaks_the_line(review: Review) -> None:
    place = review.motion.place_px.copy()
    place[:, JOINTS.index("knee")] = np.nan
    hidden = replace(review, motion=replace(review.motion, place_px=place))
    joints = joints_at_phases(hidden)
    assert np.isnan(joints[:, :, JOINTS.index("knee")]).all()
    picture = own_strokes(hidden)
    assert picture is not None
    path = re.search(r'class="stick thin"><path d="([^"]+)"', picture.panels[0].svg)
    assert path is not None and path.group(1).count("M") == 3  # foot, body and arms, neck
    assert "nan" not in "".join(panel.svg for panel in picture.panels)


def test_the_fault_and_the_best_stand_out(review: Review) -> None:
    picture = own_strokes(review)
    assert picture is not None and len(picture.panels) == len(PHASES)
    assert [look for look, _ in picture.key] == ["thin", "full", "dashed"]
    for panel in picture.panels:
        assert panel.svg.count('class="stick thin"') == review.strokes.count
        assert panel.svg.count('class="stick dashed"') == 1
        assert 'role="img"' in panel.svg and f'aria-label="{panel.title}' in panel.svg


def test_before_and_after_in_one_picture(review: Review) -> None:
    joints = joints_at_phases(review)
    sets = [StickSet("before", joints, "dashed"), StickSet("after", joints + 0.1, "full")]
    picture = stick_picture(sets, facing="left", alt="Before and after.", reading="")
    assert picture.key == (("dashed", "before"), ("full", "after"))
    assert picture.panels[0].svg.count('class="stick full"') == review.strokes.count
    with pytest.raises(ValueError, match="joints of short"):
        StickSet("short", joints[:, :2], "thin")
