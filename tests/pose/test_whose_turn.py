"""Which model looks at which frame."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.whose_turn import whose_turn


def at_rate(rate: float, frames: int = 90) -> np.ndarray:
    return np.arange(frames) / rate


@pytest.mark.parametrize("rate", [24000 / 1001, 25, 30, 60])
def test_models_take_turns(rate: float) -> None:
    turns = whose_turn(at_rate(rate))
    assert np.array_equal(turns.thunder, ~turns.landmarker)
    assert turns.thunder[0]
    assert (turns.thunder[1:] != turns.thunder[:-1]).all()


@pytest.mark.parametrize("rate", [5, 12, 15, 20])
def test_both_look_at_every_frame_of_a_slow_clip(rate: float) -> None:
    turns = whose_turn(at_rate(rate))
    assert turns.thunder.all() and turns.landmarker.all()


def test_both_look_at_every_frame_when_told() -> None:
    turns = whose_turn(at_rate(30), closely=True)
    assert turns.thunder.all() and turns.landmarker.all()
    assert turns.thunder is not turns.landmarker


def test_one_gap_makes_no_slow_clip() -> None:
    t_s = at_rate(30)
    t_s[45:] += 2.0
    assert not whose_turn(t_s).landmarker[0]


def test_one_frame() -> None:
    turns = whose_turn(np.zeros(1))
    assert turns.thunder.all() and turns.landmarker.all()
