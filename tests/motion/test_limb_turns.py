"""Which way limbs point: fits that wander, and what the limbs' own picture makes of them."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.limb_turns import turned_by, turned_further_deg, ways_of
from analysis.pose.track import LIMBS, Facing

T_S = np.arange(0.0, 8.0, 1 / 30)
ARM, LEG = ("upper_arm", "forearm"), ("thigh", "shank")


def directions(knee_deg: float = 140.0) -> np.ndarray:
    """True directions of limbs [shape=(T, N), deg, place]: a stroke of 2.5 s, knees held."""
    swing = np.sin(2 * np.pi * T_S / 2.5)
    thigh = np.full_like(T_S, 20.0)
    own = {"upper_arm": -60 + 25 * swing, "forearm": 5 - 15 * swing, "thigh": thigh}
    own["shank"] = thigh - (180.0 - knee_deg)
    return np.stack([own[name] for name in LIMBS], axis=1)


def ends_of(angle_deg: np.ndarray) -> np.ndarray:
    """Limbs of 60 px that point so [shape=(T, N, 2, 2)], leg and arm each joined."""
    angle = np.radians(angle_deg)
    way = 60.0 * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    start = np.zeros_like(way)
    for first, second in (ARM, LEG):
        start[:, list(LIMBS).index(second)] = way[:, list(LIMBS).index(first)]
    return np.stack([start, start + way], axis=2)


def in_picture(place: np.ndarray, facing: Facing) -> np.ndarray:
    """The athlete's frame as a level camera shows it: y down, x turned round for the left."""
    return place * ((1.0, -1.0) if facing == "right" else (-1.0, -1.0))


def turns(ends_px: np.ndarray) -> np.ndarray:
    """By how much limbs turn in the picture [shape=(T, N), deg, + clockwise]."""
    way = ends_px[:, :, 1] - ends_px[:, :, 0]
    angle = np.degrees(np.unwrap(np.arctan2(way[..., 1], way[..., 0]), axis=0))
    return np.vstack([np.full((1, len(LIMBS)), np.nan), np.diff(angle, axis=0)])


def errors(
    wander: np.ndarray,
    turned: np.ndarray | None = None,
    facing: Facing = "right",
    knee_deg: float = 140.0,
) -> np.ndarray:
    """How far off limbs point [shape=(T, N), deg] when the fit is off by `wander`."""
    true = directions(knee_deg)
    fitted = ends_of(true + wander)
    seen = turns(in_picture(ends_of(true), facing)) if turned is None else turned
    further = turned_further_deg(T_S, fitted, in_picture(fitted, facing), seen)
    way = ways_of(fitted, further, facing)
    assert np.hypot(way[..., 0], way[..., 1]) == pytest.approx(1.0)
    off = np.degrees(np.arctan2(way[..., 1], way[..., 0])) - true
    return (off + 180.0) % 360.0 - 180.0


def wandering(size_deg: float = 2.0, period_s: float = 0.5) -> np.ndarray:
    """Errors as landmarks have them: they last for a fraction of a second [shape=(T, N)]."""
    phases = np.arange(len(LIMBS)) * 1.3
    return size_deg * np.sin(2 * np.pi * T_S[:, None] / period_s + phases)


@pytest.mark.parametrize("facing", ["left", "right"])
def test_a_fit_that_wanders_follows_the_limbs_picture(facing: Facing) -> None:
    wander = wandering()
    left = errors(wander, facing=facing).std(axis=0) / wander.std(axis=0)
    assert (left < 0.15).all()


def test_on_the_whole_a_limb_points_where_the_fit_says() -> None:
    # The picture tells nothing of where a limb points: a fit that is off by 4° stays so.
    assert errors(np.full((len(T_S), len(LIMBS)), 4.0)) == pytest.approx(4.0)


def test_where_the_picture_tells_nothing_it_is_the_fit() -> None:
    wander = wandering()
    nothing = np.full((len(T_S), len(LIMBS)), np.nan)
    assert errors(wander, nothing) == pytest.approx(wander)


def test_a_picture_of_the_room_is_left_out() -> None:
    wander, still = wandering(0.5), np.zeros((len(T_S), len(LIMBS)))
    off = errors(wander, still)
    arm = [list(LIMBS).index(name) for name in ARM]
    # Arms swing by 25° and 15°; the room does not. To follow it would be that far off.
    assert np.abs(off[:, arm]).max() < 5.0


def test_a_folded_leg_is_left_to_the_fit() -> None:
    wander = wandering()
    leg = [list(LIMBS).index(name) for name in LEG]
    folded = errors(wander, knee_deg=60.0)
    assert folded[:, leg] == pytest.approx(wander[:, leg])
    assert np.std(folded[:, 0]) < 0.15 * np.std(wander[:, 0])


@pytest.mark.parametrize(("facing", "sense"), [("right", -1.0), ("left", 1.0)])
def test_clockwise_in_the_picture_is_seen_from_the_athletes_side(
    facing: Facing, sense: float
) -> None:
    # Who faces right is seen as they are, y up; who faces left is turned round with their x.
    way = ways_of(ends_of(directions()), np.full((len(T_S), len(LIMBS)), 7.0), facing)
    angle = np.degrees(np.arctan2(way[..., 1], way[..., 0]))
    assert angle - directions() == pytest.approx(7.0 * sense)


def test_limbs_turn_about_their_middles() -> None:
    # A limb of 2 px along x, turned by a quarter clockwise in a picture whose y points down.
    ends = np.array([[[[10.0, 5.0], [12.0, 5.0]]]])
    turned = turned_by(ends, np.array([[90.0]]))
    assert turned == pytest.approx(np.array([[[[11.0, 4.0], [11.0, 6.0]]]]))
