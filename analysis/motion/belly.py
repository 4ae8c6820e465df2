"""The front of the torso, where the handle is drawn to."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import JOINTS


def front_at_wrist(outline: FloatArray, place: FloatArray) -> FloatArray:
    """Return the x of the torso's front at the wrist's height [shape=(T,), px].

    The arm covers the front where it crosses it, so the front is taken just above and below
    the forearm and bridged.

    Parameters
    ----------
    outline : array [shape=(T, P, 2)]
        Silhouette in the athlete's frame; NaN where there is none.
    place : array [shape=(T, J, 2)]
        Joints in the same frame.

    Returns
    -------
    array [shape=(T,), px]
        NaN where the hands are far from the torso, or the front cannot be seen.
    """
    at = {name: place[:, index] for index, name in enumerate(JOINTS)}
    out = np.full(len(place), np.nan)
    for frame in range(len(place)):
        hip, shoulder, wrist = at["hip"][frame], at["shoulder"][frame], at["wrist"][frame]
        points = outline[frame]
        if not (np.isfinite(points).all() and np.isfinite([hip, shoulder, wrist]).all()):
            continue
        length = float(np.linalg.norm(shoulder - hip))
        share = np.clip((wrist - hip) @ (shoulder - hip) / length**2, 0.0, 1.0)
        axis_x = hip[0] + share * (shoulder[0] - hip[0])
        if wrist[0] - axis_x > 0.7 * length:
            continue
        fronts = [
            _front_x(points, wrist[1] + step * length, axis_x, axis_x + 0.45 * length)
            for step in (-0.16, 0.16)
        ]
        seen = [x for x in fronts if np.isfinite(x)]
        if seen:
            out[frame] = float(np.mean(seen))
    return out


def _front_x(points: FloatArray, height: float, low_x: float, high_x: float) -> float:
    """First place in front of the trunk's axis where the outline crosses a height; NaN if none."""
    following = np.roll(points, -1, axis=0)
    crosses = (np.minimum(points[:, 1], following[:, 1]) <= height) & (
        np.maximum(points[:, 1], following[:, 1]) > height
    )
    a, b = points[crosses], following[crosses]
    x = a[:, 0] + (height - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    ahead = x[(x > low_x) & (x < high_x)]
    return float(ahead.min()) if len(ahead) else float("nan")
