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
from analysis.motion.motion import JOINTS

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
    trunk_odd = _odd(at["hip"], at["shoulder"])
    thigh_odd = _odd(at["hip"], at["knee"])
    shank_odd = _odd(at["knee"], at["ankle"])
    # Hip and knee contradict each other: it is the one that agrees with nothing else.
    hip_odd = thigh_odd & trunk_odd & ~shank_odd
    knee_odd = thigh_odd & (shank_odd | ~trunk_odd)
    far_knee = far.xy_px[:, :, JOINTS.index("knee")]
    thigh = _share(far_knee, at["hip"], at["hip"], at["knee"])
    shank = _share(far_knee, at["ankle"], at["ankle"], at["knee"])
    makes_leg = np.all([(x > _FAR_SHORT) & (x < _FAR_LONG) for x in (thigh, shank)], axis=0)
    xy = near.xy_px.copy()
    xy[:, :, JOINTS.index("hip")][hip_odd] = np.nan
    xy[:, :, JOINTS.index("knee")][knee_odd] = np.nan
    xy[:, :, JOINTS.index("knee")][knee_odd & makes_leg] = far_knee[knee_odd & makes_leg]
    return replace(near, xy_px=xy)


def _odd(a: FloatArray, b: FloatArray) -> BoolArray:
    """Tell where two joints [shape=(W, T, 2)] are at no distance of one segment [shape=(W, T)]."""
    share = _share(a, b, a, b)
    return np.asarray((share < _SHORT) | (share > _LONG))


def _share(a: FloatArray, b: FloatArray, usual_a: FloatArray, usual_b: FloatArray) -> FloatArray:
    """Distance of `a` and `b`, shares of the usual one of two joints; NaN where not seen."""
    usual = np.linalg.norm(usual_a - usual_b, axis=-1)
    known = usual[np.isfinite(usual)]
    if not len(known):
        return np.full(usual.shape, np.nan)
    return np.asarray(np.linalg.norm(a - b, axis=-1) / max(float(np.median(known)), 1e-9))
