"""What near joints are off by when the camera stands aside, told by where models put the far ones.

A model that pulls the near shoulder back most often pushes the far one forward by as much: it knows
better where the two are together than how far they are apart. How far apart they should seem
follows from where the camera stands, as edges of the room tell (:mod:`analysis.motion.lined_up`).
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray

#: Of the looks at a joint, so many at least must have seen the far one too.
_LEAST_SHARE = 0.3


def gaps(near_xy: FloatArray, far_xy: FloatArray, unit: float) -> FloatArray:
    """Return how much nearer to the feet each model puts the near joint [shape=(W, J)].

    Parameters
    ----------
    near_xy, far_xy : array [shape=(W, T, J, 2)]
        In the athlete's axes, x to the feet, px; NaN where not seen.
    unit : float
        Length of the trunk, px.

    Returns
    -------
    array [shape=(W, J)]
        Median over the clip, trunk lengths; NaN where a far joint was hardly ever seen.
    """
    apart = (near_xy[..., 0] - far_xy[..., 0]) / unit
    out = np.full((apart.shape[0], apart.shape[2]), np.nan)
    for witness, joint in np.ndindex(*out.shape):
        known = np.isfinite(apart[witness, :, joint])
        looks = np.isfinite(near_xy[witness, :, joint, 0]).sum()
        if known.sum() >= max(_LEAST_SHARE * looks, 1):
            out[witness, joint] = np.median(apart[witness, known, joint])
    return out


def off_by(yaw_deg: float, gap: FloatArray, weights: FloatArray) -> FloatArray:
    """Return what near joints are off by [shape=(W, J, 2), trunk lengths].

    Parameters
    ----------
    yaw_deg : float
        Where the camera stands: 0 square on, + towards the feet.
    gap : array [shape=(W, J)]
        Of :func:`gaps`.
    weights : array [shape=(W, J, 2, 3)]
        Of 1, the yaw in rad and the gap; learned (``tests/accuracy/learn_aside.py``).

    Returns
    -------
    array [shape=(W, J, 2)]
        0 of a joint whose gap counts and is not known.
    """
    terms = np.stack(np.broadcast_arrays(1.0, np.radians(yaw_deg), gap), axis=-1)
    off = np.where(weights == 0.0, 0.0, weights * terms[:, :, None, :]).sum(axis=-1)
    return np.asarray(np.nan_to_num(off))
