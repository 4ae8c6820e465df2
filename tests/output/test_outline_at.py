"""A neighbour's outline carried along with the trunk. Expected places are worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.motion import JOINTS
from analysis.output.outline_at import outline_at

T_S = np.array([0.0, 1 / 30, 2 / 30, 0.5])
EVERY = np.arange(4)
SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 20.0], [0.0, 20.0]])


def joints(hip: list[tuple[float, float]], shoulder: list[tuple[float, float]]) -> np.ndarray:
    out = np.full((len(hip), len(JOINTS), 2), np.nan)
    out[:, JOINTS.index("hip")] = hip
    out[:, JOINTS.index("shoulder")] = shoulder
    return out


def outlines() -> np.ndarray:
    out = np.full((4, 4, 2), np.nan)
    out[1] = SQUARE
    return out


def test_own_outline_is_left_as_it_is() -> None:
    still = joints([(5, 20)] * 4, [(5, 0)] * 4)
    assert outline_at(1, T_S, outlines(), EVERY, still) == pytest.approx(SQUARE)


def test_neighbours_outline_moves_and_turns_with_the_trunk() -> None:
    # The trunk moves 3 px along x and turns a quarter: upwards (0, −20) becomes (20, 0).
    moved = joints([(5, 20)] * 2 + [(8, 20)] * 2, [(5, 0)] * 2 + [(28, 20)] * 2)
    # Corner (0, 0) lies (−5, −20) from the hip; turned by a quarter that is (20, −5).
    expected = np.array([[28.0, 15.0], [28.0, 25.0], [8.0, 25.0], [8.0, 15.0]])
    assert outline_at(2, T_S, outlines(), EVERY, moved) == pytest.approx(expected)


def test_trunk_that_looks_half_as_long_halves_the_outline() -> None:
    # Half as large about the hip (5, 20): corner (0, 0) comes to (2.5, 10).
    moved = joints([(5, 20)] * 4, [(5, 0), (5, 0), (5, 10), (5, 10)])
    assert outline_at(2, T_S, outlines(), EVERY, moved)[0] == pytest.approx([2.5, 10.0])


def test_none_near_enough() -> None:
    still = joints([(5, 20)] * 4, [(5, 0)] * 4)
    assert np.isnan(outline_at(3, T_S, outlines(), EVERY, still)).all()


def test_no_trunk_no_outline() -> None:
    hidden = joints([(5, 20)] * 4, [(5, 0), (5, 0), (np.nan, np.nan), (5, 0)])
    assert np.isnan(outline_at(2, T_S, outlines(), EVERY, hidden)).all()


def test_frames_in_which_none_was_looked_for_take_no_room() -> None:
    moved = joints([(5, 20)] * 2 + [(8, 20)] * 2, [(5, 0)] * 2 + [(28, 20)] * 2)
    one = np.array([1])
    for index in range(4):
        assert np.array_equal(
            outline_at(index, T_S, outlines()[one], one, moved),
            outline_at(index, T_S, outlines(), EVERY, moved),
            equal_nan=True,
        )
