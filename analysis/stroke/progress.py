"""How far legs, back and arms have come: running shares of a movement, and crossings of a level."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray

#: A part that moves less than this has no progress: degrees, and share of a full slide.
LEAST_TRUNK_DEG = 10.0
LEAST_ELBOW_DEG = 20.0
LEAST_SLIDE_SHARE = 0.08


def rest_place(x: FloatArray, at: int, band: float) -> float:
    """Return the largest place of `x`, as it rests there rather than at its furthest wiggle.

    Parameters
    ----------
    x : array [shape=(n,)]
        Smooth curve without gaps around `at`.
    at : int
        Index of its largest value.
    band : float
        How far below counts as resting there, in the unit of `x`.

    Returns
    -------
    float
        Mean over the middle half of the spell within `band`, plus `band`/12, by which a parabola's
        top lies above that mean (exact). Where the curve ends on the spell it is taken to go on
        there as its own mirror image.
    """
    place = float(x[at])
    for _ in range(2):
        far = ~(x >= place - band)
        before, after = int(far[at::-1].argmax()), int(far[at:].argmax())
        first = at - before + 1 if far[at - before] else 0
        last = at + after - 1 if far[at + after] else len(x) - 1
        quarter = (last - first) // 4
        lower, upper = first + quarter, last - quarter
        if first == 0:
            lower, upper = 0, (last if last == len(x) - 1 else last // 2)
        elif last == len(x) - 1:
            lower, upper = (first + last + 1) // 2, last
        middle = x[lower : upper + 1]
        place = float(middle.sum()) / len(middle) + band / 12
    return place


def progress(x: FloatArray, least: float) -> FloatArray:
    """Return the share of a movement that is done at each instant.

    Parameters
    ----------
    x : array [shape=(n,)]
        Place over one drive or recovery, counted so that the movement makes it grow.
    least : float
        Smallest whole movement that has a progress, in the unit of `x`.

    Returns
    -------
    array [shape=(n,)]
        Running maximum of (x − x at the start) ÷ (largest x − x at the start), 0…1; all NaN when
        the whole movement is less than `least` or `x` has gaps. The largest is a place of rest
        (:func:`rest_place`, within 5 %), so that noise on a held posture does not move it.
    """
    moved = x - x[0]
    furthest = np.max(moved)
    if not np.isfinite(furthest) or furthest < least or furthest <= 0:
        return np.full_like(x, np.nan)
    whole = rest_place(moved, int(np.argmax(moved)), 0.05 * float(furthest))
    done: FloatArray = np.clip(np.maximum.accumulate(moved) / whole, 0.0, 1.0)
    return done


def first_time(t_s: FloatArray, x: FloatArray, level: float) -> float:
    """Return when `x` first reaches `level` from below, s, between samples; NaN if never."""
    reached = x >= level
    if not reached.any():
        return float("nan")
    at = int(np.argmax(reached))
    return float(t_s[0]) if at == 0 else _between(t_s, x, level, at - 1)


def last_time(t_s: FloatArray, x: FloatArray, level: float) -> float:
    """Return when `x` is last at or below `level`, s, between samples; NaN if never."""
    below = np.flatnonzero(x <= level)
    if len(below) == 0:
        return float("nan")
    at = int(below[-1])
    return float(t_s[-1]) if at + 1 == len(x) else _between(t_s, x, level, at)


def value_at(t_s: FloatArray, x: FloatArray, time_s: float) -> float:
    """Return `x` at an instant; NaN when `time_s` is NaN."""
    return float(np.interp(time_s, t_s, x)) if np.isfinite(time_s) else float("nan")


def _between(t_s: FloatArray, x: FloatArray, level: float, low: int) -> float:
    rise = x[low + 1] - x[low]
    share = (level - x[low]) / rise if rise > 0 else 0.0
    return float(t_s[low] + share * (t_s[low + 1] - t_s[low]))


def span_of(values: FloatArray) -> float:
    """Return largest minus smallest; NaN when nothing is measured."""
    seen = values[np.isfinite(values)]
    return float(seen.max() - seen.min()) if len(seen) else float("nan")
