"""Which model looks at which frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.pose.whose_turn import folded, whose_turn
from tests.pose import made_people as made


def at_rate(rate: float, frames: int = 90) -> tuple[np.ndarray, np.ndarray]:
    return np.arange(frames) / rate, np.zeros(frames, bool)


@pytest.mark.parametrize("rate", [24000 / 1001, 25, 30, 60])
def test_models_take_turns(rate: float) -> None:
    turns = whose_turn(*at_rate(rate))
    assert np.array_equal(turns.thunder, ~turns.landmarker)
    assert turns.thunder[0]
    assert (turns.thunder[1:] != turns.thunder[:-1]).all()


@pytest.mark.parametrize("rate", [5, 12, 15, 20])
def test_both_look_at_every_frame_of_a_slow_clip(rate: float) -> None:
    turns = whose_turn(*at_rate(rate))
    assert turns.thunder.all() and turns.landmarker.all()


@given(st.lists(st.booleans(), min_size=2, max_size=60))
def test_both_look_at_difficult_frames_and_one_at_every_other(difficult: list[bool]) -> None:
    marked = np.array(difficult)
    turns = whose_turn(np.arange(len(marked)) / 30, marked)
    assert np.array_equal(turns.thunder & turns.landmarker, marked)
    assert (turns.thunder | turns.landmarker).all()


def test_one_gap_makes_no_slow_clip() -> None:
    t_s, easy = at_rate(30)
    t_s[45:] += 2.0
    assert not whose_turn(t_s, easy).landmarker[0]


def test_one_frame() -> None:
    turns = whose_turn(np.zeros(1), np.zeros(1, bool))
    assert turns.thunder.all() and turns.landmarker.all()


@pytest.mark.parametrize("unseen", [(), (3, 4, 11)])
def test_legs_are_folded_where_the_seat_is_near_the_feet(unseen: tuple[int, ...]) -> None:
    looks = np.arange(0, 10, 0.25)
    people = [made.person(made.rowing(float(t)), stature_px=300.0) for t in looks]
    track = made.track(looks, [p if i not in unseen else None for i, p in enumerate(people)])
    t_s = np.arange(0, 9.7, 1 / 30)
    hip_x, ankle_x = (
        np.array([made.person(made.rowing(float(t)), stature_px=300.0).xy_px[at, 0] for t in t_s])
        for at in ([11, 12], [15, 16])
    )
    apart = np.abs(hip_x.mean(axis=1) - ankle_x.mean(axis=1))
    way = (apart - apart.min()) / np.ptp(apart)
    told = folded(track, t_s)
    # At either end of the slide there is no doubt, however coarsely the looks lie.
    assert told[way < 0.1].mean() > 0.9
    assert not told[way > 0.7].any()
