"""Which model looks at which frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.pose.whose_turn import whose_turn


def at_rate(rate: float, frames: int = 90) -> tuple[np.ndarray, np.ndarray]:
    return np.arange(frames) / rate, np.zeros(frames, bool)


@pytest.mark.parametrize(("rate", "every"), [(24000 / 1001, 1), (25, 1), (30, 1), (50, 2), (60, 2)])
def test_models_take_turns_about_thirty_times_a_second(rate: float, every: int) -> None:
    turns = whose_turn(*at_rate(rate))
    assert np.flatnonzero(turns.thunder).tolist() == list(range(0, 90, 2 * every))
    assert np.flatnonzero(turns.landmarker).tolist() == list(range(every, 90, 2 * every))


@pytest.mark.parametrize("rate", [5, 12, 15, 20])
def test_both_look_at_every_frame_of_a_slow_clip(rate: float) -> None:
    turns = whose_turn(*at_rate(rate))
    assert turns.thunder.all() and turns.landmarker.all()


@given(st.lists(st.booleans(), min_size=2, max_size=60))
def test_one_looks_at_every_difficult_frame_and_at_every_other_easy_one(
    difficult: list[bool],
) -> None:
    marked = np.array(difficult)
    turns = whose_turn(np.arange(len(marked)) / 60, marked)
    assert not (turns.thunder & turns.landmarker).any()
    looked = turns.thunder | turns.landmarker
    assert np.array_equal(looked, marked | (np.arange(len(marked)) % 2 == 0))
    assert (np.diff(turns.thunder[looked].astype(int)) != 0).all()


def test_both_look_at_every_frame_when_told() -> None:
    turns = whose_turn(*at_rate(30), closely=True)
    assert turns.thunder.all() and turns.landmarker.all()


def test_one_gap_makes_no_slow_clip() -> None:
    t_s, easy = at_rate(30)
    t_s[45:] += 2.0
    assert not whose_turn(t_s, easy).landmarker[0]


def test_one_frame() -> None:
    turns = whose_turn(np.zeros(1), np.zeros(1, bool))
    assert turns.thunder.all() and turns.landmarker.all()
