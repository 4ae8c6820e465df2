"""How far legs, back and arms have come: running shares of a movement, and crossings of a level."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray

#: A part that moves less than this has no progress: degrees, and share of a full slide.
LEAST_TRUNK_DEG = 10.0
LEAST_ELBOW_DEG = 20.0
LEAST_SLIDE_SHARE = 0.08


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
        the whole movement is less than `least` or `x` has gaps.
    """
    moved = np.maximum.accumulate(x - x[0])
    whole = moved[-1]
    if not np.isfinite(whole) or whole < least or whole <= 0:
        return np.full_like(x, np.nan)
    done: FloatArray = np.clip(moved / whole, 0.0, 1.0)
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
