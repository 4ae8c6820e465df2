"""What near joints are off by, told by the far ones. Expected values follow from the rules."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.motion.near_and_far import TERMS, gaps, off_by, terms

UNIT = 100.0


def both(near_x: float, far_x: float, frames: int = 20) -> tuple[np.ndarray, np.ndarray]:
    """One witness, two joints, at rest [each shape=(1, T, 2, 2), px]."""
    near = np.zeros((1, frames, 2, 2))
    far = near.copy()
    near[..., 0], far[..., 0] = near_x, far_x
    return near, far


def weights(along: list[float], up: list[float]) -> np.ndarray:
    """Of one witness, one joint [shape=(1, 1, 2, TERMS)]."""
    return np.array([[[along, up]]])


def test_gap_is_in_trunk_lengths_and_positive_where_the_near_joint_is_nearer_to_the_feet() -> None:
    assert gaps(*both(230.0, 210.0), UNIT) == pytest.approx(np.full((1, 20, 2), 0.2))


def test_gap_is_known_where_both_are_seen() -> None:
    near, far = both(230.0, 210.0)
    far[0, :12, 0], near[0, 12:14, 0] = np.nan, np.nan
    gap = gaps(near, far, UNIT)[0, :, 0]
    assert np.isfinite(gap).tolist() == [False] * 14 + [True] * 6


def test_far_joint_that_is_hardly_ever_seen_tells_nothing() -> None:
    near, far = both(230.0, 210.0)
    far[0, 3:, 1] = np.nan
    gap = gaps(near, far, UNIT)
    assert np.isfinite(gap[0, :, 0]).all() and np.isnan(gap[0, :, 1]).all()


def test_terms_are_one_yaw_usual_gap_and_how_much_wider() -> None:
    gap = np.full((1, 5, 1), 0.1)
    gap[0, 1, 0], gap[0, 2, 0] = 0.14, np.nan
    found = terms(math.degrees(0.2), gap)
    assert found.shape == (1, 5, 1, TERMS)
    assert found[0, 1, 0] == pytest.approx([1.0, 0.2, 0.1, 0.04])
    # A frame that does not show it counts as usual.
    assert found[0, 2, 0] == pytest.approx([1.0, 0.2, 0.1, 0.0])


def test_off_by_is_the_weighed_sum_along_and_up() -> None:
    learned = weights([0.01, 0.2, 0.5, 1.0], [0.0, 0.1, 0.0, 0.0])
    gap = np.full((1, 3, 1), -0.04)
    gap[0, 1, 0] = -0.01
    found = off_by(math.degrees(0.1), gap, learned)[0, :, 0]
    # 0.01 + 0.1 · 0.2 − 0.04 · 0.5, and 0.03 more where the gap is so much wider.
    assert found == pytest.approx(np.array([[0.01, 0.01], [0.04, 0.01], [0.01, 0.01]]))


def test_unknown_gap_that_counts_leaves_the_joint_as_it_is() -> None:
    learned = weights([0.01, 0.2, 0.5, 0.0], [0.0, 0.1, 0.0, 0.0])
    found = off_by(math.degrees(0.1), np.full((1, 3, 1), np.nan), learned)[0, :, 0]
    assert found == pytest.approx(np.array([[0.0, 0.01]] * 3))


def test_nothing_learned_nothing_off() -> None:
    assert not off_by(12.0, np.full((2, 4, 3), np.nan), np.zeros((2, 3, 2, TERMS))).any()
