"""Near knees and hips that make no leg with the joints next to them, left out or put right.

With a neighbour right behind, or legs folded, a model may put the near knee at the hip while hip,
ankle and the far knee are where they should be. Fitted as they are, such points push the hip far
along the slide. Hip, ankle and the legs' lengths say where the knee is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion.evidence import Evidence
from analysis.motion.motion import JOINTS, SEGMENTS

#: A segment that shows this much of its usual length, or this many times, joins two bodies or two
#: sides. Hips drawn into the thigh at full compression leave it two thirds of its length.
_SHORT, _LONG = 0.5, 1.6
#: Of the far knee more is asked before it stands for the near one.
_FAR_SHORT, _FAR_LONG = 0.7, 1.3


def with_whole_legs(near: Evidence, far: Evidence) -> Evidence:
    """Leave out what makes no leg; the far knee stands for a near one where it does make a leg.

    Parameters
    ----------
    near, far : Evidence
        Either side's joints.

    Returns
    -------
    Evidence
        The near side's; NaN where a knee or a hip was left out.
    """
    at = {name: near.xy_px[:, :, index] for index, name in enumerate(JOINTS)}
    far_knee = far.xy_px[:, :, JOINTS.index("knee")]
    usual_px = {name: _usual(_apart(at[a], at[b])) for name, (a, b) in SEGMENTS.items()}
    odd = {name: _odd(_apart(at[a], at[b]) / usual_px[name]) for name, (a, b) in SEGMENTS.items()}
    # Hip and knee contradict each other: it is the one that agrees with nothing else.
    hip_odd = odd["thigh"] & odd["trunk"] & ~odd["shank"]
    knee_odd = odd["thigh"] & (odd["shank"] | ~odd["trunk"])
    thigh = _apart(far_knee, at["hip"]) / usual_px["thigh"]
    shank = _apart(far_knee, at["ankle"]) / usual_px["shank"]
    makes_leg = np.all([(x > _FAR_SHORT) & (x < _FAR_LONG) for x in (thigh, shank)], axis=0)
    xy = near.xy_px.copy()
    xy[:, :, JOINTS.index("hip")][hip_odd] = np.nan
    xy[:, :, JOINTS.index("knee")][knee_odd] = np.nan
    xy[:, :, JOINTS.index("knee")][knee_odd & makes_leg] = far_knee[knee_odd & makes_leg]
    return replace(near, xy_px=xy)


def _apart(a: FloatArray, b: FloatArray) -> FloatArray:
    """Distance of two joints [shape=(W, T, 2)] in every look [shape=(W, T), px]."""
    return np.asarray(np.linalg.norm(a - b, axis=-1))


def _usual(length_px: FloatArray) -> float:
    """Median of what is known, px; NaN without any."""
    known = length_px[np.isfinite(length_px)]
    return max(float(np.median(known)), 1e-9) if len(known) else float("nan")


def _odd(share: FloatArray) -> BoolArray:
    """Tell where a segment of that share of its usual length is none; not where it is not seen."""
    return np.asarray((share < _SHORT) | (share > _LONG))
