"""What counts as seen when the models take turns. Expected values follow from the rule itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.motion import evidence
from analysis.motion.evidence import MODELS, Evidence
from analysis.motion.learned import shipped
from analysis.motion.motion import JOINTS
from analysis.motion.uncertainty import witness_spread_px


def in_turns(frames: int = 6) -> Evidence:
    """Both models see every joint whenever it is their turn: Thunder first."""
    asked = np.array([np.arange(frames) % 2 == 0, np.arange(frames) % 2 == 1])
    xy = np.full((2, frames, len(JOINTS), 2), np.nan)
    xy[asked] = 5.0
    return Evidence(xy, np.where(asked[:, :, None], 0.9, 0.0) * np.ones(len(JOINTS)), asked)


def test_joint_that_one_model_never_sees_is_seen_all_the_same() -> None:
    near = in_turns()
    near.xy_px[1, :, 0] = np.nan
    assert near.seen.all()


def test_joint_that_both_miss_for_two_frames_is_missing_there() -> None:
    near = in_turns()
    near.xy_px[0, 2, 0] = near.xy_px[1, 3, 0] = np.nan
    # Frames 2 and 3 are each beside a frame of the other model's that saw it, but not of their
    # own turn: frame 2 is Thunder's, so the landmarker's frames 1 and 3 count for it.
    assert near.seen[:, 0].tolist() == [True, True, True, True, True, True]
    near.xy_px[1, 1, 0] = near.xy_px[0, 4, 0] = np.nan
    assert near.seen[:, 0].tolist() == [True, True, False, False, True, True]


def test_a_frame_both_looked_at_is_not_filled_from_beside() -> None:
    near = in_turns()
    asked = near.asked.copy()
    asked[:, 3] = True
    xy = near.xy_px.copy()
    xy[:, 3] = np.nan
    assert not replace(near, xy_px=xy, asked=asked).seen[3].any()


def test_a_look_in_turns_has_twice_the_say() -> None:
    near = in_turns()
    torn = np.zeros(near.seen.shape, dtype=bool)
    alone = witness_spread_px(near.score, near.stands_for, torn, 100.0, shipped())
    both = witness_spread_px(near.score, np.ones(near.asked.shape), torn, 100.0, shipped())
    ratio = (both / alone)[near.asked] ** 2
    assert ratio == pytest.approx(np.full(ratio.shape, 2.0))


def test_a_look_stands_for_the_frames_half_way_to_the_looks_beside_it() -> None:
    near = in_turns(12)
    asked = np.zeros((2, 12), bool)
    asked[0, [0, 4, 8]] = True  # every fourth frame
    asked[1, [2, 3, 4, 6, 10]] = True
    stands_for = replace(near, asked=asked).stands_for
    assert stands_for[0, [0, 4, 8]].tolist() == [4, 4, 4]
    assert stands_for[1, [2, 3, 4, 6, 10]].tolist() == [1, 1, 1.5, 3, 4]
    one = np.zeros((2, 12), bool)
    one[0, 5] = True
    assert replace(near, asked=one).stands_for[0, 5] == 1
    far = np.zeros((2, 300), bool)
    far[0, [0, 250]] = True
    # No look is worth a minute's, however long none follows.
    assert in_turns(300).stands_for.max() == 2
    assert replace(in_turns(300), asked=far).stands_for[0, 0] < 10


def test_frames_between_looks_are_seen_when_a_look_before_or_after_saw() -> None:
    near = in_turns(12)
    asked = np.zeros((2, 12), bool)
    asked[0, [0, 4, 8]] = asked[1, [2, 6, 10]] = True
    xy = np.full(near.xy_px.shape, np.nan)
    xy[asked] = 5.0
    sparse = replace(near, asked=asked, xy_px=xy)
    assert sparse.seen.all()
    xy[0, 4] = xy[1, [2, 6]] = np.nan
    # Thunder saw it in frames 0 and 8, the landmarker in 10: each counts up to its next own look.
    assert sparse.seen[:, 0].tolist() == [True] * 4 + [False] + [True] * 7


def test_where_the_models_see_two_bodies_mediapipe_has_a_ninth_of_its_say() -> None:
    near = in_turns()
    torn = np.zeros(near.seen.shape, dtype=bool)
    usual = witness_spread_px(near.score, near.stands_for, torn, 100.0, shipped())
    torn[3, 1] = True
    now = witness_spread_px(near.score, near.stands_for, torn, 100.0, shipped())
    changed = np.argwhere(now != usual).tolist()
    assert changed == [[MODELS.index("mediapipe"), 3, 1]]
    assert (now / usual).max() ** 2 == pytest.approx(9.0)


def test_models_are_apart_where_one_look_is_far_from_the_others_beside_it() -> None:
    near, t_s = in_turns(8), np.arange(8) / 30.0
    assert not evidence.apart(near, t_s, 100.0).any()
    near.xy_px[1, 3, 1, 0] += 50.0  # half a trunk, in a frame of MediaPipe's own
    # Frames 2 and 4 are Thunder's: there the looks before and after make it 25 px, no more.
    found = np.argwhere(evidence.apart(near, t_s, 100.0)).tolist()
    assert found == [[3, 1]]


def test_looks_long_before_and_after_are_not_compared() -> None:
    near, t_s = in_turns(8), np.arange(8) / 5.0
    near.xy_px[1, :, 1, 0] += 50.0
    assert not evidence.apart(near, t_s, 100.0).any()


WRIST = JOINTS.index("wrist")


def wrists(thunder: np.ndarray, mediapipe: np.ndarray) -> np.ndarray:
    """Wrists [shape=(2, T, 2)] left of what both saw in every frame, 30 a second; trunk 100 px."""
    xy = np.full((2, len(thunder), len(JOINTS), 2), np.nan)
    xy[:, :, WRIST] = [thunder, mediapipe]
    both = Evidence(xy, np.full(xy.shape[:3], 0.9), np.ones(xy.shape[:2], bool))
    return evidence.without_strays(both, np.arange(len(thunder)) / 30, 100.0).xy_px[:, :, WRIST]


def test_a_point_that_jumps_away_is_left_out_and_its_neighbours_stay() -> None:
    seen = np.tile([50.0, 20.0], (20, 1))
    jumps = seen.copy()
    jumps[9] += [80.0, 0.0]
    left = np.isnan(wrists(jumps, seen)[..., 0])
    assert np.argwhere(left).tolist() == [[0, 9]]
    left = np.isnan(wrists(seen, jumps)[..., 0])
    assert np.argwhere(left).tolist() == [[1, 9]]


def test_where_models_hold_on_to_two_hands_the_steadier_models_is_kept() -> None:
    seen = np.tile([50.0, 20.0], (30, 1))
    to_and_fro = np.where(np.arange(30) % 2, 160.0, -160.0)
    theirs = seen + np.stack([180.0 + to_and_fro / 10, to_and_fro], axis=1)
    kept = wrists(seen, theirs)
    # Between the two lies the median of all, far from both.
    assert np.array_equal(kept[0], seen)
    assert np.isnan(kept[1]).all()
    # A hand that Thunder itself loses every moment is not kept for it.
    kept = wrists(theirs, seen + np.array([600.0, 0.0]))
    assert np.isnan(kept[0]).mean() > 0.9
