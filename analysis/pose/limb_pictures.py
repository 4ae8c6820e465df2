"""The near limbs' own pictures, cut along each limb a few times a second.

A limb's picture tells which way it points better than landmarks do, but not in one frame: what
else is seen there differs from frame to frame, the limb does not. They are cut along the landmarks;
where the fitted limb lies in them is known afterwards.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray, IntArray
from analysis.pose.last_frame import Picture
from analysis.pose.track import LIMB_ENDS, LIMBS, PICTURED_ACROSS, PICTURED_ALONG

#: From one picture to the next at least, s, and how many of a clip at most, however long.
_EVERY_S, _MOST = 0.08, 600
#: A limb shorter than this has no edges to speak of, px.
_LEAST_PX = 8.0
#: Blur before a picture is cut, in the distance between its samples across.
_BLUR = 0.6


def pictured_frames(t_s: FloatArray) -> IntArray:
    """Return the frames whose limbs are pictured [shape=(F,)]; `t_s` [shape=(T,), s] are all."""
    every_s = max(_EVERY_S, float(t_s[-1] - t_s[0]) / _MOST)
    slot = np.floor((t_s - t_s[0]) / every_s + 1e-3)
    return np.flatnonzero(np.diff(slot, prepend=-1.0) > 0)


def limb_pictures(
    picture: Picture, joints: FloatArray, scale: float
) -> tuple[NDArray[np.uint8], FloatArray]:
    """Cut the limbs' pictures out of a frame.

    Parameters
    ----------
    picture : array [shape=(H, W)]
        The frame's brightness, `scale` times as large as the clip's.
    joints : array [shape=(J, 2)]
        The near ``LIMB_JOINTS``, px of the clip's frame; NaN where they were not seen.
    scale : float

    Returns
    -------
    grey : array [shape=(N, A, B), uint8]
        Each of ``LIMBS`` at ``PICTURED_ACROSS`` × ``PICTURED_ALONG``; 0 where it is not known.
    ends_px : array [shape=(N, 2, 2)]
        The ends along which each was cut, px of the clip's frame; NaN likewise.
    """
    grey = np.zeros((len(LIMBS), len(PICTURED_ACROSS), len(PICTURED_ALONG)), np.uint8)
    ends_px = joints[LIMB_ENDS]
    length = np.linalg.norm(ends_px[:, 1] - ends_px[:, 0], axis=1) * scale
    ends_px[~(length > _LEAST_PX)] = np.nan
    step_across, step_along = (np.diff(each[:2])[0] for each in (PICTURED_ACROSS, PICTURED_ALONG))
    for limb in np.flatnonzero(np.isfinite(ends_px[:, 0, 0])):
        first, second = ends_px[limb] * scale
        way = second - first
        across = np.array([-way[1], way[0]])
        corner = first + PICTURED_ALONG[0] * way + PICTURED_ACROSS[0] * across
        place = np.column_stack([step_along * way, step_across * across, corner])
        blurred, place = _around(picture, place, _BLUR * step_across * length[limb])
        cv2.warpAffine(
            blurred,
            place,
            grey[limb].shape[::-1],
            grey[limb],
            cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            cv2.BORDER_REPLICATE,
        )
    return grey, ends_px


def _around(picture: Picture, place: FloatArray, blur_px: float) -> tuple[Picture, FloatArray]:
    """Return the part of a picture that is cut from, blurred, and the places in it [shape=(2, 3)].

    `place` takes (column, row, 1) of what is cut to (x, y).
    """
    columns, rows = len(PICTURED_ALONG) - 1, len(PICTURED_ACROSS) - 1
    corners = np.array([[0, 0, 1], [columns, 0, 1], [0, rows, 1], [columns, rows, 1]]) @ place.T
    room = 3
    low = np.floor(corners.min(axis=0)).astype(int) - room
    high = np.ceil(corners.max(axis=0)).astype(int) + room + 1
    size = np.array(picture.shape[::-1])
    low, high = np.clip(low, 0, size - 1), np.clip(high, 1, size)
    part = picture[low[1] : high[1], low[0] : high[0]]
    blurred = cv2.GaussianBlur(part, (0, 0), max(blur_px, 0.3))
    return np.asarray(blurred, np.uint8), place - np.column_stack([np.zeros((2, 2)), low])
