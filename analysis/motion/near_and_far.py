"""What near joints are off by when the camera stands aside, told by where models put the far ones.

A model that pulls the near shoulder back most often pushes the far one forward by as much: it knows
better where the two are together than how far they are apart. How far apart they should seem
follows from where the camera stands, as edges of the room tell (:mod:`analysis.motion.lined_up`).
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.view import LEAST_SHARE

#: Terms that an error is the weighted sum of: 1, the yaw in rad, the usual gap of the joint and how
#: much wider it is in this frame, trunk lengths.
TERMS = 4


def gaps(near_xy: FloatArray, far_xy: FloatArray, unit: float) -> FloatArray:
    """Return how much nearer to the feet each model puts the near joint [shape=(W, T, J)].

    Parameters
    ----------
    near_xy, far_xy : array [shape=(W, T, J, 2)]
        In the athlete's axes, x to the feet, px; NaN where not seen.
    unit : float
        Length of the trunk, px.

    Returns
    -------
    array [shape=(W, T, J)]
        Trunk lengths; NaN where either is not seen, and of a joint whose far one hardly ever is.
    """
    gap = np.asarray((near_xy[..., 0] - far_xy[..., 0]) / unit)
    known = np.isfinite(gap).sum(axis=1)
    looks = np.isfinite(near_xy[..., 0]).sum(axis=1)
    hardly = known < np.maximum(LEAST_SHARE * looks, 1)
    gap[np.broadcast_to(hardly[:, None], gap.shape)] = np.nan
    return gap


def terms(yaw_deg: float, gap: FloatArray) -> FloatArray:
    """Return what the errors are told by [shape=(W, T, J, TERMS)].

    Parameters
    ----------
    yaw_deg : float
        Where the camera stands: 0 square on, + towards the feet.
    gap : array [shape=(W, T, J)]
        Of :func:`gaps`; a frame without counts as usual, a joint without stays NaN.
    """
    usual = np.full(gap.shape, np.nan)
    for witness, joint in np.argwhere(np.isfinite(gap).any(axis=1)):
        usual[witness, :, joint] = np.nanmedian(gap[witness, :, joint])
    wider = np.where(np.isfinite(gap), gap, usual) - usual
    return np.stack(np.broadcast_arrays(1.0, np.radians(yaw_deg), usual, wider), axis=-1)


def off_by(yaw_deg: float, gap: FloatArray, weights: FloatArray) -> FloatArray:
    """Return what near joints are off by [shape=(W, T, J, 2), trunk lengths].

    Parameters
    ----------
    yaw_deg, gap
        As those of :func:`terms`.
    weights : array [shape=(W, J, 2, TERMS)]
        Of these, along and up; learned (``tests/accuracy/learn_aside.py``).

    Returns
    -------
    array [shape=(W, T, J, 2)]
        0 of a joint whose gap counts and is not known.
    """
    by_term = weights[:, None] * terms(yaw_deg, gap)[:, :, :, None, :]
    return np.asarray(np.nan_to_num(np.where(weights[:, None] == 0.0, 0.0, by_term).sum(axis=-1)))
