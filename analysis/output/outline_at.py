"""The athlete's outline in a frame that no model drew it for: a neighbour's, moved along."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray, IntArray
from analysis.motion.motion import JOINTS

#: An outline is taken over from no further away, s.
_NEAR_S = 0.1

_HIP, _SHOULDER = JOINTS.index("hip"), JOINTS.index("shoulder")


def outline_at(
    index: int,
    t_s: FloatArray,
    outline_px: FloatArray,
    outlined: IntArray,
    joints_px: FloatArray,
) -> FloatArray:
    """Return the outline [shape=(P, 2), px] of one frame.

    Parameters
    ----------
    index : int
        Of the frame.
    t_s : array [shape=(T,)]
        Times, s.
    outline_px : array [shape=(F, P, 2)]
        NaN where there is none.
    outlined : array [shape=(F,)]
        The frames that they are of, rising.
    joints_px : array [shape=(T, J, 2)]
        Joints in the picture: the trunk carries the neighbour's outline along, turned and scaled
        as hip and shoulder are. It is meant for the trunk's own edge; limbs move otherwise.

    Returns
    -------
    array [shape=(P, 2)]
        NaN where no frame within a tenth of a second has one.
    """
    near = np.searchsorted(t_s, [t_s[index] - _NEAR_S, t_s[index] + _NEAR_S])
    beside = np.arange(*np.searchsorted(outlined, near))
    known = beside[np.isfinite(outline_px[beside]).all(axis=(1, 2))]
    if not known.size:
        return np.full(outline_px.shape[1:], np.nan)
    nearest = known[np.argmin(np.abs(t_s[outlined[known]] - t_s[index]))]
    outline, other = outline_px[nearest], outlined[nearest]
    if other == index:
        return np.asarray(outline)
    # Similarity transforms of the plane are products of complex numbers.
    points = outline[:, 0] + 1j * outline[:, 1]
    was, now = (joints_px[at, :, 0] + 1j * joints_px[at, :, 1] for at in (other, index))
    turn = (now[_SHOULDER] - now[_HIP]) / (was[_SHOULDER] - was[_HIP])
    moved = now[_HIP] + turn * (points - was[_HIP])
    return np.column_stack([moved.real, moved.imag])
