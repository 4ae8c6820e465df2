"""Whose turn it is to look, and who is asked too when that one sees somebody else."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, ClassVar

import numpy as np
import pytest

from analysis.pose import crop
from analysis.pose.beside import helpers
from analysis.pose.filling import Filling
from analysis.pose.landmarkers import MEDIAPIPE_NAMES, Landmarker, Landmarks, Thunder
from analysis.pose.look import Aim, Looker, Sight
from analysis.pose.passing import Passing
from analysis.pose.people import COCO_NAMES
from analysis.pose.place import Place
from analysis.pose.track import OUTLINE_POINTS
from analysis.pose.whose_turn import Turns
from tests.pose import made_people as made

TIMES = np.arange(0, 4, 0.25)
T_S = np.arange(60) / 30.0
PEOPLE = [made.person(made.rowing(float(t)), stature_px=300.0) for t in TIMES]
TRACK = made.track(TIMES, PEOPLE)
PLACE = Place.of(TRACK)
CROPS = crop.plan(TRACK)
NOBODY = Passing(TRACK.t_s, TRACK.unsure, ())
AIM = Aim(PLACE, CROPS, CROPS, (960, 540), 1.0, "right", NOBODY)
#: Somebody who sits two trunks away.
AWAY = np.array([2.0 * PLACE.trunk_px, 0.0])


class MadeFrame:
    """A black picture at a time."""

    def __init__(self, t_s: float) -> None:
        self.t_s = t_s

    def scaled(self, width_px: int, height_px: int) -> np.ndarray:
        return np.zeros((height_px, width_px, 3), np.uint8)


class Sees:
    """A model that sees the athlete, or somebody else at the times it is told; counts its looks."""

    names: ClassVar[tuple[str, ...]]

    def __init__(self, stray: tuple[float, ...] = ()) -> None:
        self.stray, self.asked = stray, list[float]()

    def restart(self) -> None:
        """Nothing is remembered."""

    def run(self, picture: np.ndarray, t_s: float) -> Landmarks:
        self.asked.append(round(t_s * 30))
        own = made.person(made.rowing(t_s), stature_px=300.0).xy_px
        off = AWAY if round(t_s * 30) in self.stray else 0.0
        left, top, side = CROPS.at(t_s)
        shares = (own + off + 0.5 - [left, top]) / side
        xy = np.full((len(self.names), 2), 0.5)
        for at, name in enumerate(COCO_NAMES):
            xy[self.names.index(name)] = shares[at]
        return Landmarks(xy, np.ones(len(xy)), np.full((OUTLINE_POINTS, 2), 0.5))


class SeesAsThunder(Sees):
    names = COCO_NAMES


class SeesAsLandmarker(Sees):
    names = MEDIAPIPE_NAMES


EVEN = np.arange(60) % 2 == 0
#: Thunder at even frames.
IN_TURNS = Turns(EVEN, ~EVEN)


def nothing_yet(turns: Turns) -> Sight:
    """What came in before anybody looked."""
    outlined = np.flatnonzero(turns.landmarker)
    return Sight(
        Filling(Thunder, turns.thunder),
        Filling(Thunder, np.zeros(60, bool)),
        Filling(Landmarker, turns.landmarker),
        outlined,
        np.full((len(outlined), OUTLINE_POINTS, 2), np.nan),
    )


def looked(
    thunder: Sees,
    landmarker: Sees,
    frames: range,
    aim: Aim = AIM,
    turns: Turns = IN_TURNS,
    counts: bool = True,
) -> tuple[Sight, list[np.ndarray | None]]:
    """Have both look; return what came in, and the joints of each frame."""
    sight = nothing_yet(turns)
    models: Any = (thunder, landmarker)
    with helpers(0) as pool:
        looker = Looker(aim, turns, sight, *models, pool)
        made_frames: Any = [MadeFrame(float(T_S[index])) for index in frames]
        joints = [looker.look(f, n, counts) for n, f in zip(frames, made_frames, strict=True)]
    return sight, joints


def test_each_looks_in_its_turn_and_fills_its_own_frames() -> None:
    thunder, landmarker = SeesAsThunder(), SeesAsLandmarker()
    sight, arms = looked(thunder, landmarker, range(20))
    assert thunder.asked == list(range(0, 20, 2))
    assert landmarker.asked == list(range(1, 20, 2))
    seen = np.isfinite(sight.thunder.xy_px[:20, 0, 0])
    assert seen.tolist() == [i % 2 == 0 for i in range(20)]
    assert np.isfinite(sight.outline_px[:10]).all() and np.isnan(sight.outline_px[10:]).all()
    # Both see the same made wrist, so that it runs on evenly from frame to frame.
    wrist = np.array([made.person(made.rowing(t), stature_px=300.0).xy_px[10] for t in T_S[:20]])
    assert COCO_NAMES[10] == "right_wrist"
    assert np.array(arms)[:, 0] == pytest.approx(wrist, abs=1e-6)


def test_where_thunder_sees_somebody_else_the_landmarker_is_asked_too() -> None:
    thunder, landmarker = SeesAsThunder(stray=(8, 10)), SeesAsLandmarker()
    sight, _ = looked(thunder, landmarker, range(20))
    assert sorted(landmarker.asked) == sorted([*range(1, 20, 2), 8, 10])
    # Once as it is and once with everybody else blacked out.
    assert thunder.asked.count(8) == 2 and thunder.asked.count(6) == 1
    assert np.flatnonzero(sight.landmarker.asked[:12]).tolist() == [1, 3, 5, 7, 8, 9, 10, 11]
    assert np.isfinite(sight.landmarker.xy_px[[8, 10]]).all()
    # Nothing but the frames in whose turn it was has a place for an outline.
    assert np.isfinite(sight.outline_px[:10]).all() and np.isnan(sight.outline_px[10:]).all()


def test_where_the_landmarker_sees_somebody_else_thunder_is_asked_too() -> None:
    thunder, landmarker = SeesAsThunder(), SeesAsLandmarker(stray=(9, 11))
    sight, arms = looked(thunder, landmarker, range(20))
    assert sorted(thunder.asked) == sorted([*range(0, 20, 2), 9, 11])
    assert sight.thunder.asked[[9, 11]].all() and np.isfinite(sight.thunder.xy_px[[9, 11]]).all()
    assert np.isnan(sight.landmarker.xy_px[[9, 11]]).all()
    assert np.isnan(sight.outline_px[[4, 5]]).all()  # of frames 9 and 11
    assert np.isfinite(arms).all()


def test_while_somebody_walks_past_thunder_looks_without_them_too() -> None:
    walker = made.track(TIMES, [made.person(made.walking(float(t))) for t in TIMES])
    unsure = (TIMES >= 0.5) & (TIMES <= 1.0)
    passing = Passing.of(replace(TRACK, unsure=unsure), [TRACK, walker])
    thunder, landmarker = SeesAsThunder(), SeesAsLandmarker()
    sight, _ = looked(thunder, landmarker, range(50), replace(AIM, passing=passing))
    again = np.flatnonzero(sight.without.asked)
    assert again.tolist() == [n for n in range(0, 50, 2) if passing.beside(float(T_S[n]))]
    assert np.isfinite(sight.without.xy_px[again]).all()
    assert thunder.asked.count(again[0]) == 2 and thunder.asked.count(0) == 1


def test_where_it_is_nobodys_turn_nobody_looks() -> None:
    thunder, landmarker = SeesAsThunder(), SeesAsLandmarker()
    index = np.arange(60)
    turns = Turns(index % 4 == 0, index % 4 == 2)
    _, joints = looked(thunder, landmarker, range(8), turns=turns)
    assert [each is None for each in joints] == [False, True] * 4
    assert (thunder.asked, landmarker.asked) == ([0, 4], [2, 6])


def test_warming_up_fills_nothing() -> None:
    models = SeesAsThunder(stray=(4,)), SeesAsLandmarker(stray=(5,))
    sight, _ = looked(*models, range(8), counts=False)
    assert np.array_equal(sight.thunder.asked, EVEN)
    assert np.array_equal(sight.landmarker.asked, ~EVEN)
    assert np.isnan(sight.thunder.xy_px).all() and np.isnan(sight.landmarker.xy_px).all()
    assert np.isnan(sight.outline_px).all()


def test_what_one_section_met_does_not_change_whose_turn_it_is_in_another() -> None:
    """The second warms up on frames of the first, which may be behind it or ahead."""
    even = np.arange(60) % 2 == 0
    sight, _ = looked(SeesAsThunder(stray=(8,)), SeesAsLandmarker(stray=(5,)), range(12))
    assert sight.thunder.asked[5] and sight.landmarker.asked[8]
    thunder, landmarker = SeesAsThunder(), SeesAsLandmarker()
    models: Any = (thunder, landmarker)
    with helpers(0) as pool:
        looker = Looker(AIM, Turns(even, ~even), sight, *models, pool)
        for index in range(4, 12):
            frame: Any = MadeFrame(float(T_S[index]))
            looker.look(frame, index, False)
    assert thunder.asked == [4, 6, 8, 10] and landmarker.asked == [5, 7, 9, 11]
