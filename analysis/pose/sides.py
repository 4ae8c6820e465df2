"""Which of a model's left and right points is the near one, frame by frame."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.pose.track import Facing, LandmarkTrack

#: Joint name here to the model's landmark (pairs are averaged) without its side.
_PLACES: dict[str, tuple[str, ...]] = {
    "ear": ("ear",),
    "shoulder": ("shoulder",),
    "elbow": ("elbow",),
    "wrist": ("wrist",),
    "hip": ("hip",),
    "knee": ("knee",),
    "ankle": ("ankle",),
    "heel": ("heel",),
    "toe": ("foot_index",),
    "knuckle": ("index", "pinky"),
}
#: Joints that a model mixes up together.
_CHAINS = (
    ("ear",),
    ("shoulder", "elbow", "wrist", "knuckle"),
    ("hip", "knee", "ankle", "heel", "toe"),
)
#: Price of changing names from one frame to the next, in trunk lengths of needless movement.
_CHANGE = 0.08
#: Price of a frame under the other name: the model's own naming stands unless evidence is clear.
_MISNAMED = 0.002
#: Price of a frame whose near side is the worse seen one, for each unit of score.
_WORSE_SEEN = 0.01

Points = dict[str, tuple[FloatArray, FloatArray]]


def near_points(track: LandmarkTrack, facing: Facing) -> Points:
    """Return the near side's joints of one model.

    Parameters
    ----------
    track : LandmarkTrack
    facing : "left" or "right"
        The side that the feet are on: facing right shows the athlete's own right side.

    Returns
    -------
    dict of str to (xy [shape=(T, 2), px], score [shape=(T,)])
        ``ear shoulder elbow wrist hip knee ankle`` and, where the model has them, ``heel toe
        knuckle``. Frames in which the model swapped left and right of a limb are put right.
    """
    return _points(track, facing, facing)


def far_points(track: LandmarkTrack, facing: Facing) -> Points:
    """Return the far side's joints; see `near_points`."""
    return _points(track, "left" if facing == "right" else "right", facing)


def _points(track: LandmarkTrack, side: Facing, near: Facing) -> Points:
    at = track.looked_at
    seen = LandmarkTrack(track.model, track.names, track.xy_px[at], track.score[at])
    return {
        joint: (_spread_out(xy, at, np.nan), _spread_out(score, at, 0.0))
        for joint, (xy, score) in _points_seen(seen, side, near).items()
    }


def _spread_out(values: FloatArray, at: BoolArray, otherwise: float) -> FloatArray:
    """Put values back to the frames that they are of."""
    out = np.full((len(at), *values.shape[1:]), otherwise)
    out[at] = values
    return out


def _points_seen(track: LandmarkTrack, side: Facing, near: Facing) -> Points:
    other: Facing = "left" if side == "right" else "right"
    own, opposite = _named(track, side), _named(track, other)
    trunk_px = _trunk(own)
    out: Points = {}
    for chain in _CHAINS:
        joints = [joint for joint in chain if joint in own]
        a = np.stack([own[joint][0] for joint in joints])
        b = np.stack([opposite[joint][0] for joint in joints])
        better = np.mean([own[joint][1] - opposite[joint][1] for joint in joints], axis=0)
        swapped = swaps(a, b, trunk_px, better if side == near else -better)
        for joint in joints:
            xy = np.where(swapped[:, None], opposite[joint][0], own[joint][0])
            out[joint] = xy, np.where(swapped, opposite[joint][1], own[joint][1])
    return out


def swaps(own: FloatArray, opposite: FloatArray, trunk_px: float, better: FloatArray) -> BoolArray:
    """Find the frames in which a limb's two sides carry each other's names.

    Parameters
    ----------
    own, opposite : array [shape=(J, T, 2)]
        The limb's joints under one side's names and under the other's, px; NaN where missing.
    trunk_px : float
        Length of the trunk.
    better : array [shape=(T,)]
        By how much the side that should be the near one is seen better (its mean score less the
        other's): the far side is often hidden.

    Returns
    -------
    array [shape=(T,)] of bool
        The naming that makes both sides move least from frame to frame (Viterbi), with a price
        on every change, and small ones on misnamed frames and on calling the worse seen side near.
    """
    count = own.shape[1]
    keep = _movement(own, own) + _movement(opposite, opposite)
    cross = _movement(own, opposite) + _movement(opposite, own)
    scale = 2.0 * trunk_px
    keep, cross = keep / scale, cross / scale + _CHANGE
    # A misnamed frame costs, and pays back what its near side is better seen when renamed.
    frame = np.column_stack([np.zeros(count), _MISNAMED + _WORSE_SEEN * better])
    cost = frame[0]
    came = np.zeros((count, 2), np.int8)
    for t in range(1, count):
        # Row: state before; column: state now.
        step = cost[:, None] + np.array([[keep[t - 1], cross[t - 1]], [cross[t - 1], keep[t - 1]]])
        came[t] = step.argmin(axis=0)
        cost = step.min(axis=0) + frame[t]
    state: NDArray[np.bool_] = np.zeros(count, bool)
    now = int(cost.argmin())
    for t in range(count - 1, -1, -1):
        state[t] = bool(now)
        now = int(came[t, now])
    return state


def _movement(before: FloatArray, after: FloatArray) -> FloatArray:
    """Mean distance over the joints from one frame's `before` to the next one's `after`, px."""
    away = np.linalg.norm(after[:, 1:] - before[:, :-1], axis=2)
    known = np.isfinite(away)
    total = np.where(known, away, 0.0).sum(axis=0)
    return np.asarray(total / np.maximum(known.sum(axis=0), 1))


def _named(track: LandmarkTrack, side: Facing) -> Points:
    """Joints under the names of one side."""
    out: Points = {}
    for joint, places in _PLACES.items():
        names = [f"{side}_{place}" for place in places]
        if not all(name in track.names for name in names):
            continue
        at = [track.names.index(name) for name in names]
        out[joint] = track.xy_px[:, at].mean(axis=1), track.score[:, at].mean(axis=1)
    return out


def _trunk(points: Points) -> float:
    length = np.linalg.norm(points["shoulder"][0] - points["hip"][0], axis=1)
    length = length[np.isfinite(length)]
    return float(np.median(length)) if length.size else 1.0
