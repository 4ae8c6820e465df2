"""From a silhouette mask to a closed outline of evenly spaced points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.pose.track import OUTLINE_POINTS, Facing

#: Mask value at which the body ends.
LEVEL = 0.5


def outline(mask: NDArray[np.float32], inside: FloatArray | None = None) -> FloatArray:
    """Trace the athlete's outline at sub-pixel steps.

    Parameters
    ----------
    mask : array [shape=(h, w)]
        Probability of belonging to the athlete, 0…1; pixel (0, 0) has its centre at x = y = 0.
    inside : array [shape=(N, 2)], optional
        Points of the athlete, px of the mask: the component that holds most of them is taken,
        else the largest.

    Returns
    -------
    array [shape=(OUTLINE_POINTS, 2)]
        x, y in px of the mask, clockwise as seen, from the topmost point on, evenly spaced by arc
        length; NaN when nothing in the mask reaches 0.5.

    Notes
    -----
    The contour is interpolated linearly between pixels (marching squares), so it is exact for a
    mask that changes linearly across the edge.
    """
    from contourpy import contour_generator

    rows, columns = np.flatnonzero((mask > LEVEL).any(1)), np.flatnonzero((mask > LEVEL).any(0))
    if rows.size == 0:
        return np.full((OUTLINE_POINTS, 2), np.nan)
    # Only the part around the body is traced; a rim of zeros closes it at the picture's edge.
    top, left = max(rows[0] - 2, 0), max(columns[0] - 2, 0)
    part = np.pad(mask[top : rows[-1] + 3, left : columns[-1] + 3], 1)
    lines = [
        np.asarray(line, np.float64) + np.array([left - 1, top - 1])
        for line in contour_generator(z=part).lines(LEVEL)
        if len(line) >= 4
    ]
    if not lines:
        return np.full((OUTLINE_POINTS, 2), np.nan)
    areas = [abs(signed_area(line)) for line in lines]
    best = int(np.argmax(areas))
    if inside is not None and len(lines) > 1:
        held = [
            _holds(line, inside) if area > 16 else 0
            for line, area in zip(lines, areas, strict=True)
        ]
        if max(held) > held[best]:
            best = int(np.argmax(held))
    return resample(lines[best], OUTLINE_POINTS)


def resample(line: FloatArray, count: int) -> FloatArray:
    """Space `count` points evenly along a closed line.

    Parameters
    ----------
    line : array [shape=(N, 2)]
        x, y in order; the last point may repeat the first.
    count : int

    Returns
    -------
    array [shape=(count, 2)]
        Clockwise as seen in a picture (y down), beginning at the topmost point of `line`
        (the leftmost of several).
    """
    if np.array_equal(line[0], line[-1]):
        line = line[:-1]
    if signed_area(line) < 0:
        line = line[::-1]
    line = np.roll(line, -int(np.lexsort(line.T)[0]), axis=0)
    closed = np.vstack([line, line[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.arange(count) * (along[-1] / count)
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])


def bulges(
    outline_px: FloatArray, hip: FloatArray, shoulder: FloatArray, facing: Facing
) -> FloatArray:
    """How far the outline lies behind the upper trunk, beyond what is usual in the clip.

    Parameters
    ----------
    outline_px : array [shape=(T, N, 2)]
    hip, shoulder : array [shape=(T, 2)]
        Near side, px.
    facing : "left" or "right"

    Returns
    -------
    array [shape=(T,)]
        Trunk lengths; NaN without an outline. Taken over the upper quarter of the trunk: lower
        down the elbow comes out behind the back at the release.
    """
    trunk = shoulder - hip
    length = np.linalg.norm(trunk, axis=1)
    usual_length = max(float(np.median(length)), 1.0)
    along = trunk / np.maximum(length, 1e-9)[:, None]
    # Backwards: a quarter turn from upwards, away from the feet.
    turn = 1.0 if facing == "right" else -1.0
    back = turn * np.column_stack([along[:, 1], -along[:, 0]])
    deepest = np.full(len(length), -np.inf)
    # A thousand frames at a time: a clip may be long, and its outlines are what fills memory.
    for start in range(0, len(length), 1000):
        part = slice(start, start + 1000)
        from_hip = outline_px[part] - hip[part, None]
        share = np.einsum("tnk,tk->tn", from_hip, along[part]) / usual_length
        depth = np.einsum("tnk,tk->tn", from_hip, back[part]) / usual_length
        upper = (share > 0.75) & (share < 1.0)
        deepest[part] = np.where(upper, depth, -np.inf).max(axis=1)
    deepest[~np.isfinite(deepest)] = np.nan
    known = deepest[np.isfinite(deepest)]
    return np.asarray(deepest - (float(np.median(known)) if known.size else np.nan))


def signed_area(line: FloatArray) -> float:
    """Area within a closed line [shape=(N, 2)], + when it runs clockwise as seen (y down)."""
    x, y = line[:, 0], line[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _holds(line: FloatArray, points: FloatArray) -> int:
    """How many of `points` [shape=(N, 2)] lie inside a closed line."""
    x0, y0 = line.T
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    held = 0
    for x, y in points:
        crosses = (y0 > y) != (y1 > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
        held += int(np.sum(crosses & (x < at)) % 2)
    return held
