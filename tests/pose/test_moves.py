"""Nobody who does something else is taken for a rower, seen plainly or not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.pose.linking import PersonTrack
from analysis.pose.moves import unlike_rowing
from analysis.pose.people import COCO_NAMES
from analysis.pose.rower import choose, evidence
from sample_clips.studio.acts import NOT_ROWING, Act
from tests.pose import made_people as made

_STATURE_PX = 150.0
#: The far side as models give it when it is hidden: much as the near side, unsure.
_HIDDEN = [f"left_{joint}" for joint in ("elbow", "wrist", "hip", "knee", "ankle")]


def played(
    act: Act, t_s: np.ndarray, noise: float, *, far_side_hidden: bool, seed: int = 0
) -> PersonTrack:
    """Landmarks of an act, both sides a little apart; `noise` in statures."""
    rng = np.random.default_rng(seed)
    xy = np.zeros((len(t_s), 17, 2))
    for number, side in enumerate(("left", "right")):
        joints = act.joints(number)
        for name, place in joints.items():
            at = COCO_NAMES.index(f"{side}_{name}")
            xy[:, at] = place * [_STATURE_PX, -_STATURE_PX] + [320 + 8 * number, 300]
    xy[:, :3] = xy[:, [3, 4]].mean(axis=1, keepdims=True)
    score = np.full((len(t_s), 17), 0.7)
    if far_side_hidden:
        for name in _HIDDEN:
            far, near = (COCO_NAMES.index(n) for n in (name, name.replace("left", "right")))
            xy[:, far] = xy[:, near] + rng.normal(0, 3.0, (len(t_s), 2))
            score[:, far] = 0.35
    xy += rng.normal(0, noise * _STATURE_PX, xy.shape)
    box = np.concatenate([xy.min(axis=1) - 5, xy.max(axis=1) + 5], axis=1)
    return PersonTrack(t_s, box, xy, score, np.zeros(len(t_s), bool))


@pytest.mark.parametrize("hidden", [False, True], ids=["both sides", "far side hidden"])
@pytest.mark.parametrize("name", NOT_ROWING)
def test_no_other_activity_is_rowing(name: str, hidden: bool) -> None:
    t_s = np.arange(0, 12, 0.1)
    for per_min in (None, 14.0, 22.0, 30.0, 40.0, 55.0):
        act = NOT_ROWING[name](t_s) if per_min is None else NOT_ROWING[name](t_s, per_min)
        for seed, noise in enumerate((0.004, 0.012, 0.02)):
            track = played(act, t_s, noise, far_side_hidden=hidden, seed=seed)
            found = evidence(track, many_looks=True)
            assert not found.rows, (per_min, noise, found)


def test_a_rower_is_chosen_before_everybody_else() -> None:
    t_s = np.arange(0, 12, 0.25)
    others = [played(act(t_s), t_s, 0.006, far_side_hidden=False) for act in NOT_ROWING.values()]
    rower = made.track(
        t_s, [made.person(made.rowing(t), stature_px=120.0, noise_px=1.0) for t in t_s]
    )
    # All sit in one place here, so that somebody larger may be looked at closer before.
    *before, last = choose([*others, rower])
    assert last == len(others)
    assert all(evidence(others[n]).why_not in ("still", "lying") for n in before)


@pytest.mark.parametrize(
    ("name", "reason"),
    [("sit_ups", "lying"), ("on_a_swing", "arms stay"), ("wheelchair", "chair")],
)
def test_reasons(name: str, reason: str) -> None:
    t_s = np.arange(0, 12, 0.1)
    track = played(NOT_ROWING[name](t_s), t_s, 0.006, far_side_hidden=False)
    assert evidence(track).why_not == reason


def test_hands_that_go_in_turn() -> None:
    # Legs as a rower's, which move; hands as a paddler's.
    t_s = np.arange(0, 12, 0.1)
    rower = made.track(t_s, [made.person(made.rowing(t), stature_px=150.0) for t in t_s])
    xy = rower.xy_px.copy()
    wave = 35 * np.cos(2 * np.pi * t_s / 2)
    for name, turn in (("left_wrist", 1.0), ("right_wrist", -1.0)):
        xy[:, COCO_NAMES.index(name), 0] += turn * 2 * wave
    paddler = PersonTrack(t_s, rower.box_px, xy, rower.score, rower.unsure)
    assert unlike_rowing(rower, 1.0) == ""
    assert unlike_rowing(paddler, 1.0) == "in turn"
    # With somebody else in the way all the time, one of the hands may be theirs.
    beside = replace(paddler, unsure=np.ones(len(t_s), bool))
    assert unlike_rowing(beside, 1.0) == ""
    # So it goes for hands that tremble and no more, where only the catch is seen plainly.
    reach = xy[:, COCO_NAMES.index("left_hip"), 0] + 60.0
    for name, turn in (("left_wrist", 0.1), ("right_wrist", -0.1)):
        xy[:, COCO_NAMES.index(name), 0] = reach + turn * wave
    away = np.arange(len(t_s)) % 25 >= 5
    score = rower.score.copy()
    score[np.ix_(away, [COCO_NAMES.index(f"{s}_wrist") for s in ("left", "right")])] = 0.2
    xy[away] = rower.xy_px[away]
    assert unlike_rowing(PersonTrack(t_s, rower.box_px, xy, score, rower.unsure), 1.0) == ""


def test_legs_guessed_behind_a_high_side_are_no_chair() -> None:
    t_s = np.arange(0, 12, 0.1)
    rower = made.track(t_s, [made.person(made.rowing(t), stature_px=150.0) for t in t_s])
    xy, score = rower.xy_px.copy(), rower.score.copy()
    for side in ("left", "right"):
        knee, ankle = (COCO_NAMES.index(f"{side}_{joint}") for joint in ("knee", "ankle"))
        xy[:, knee] = xy[:, COCO_NAMES.index(f"{side}_hip")] + [40.0, 0.0]
        xy[:, ankle] = xy[:, knee] + [10.0, 25.0]
        score[:, ankle] = 0.7
    seated = PersonTrack(t_s, rower.box_px, xy, score, rower.unsure)
    assert unlike_rowing(seated, 1.0) == "chair"
    score[::2, [COCO_NAMES.index(f"{side}_ankle") for side in ("left", "right")]] = 0.2
    assert unlike_rowing(PersonTrack(t_s, rower.box_px, xy, score, rower.unsure), 1.0) == ""


def test_what_is_not_seen_speaks_for_nothing() -> None:
    t_s = np.arange(0, 12, 0.25)
    rower = made.track(t_s, [made.person(made.rowing(t), score=0.1) for t in t_s])
    assert unlike_rowing(rower, 1.0) == ""
