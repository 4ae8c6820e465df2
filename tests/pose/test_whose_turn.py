"""Which model looks at which frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.pose.linking import PersonTrack
from analysis.pose.whose_turn import bent, folded, whose_turn
from tests.pose import made_people as made


def at_rate(rate: float, frames: int = 90) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times of frames none of which is difficult or easy."""
    return np.arange(frames) / rate, np.zeros(frames, bool), np.zeros(frames, bool)


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
    turns = whose_turn(np.arange(len(marked)) / 30, marked, np.zeros(len(marked), bool))
    assert np.array_equal(turns.thunder & turns.landmarker, marked)
    assert (turns.thunder | turns.landmarker).all()


@pytest.mark.parametrize(("rate", "every"), [(24, 2), (25, 2), (30, 2), (50, 3), (60, 4)])
def test_easy_frames_are_looked_at_about_fifteen_times_a_second(rate: float, every: int) -> None:
    t_s, difficult, easy = at_rate(rate)
    easy[20:70] = True
    turns = whose_turn(t_s, difficult, easy)
    looked = turns.thunder | turns.landmarker
    assert looked[:20].all() and looked[70:].all()
    at = 20 + np.flatnonzero(looked[20:70])
    assert set(np.diff(at)) == {every}
    assert 12 <= rate / every <= 17
    assert (turns.thunder[at][1:] != turns.thunder[at][:-1]).all()  # they still take turns
    assert not (turns.thunder & turns.landmarker).any()


def test_difficult_frames_are_not_easy() -> None:
    t_s, difficult, easy = at_rate(30)
    difficult[30:40] = easy[:] = True
    turns = whose_turn(t_s, difficult, easy)
    assert np.array_equal(turns.thunder & turns.landmarker, difficult)


@pytest.mark.parametrize("rate", [12, 20])
def test_slow_clips_have_no_easy_frames(rate: float) -> None:
    t_s, difficult, easy = at_rate(rate)
    turns = whose_turn(t_s, difficult, ~easy)
    assert turns.thunder.all() and turns.landmarker.all()


def test_one_gap_makes_no_slow_clip() -> None:
    t_s, difficult, easy = at_rate(30)
    t_s[45:] += 2.0
    assert not whose_turn(t_s, difficult, easy).landmarker[0]


def test_one_frame() -> None:
    turns = whose_turn(*at_rate(30, 1))
    assert turns.thunder.all() and turns.landmarker.all()


LOOKS, T_S = np.arange(0, 10, 0.25), np.arange(0, 9.7, 1 / 30)


def seen(slide: float, unseen: tuple[int, ...]) -> PersonTrack:
    """A made rower as the first pass sees somebody."""
    people = [made.person(made.rowing(float(t), slide=slide), stature_px=300.0) for t in LOOKS]
    return made.track(LOOKS, [p if i not in unseen else None for i, p in enumerate(people)])


def knee_deg(slide: float) -> np.ndarray:
    """The made rower's knee, 180 straight [shape=(T,)]."""
    joints = [made.rowing(float(t), slide=slide) for t in T_S]
    to_hip, to_ankle = (np.array([j[end] - j["knee"] for j in joints]) for end in ("hip", "ankle"))
    lengths = np.linalg.norm(to_hip, axis=1) * np.linalg.norm(to_ankle, axis=1)
    return np.asarray(np.degrees(np.arccos((to_hip * to_ankle).sum(axis=1) / lengths)))


@pytest.mark.parametrize("unseen", [(), (3, 4, 11)])
def test_legs_are_bent_where_the_knee_is(unseen: tuple[int, ...]) -> None:
    knee = knee_deg(1.0)
    told = bent(seen(1.0, unseen), T_S)
    # The two halves of a leg are about alike: 0.87 of the straight leg is a knee of about 121°,
    # for 2 sin(121°/2) = 1.74. How far off looks at every quarter second are is left open.
    assert knee.min() < 90 and knee.max() > 145
    assert told[knee < 100].mean() > 0.9
    assert not told[knee > 140].any()


def test_legs_are_never_bent_without_the_slide() -> None:
    assert np.ptp(knee_deg(0.0)) < 1.0
    assert not bent(seen(0.0, ()), T_S).any()


@pytest.mark.parametrize("unseen", [(), (3, 4, 11)])
def test_legs_are_folded_where_the_seat_is_near_the_feet(unseen: tuple[int, ...]) -> None:
    hip_x, ankle_x = (
        np.array([made.person(made.rowing(float(t)), stature_px=300.0).xy_px[at, 0] for t in T_S])
        for at in ([11, 12], [15, 16])
    )
    apart = np.abs(hip_x.mean(axis=1) - ankle_x.mean(axis=1))
    way = (apart - apart.min()) / np.ptp(apart)
    told = folded(seen(1.0, unseen), T_S)
    # At either end of the slide there is no doubt, however coarsely the looks lie.
    assert told[way < 0.1].mean() > 0.9
    assert not told[way > 0.7].any()
