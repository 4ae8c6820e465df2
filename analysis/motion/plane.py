"""From the picture to the athlete's own frame and back."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray


def turn_matrix(tilt_deg: float, facing: str) -> FloatArray:
    """Return the 2×2 matrix from picture px (y down) to the athlete's axes (y up).

    Parameters
    ----------
    tilt_deg : float
        Clockwise lean of upright things in the picture, degrees; it is taken out.
    facing : str
        ``"right"`` keeps x, ``"left"`` mirrors it, so that x always points to the feet.

    Returns
    -------
    array [shape=(2, 2)]
        ``place = picture @ matrix.T``; orthogonal, so its transpose leads back.
    """
    lean = np.radians(tilt_deg)
    # An upright leaning clockwise points to (sin, −cos) in the picture; it must become (0, 1).
    upright = np.array([[np.cos(lean), np.sin(lean)], [np.sin(lean), -np.cos(lean)]])
    mirror = np.diag([1.0 if facing == "right" else -1.0, 1.0])
    return np.asarray(mirror @ upright)


def to_place(xy_px: FloatArray, origin_px: FloatArray, tilt_deg: float, facing: str) -> FloatArray:
    """Turn picture points [shape=(..., 2), px, y down] into the athlete's frame (y up).

    `origin_px` [shape=(..., 2)] is the picture place of the frame's origin, per frame when the
    camera moves.
    """
    return np.asarray((xy_px - origin_px) @ turn_matrix(tilt_deg, facing).T)


def to_picture(
    place_px: FloatArray, origin_px: FloatArray, tilt_deg: float, facing: str
) -> FloatArray:
    """Turn places of the athlete's frame back into picture points; inverse of `to_place`."""
    return np.asarray(place_px @ turn_matrix(tilt_deg, facing) + origin_px)
