"""Pictures of a limb laid over each other along the fitted limb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.pose.track import PICTURED_ACROSS, PICTURED_ALONG, Facing

#: Where samples lie across the limb, + clockwise in the picture of who faces right, and along it,
#: from its first end (0) to its second (1); in the limb's usual length.
ACROSS, ALONG = np.linspace(-0.54, 0.54, 55), np.linspace(0.0, 1.0, 16)

#: Pictures sampled at once: bounds the memory.
_AT_ONCE = 64


def laid_along(
    grey: NDArray[np.uint8], cut_px: FloatArray, fitted_px: FloatArray, facing: Facing
) -> tuple[FloatArray, BoolArray]:
    """Return one limb's pictures as they lie along the fitted limb.

    Parameters
    ----------
    grey : array [shape=(F, A, B), uint8]
        Its pictures, at ``PICTURED_ACROSS`` × ``PICTURED_ALONG``.
    cut_px : array [shape=(F, 2, 2)]
        The ends along which each was cut, px of the clip's frame; NaN of none.
    fitted_px : array [shape=(F, 2, 2)]
        Its fitted ends in the same frames, px; NaN where they are not known.
    facing : "left" or "right"

    Returns
    -------
    laid : array [shape=(F, R, C)]
        Brightness across and along the limb; of who faces left mirrored, as if facing right.
    known : array [shape=(F,)] of bool
        Where there is a picture.
    """
    whole = np.isfinite(cut_px) & np.isfinite(fitted_px)
    known = np.asarray(whole.reshape(len(cut_px), 4).all(axis=1))
    laid: FloatArray = np.zeros((len(cut_px), len(ACROSS), len(ALONG)))
    if not known.any():
        return laid, known
    way = fitted_px[known, 1] - fitted_px[known, 0]
    length = np.linalg.norm(way, axis=1, keepdims=True)
    along = way / length * np.median(length)
    beside = np.column_stack([-along[:, 1], along[:, 0]])
    if facing == "left":
        beside = -beside
    middle = fitted_px[known].mean(axis=1)
    rows = np.flatnonzero(known)
    for start in range(0, len(rows), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        places = (
            middle[some, None, None]
            + along[some, None, None] * (ALONG - 0.5)[:, None]
            + beside[some, None, None] * ACROSS[:, None, None]
        )
        at = rows[some]
        laid[at] = _sampled(grey[at], cut_px[at], places)
    return laid, known


def _sampled(grey: NDArray[np.uint8], cut_px: FloatArray, places_px: FloatArray) -> FloatArray:
    """Return brightness of pictures [shape=(K, A, B)] at places [shape=(K, R, C, 2), px].

    They were cut along ends [shape=(K, 2, 2), px]; linear in between, the nearest outside.
    """
    way = cut_px[:, 1] - cut_px[:, 0]
    square = np.sum(way**2, axis=1)[:, None, None]
    from_first = places_px - cut_px[:, None, None, 0]
    u = np.einsum("krcx,kx->krc", from_first, way) / square
    v = np.einsum("krcx,kx->krc", from_first, np.column_stack([-way[:, 1], way[:, 0]])) / square
    (row, below), (column, right) = (
        _between(values, at) for values, at in ((v, PICTURED_ACROSS), (u, PICTURED_ALONG))
    )
    each = np.arange(len(grey))[:, None, None]
    upper, lower = (
        grey[each, line, column] * (1 - right) + grey[each, line, column + 1] * right
        for line in (row, row + 1)
    )
    return np.asarray(upper * (1 - below) + lower * below)


def _between(values: FloatArray, at: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return the even sample at or before each value, and the share of the way to the next."""
    place = np.clip((values - at[0]) / (at[1] - at[0]), 0.0, len(at) - 1.0)
    before = np.minimum(place.astype(int), len(at) - 2)
    return before, place - before
