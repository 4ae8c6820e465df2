"""Straight edges that stay where they are: the room, not whoever moves in front of it."""

from __future__ import annotations

import math

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray

#: An edge lasts that lies in the same place in most pictures: turned by no more than this, and off
#: by no more than this share of the picture's width.
LASTS_DEG, LASTS_SHARE = 1.5, 0.0025


def lasting(ends: FloatArray, picture: IntArray, pictures: int, off_px: float) -> BoolArray:
    """Tell which edges [shape=(N, 4), px, at rest] are found in most pictures [shape=(N,)].

    In another picture, that is: what is left of an edge when somebody stands before a part of it.
    """
    # Picture by picture, its own as well: of all against all there may be millions.
    seen = sum(found_in(ends[picture == n], ends, off_px).astype(int) for n in range(pictures))
    return np.asarray((seen > pictures / 2) & (seen > 1))


def found_in(there: FloatArray, ends: FloatArray, off_px: float) -> BoolArray:
    """Tell which edges [shape=(N, 4), px] lie along one of those `there` [shape=(M, 4), px]."""
    (way, length), (along, length_there) = _ways(ends), _ways(there)
    away = ((ends[:, :2] + ends[:, 2:]) / 2)[:, None] - (there[:, :2] + there[:, 2:]) / 2
    aside = np.abs(away[..., 0] * along[:, 1] - away[..., 1] * along[:, 0])
    onward = np.abs(away[..., 0] * along[:, 0] + away[..., 1] * along[:, 1])
    turned = np.abs(np.outer(way[:, 0], along[:, 1]) - np.outer(way[:, 1], along[:, 0]))
    same = (turned <= math.sin(math.radians(LASTS_DEG))) & (aside <= off_px)
    same &= onward <= length_there / 2 + length[:, None] / 4
    return np.asarray(same.any(axis=1))


def _ways(ends: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return which way edges run [shape=(N, 2)], and their lengths, px [shape=(N,)]."""
    run = ends[:, 2:] - ends[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    return run / length[:, None], length
