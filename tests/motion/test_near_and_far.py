"""What near joints are off by, told by the far ones. Expected values follow from the rules."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.motion.near_and_far import gaps, off_by

UNIT = 100.0


def both(near_x: float, far_x: float, frames: int = 20) -> tuple[np.ndarray, np.ndarray]:
    """One witness, two joints, at rest [each shape=(1, T, 2, 2), px]."""
    near = np.zeros((1, frames, 2, 2))
    far = near.copy()
    near[..., 0], far[..., 0] = near_x, far_x
    return near, far


def test_gap_is_in_trunk_lengths_and_positive_where_the_near_joint_is_nearer_to_the_feet() -> None:
    assert gaps(*both(230.0, 210.0), UNIT) == pytest.approx(np.full((1, 2), 0.2))


def test_gap_of_frames_that_show_both() -> None:
    near, far = both(230.0, 210.0)
    far[0, :12, 0], near[0, 12:14, 0, 0] = np.nan, 900.0
    assert gaps(near, far, UNIT)[0] == pytest.approx([0.2, 0.2])


def test_far_joint_that_is_hardly_ever_seen_tells_nothing() -> None:
    near, far = both(230.0, 210.0)
    far[0, 3:, 1] = np.nan
    gap = gaps(near, far, UNIT)
    assert math.isfinite(gap[0, 0]) and math.isnan(gap[0, 1])


def test_off_by_is_the_weighed_sum_along_and_up() -> None:
    weights = np.array([[[[0.01, 0.2, 0.5], [0.0, 0.1, 0.0]]]])
    found = off_by(math.degrees(0.1), np.array([[-0.04]]), weights)
    assert found == pytest.approx(np.array([[[0.01 + 0.02 - 0.02, 0.01]]]))


def test_unknown_gap_that_counts_leaves_the_joint_as_it_is() -> None:
    weights = np.array([[[[0.01, 0.2, 0.5], [0.0, 0.1, 0.0]]]])
    found = off_by(math.degrees(0.1), np.array([[np.nan]]), weights)
    assert found == pytest.approx(np.array([[[0.0, 0.01]]]))


def test_nothing_learned_nothing_off() -> None:
    assert (
        off_by(12.0, np.full((2, 3), np.nan), np.zeros((2, 3, 2, 3))).tolist()
        == [[[0.0, 0.0]] * 3] * 2
    )
