"""The handle's path: wrists that wander, and what the hand's picture makes of them."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion import handle
from analysis.motion.handle import grip, handle_path
from analysis.motion.motion import JOINTS

T_S = np.arange(0.0, 8.0, 1 / 30)
#: The hand goes 120 px to and fro in 2.4 s, and a little up and down.
TRUE = np.column_stack([
    120.0 * np.cos(2 * np.pi * T_S / 2.4), 6.0 * np.sin(2 * np.pi * T_S / 2.4)
])  # fmt: skip
FOREARM_PX = 60.0
STILL = np.zeros((len(T_S), 2))
EVEN = np.tile(np.eye(2), (len(T_S), 1, 1))


def wandering(sd_px: float = 2.0) -> np.ndarray:
    """Errors as landmarks have them: they last a few frames [shape=(T, 2)]."""
    noise = np.random.default_rng(5).standard_normal((len(T_S) + 8, 2))
    slow = np.array([np.convolve(noise[:, k], np.ones(9) / 3.0, mode="valid") for k in (0, 1)]).T
    return sd_px * slow


def points(way: np.ndarray, count: int = 12) -> np.ndarray:
    """Points that all go the same way [shape=(T, P, 2)]; nothing is known of the first frame."""
    moved = np.vstack([np.full((1, 2), np.nan), np.diff(way, axis=0)])
    return np.repeat(moved[:, None], count, axis=1)


def path(wrist: np.ndarray, moved: np.ndarray, turn: np.ndarray | None = None) -> np.ndarray:
    turned = EVEN if turn is None else np.tile(turn, (len(T_S), 1, 1))
    in_picture = wrist if turn is None else wrist @ turn.T
    return handle_path(T_S, wrist, in_picture, turned, moved, STILL, FOREARM_PX)


def quick_error(found: np.ndarray) -> float:
    """SD of the error within a quarter of a second, px: what times an event."""
    error = (found - TRUE)[:, 0]
    return float(np.std(error[7:] - error[:-7]))


def test_where_the_picture_tells_nothing_it_is_the_wrist() -> None:
    wrist = TRUE + wandering()
    nothing = np.full((len(T_S), 12, 2), np.nan)
    assert np.allclose(path(wrist, nothing), wrist)


def test_a_wandering_wrist_follows_the_hands_picture() -> None:
    wrist = TRUE + wandering()
    found = path(wrist, points(TRUE))
    assert quick_error(found) < 0.15 * quick_error(wrist)


def test_on_the_whole_it_stays_where_the_wrist_is() -> None:
    # The picture gains a 20th of a pixel in every frame, 12 px in all.
    drifting = TRUE + 0.05 * np.arange(len(T_S))[:, None]
    found = path(TRUE, points(drifting))
    assert np.abs((found - TRUE).mean(axis=0)).max() < 0.1
    assert np.abs(found - TRUE).max() < 1.5


def test_points_of_the_room_behind_are_left_out() -> None:
    # Half of all points: also where the hand is too slow for the wrist to tell them from its own.
    moved = points(TRUE)
    moved[1:, :6] = 0.0
    wrist = TRUE + wandering()
    assert quick_error(path(wrist, moved)) < 0.15 * quick_error(wrist)


def test_a_room_that_moves_with_a_camera_in_the_hand_is_left_out_too() -> None:
    sway = 30.0 * np.column_stack([np.sin(T_S * 1.3), np.cos(T_S * 0.9)])
    wrist, moved = TRUE + wandering(), points(TRUE + sway)
    moved[1:, :6] = np.diff(sway, axis=0)[:, None]
    found = handle_path(T_S, wrist, wrist + sway, EVEN, moved, sway, FOREARM_PX)
    assert quick_error(found) < 0.15 * quick_error(wrist)


def test_fewer_points_than_agree_by_chance_tell_nothing() -> None:
    wrist, moved = TRUE + wandering(), points(TRUE)
    moved[:, 3:] = np.nan
    assert np.allclose(path(wrist, moved), wrist)


def test_a_picture_that_is_turned_and_mirrored_tells_the_same() -> None:
    wrist = TRUE + wandering(0.5)  # little, so that no point is near the limit of what goes along
    turn = np.array([[-0.9, 0.1], [0.1, -1.1]])  # facing left, y down, seen a little askew
    found = path(wrist, points(TRUE @ turn.T), turn)
    assert found == pytest.approx(path(wrist, points(TRUE)), abs=0.1)


def test_a_long_clip_worked_on_in_parts_gives_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    wrist = TRUE + wandering()
    whole = path(wrist, points(TRUE))
    monkeypatch.setattr(handle, "_BLOCK", 7)
    assert np.array_equal(path(wrist, points(TRUE)), whole)


def test_missing_stays_missing_and_the_rest_is_told() -> None:
    wrist = TRUE + wandering()
    wrist[100:130] = np.nan
    found = path(wrist, points(TRUE))
    assert np.isnan(found[100:130]).all()
    assert np.isfinite(np.delete(found, np.s_[100:130], axis=0)).all()


def test_a_wrist_that_is_never_seen_gives_no_path() -> None:
    assert np.isnan(path(np.full_like(TRUE, np.nan), points(TRUE))).all()


def test_the_grip_is_beyond_the_wrist_as_the_forearm_points() -> None:
    joints = np.full((1, len(JOINTS), 2), np.nan)
    joints[0, JOINTS.index("elbow")], joints[0, JOINTS.index("wrist")] = (10.0, 50.0), (50.0, 20.0)
    ((x, y),) = grip(joints)
    # Less than half a forearm on (40, −30): a hand is no longer than that.
    assert 0.0 < (x - 50.0) / 40.0 < 0.5
    assert (x - 50.0) / 40.0 == pytest.approx((y - 20.0) / -30.0)
