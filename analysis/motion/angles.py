"""Every angle of the rower, each defined once.

All functions take places in the athlete's own frame (x towards the feet, y up, any unit of
length) and give degrees. NaN in any coordinate gives NaN out.
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray


def lean_deg(lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Return the lean of the line from `lower` to `upper` against vertical.

    Parameters
    ----------
    lower, upper : array [shape=(..., 2)]
        Ends of the line, x towards the feet, y up.

    Returns
    -------
    array [shape=(...), deg]
        0 upright, + leaning towards the feet, in (−180, 180].
    """
    line = upper - lower
    return np.asarray(np.degrees(np.arctan2(line[..., 0], line[..., 1])))


def included_deg(one_end: FloatArray, joint: FloatArray, other_end: FloatArray) -> FloatArray:
    """Return the included angle at `joint`.

    Parameters
    ----------
    one_end, joint, other_end : array [shape=(..., 2)]

    Returns
    -------
    array [shape=(...), deg]
        180 straight, 0 folded.
    """
    a = one_end - joint
    b = other_end - joint
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    dot = np.sum(a * b, axis=-1)
    return np.asarray(np.degrees(np.abs(np.arctan2(cross, dot))))


def trunk_deg(hip: FloatArray, shoulder: FloatArray) -> FloatArray:
    """Return the trunk's lean: + forward towards the feet, − layback."""
    return lean_deg(hip, shoulder)


def shin_deg(ankle: FloatArray, knee: FloatArray) -> FloatArray:
    """Return the shin's lean: 0 vertical, + knee beyond the ankle (over-compressed)."""
    return lean_deg(ankle, knee)


def knee_deg(hip: FloatArray, knee: FloatArray, ankle: FloatArray) -> FloatArray:
    """Return the knee's included angle, 180 straight."""
    return included_deg(hip, knee, ankle)


def hip_deg(shoulder: FloatArray, hip: FloatArray, knee: FloatArray) -> FloatArray:
    """Return the hip's included angle, 180 straight."""
    return included_deg(shoulder, hip, knee)


def elbow_deg(shoulder: FloatArray, elbow: FloatArray, wrist: FloatArray) -> FloatArray:
    """Return the elbow's included angle, 180 straight."""
    return included_deg(shoulder, elbow, wrist)


def forearm_deg(elbow: FloatArray, wrist: FloatArray) -> FloatArray:
    """Return the forearm's slope against horizontal: + wrist above elbow."""
    line = wrist - elbow
    return np.asarray(np.degrees(np.arctan2(line[..., 1], line[..., 0])))


def head_deg(ear: FloatArray, shoulder: FloatArray, hip: FloatArray) -> FloatArray:
    """Return the ear–shoulder line's lean against the trunk: + head forward of the trunk."""
    turned = lean_deg(shoulder, ear) - trunk_deg(hip, shoulder)
    return np.asarray((turned + 180.0) % 360.0 - 180.0)
