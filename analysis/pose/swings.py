"""Swings to and fro at the rate of rowing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.linking import bridge

#: Strokes per minute that are rowing; arms-only drills run fast.
SLOWEST_SPM, FASTEST_SPM = 10.0, 60.0
#: A swing's range is taken from this far either way: more than a slow stroke, less than a drift.
_REACH_S = 7.0
#: Hands of one picture count only with their neighbours within this time.
_JUMP_S = 0.13


@dataclass(frozen=True)
class Swings:
    """Cycles of a coordinate within 10…60 a minute.

    Attributes
    ----------
    cycles : float
        How many, in halves: out and back is one.
    in_a_row : float
        The longest unbroken row of them.
    spm : float
        Their median rate, 1/min; NaN without a cycle.
    share : float
        Share of the time watched that they fill, 0…1.
    travel : float
        Median range of the swings, in the coordinate's unit; 0 without one.
    """

    cycles: float
    in_a_row: float
    spm: float
    share: float
    travel: float


NO_SWINGS = Swings(0.0, 0.0, float("nan"), 0.0, 0.0)


def swings(t_s: FloatArray, x: FloatArray, least: float = 0.0) -> Swings:
    """Count whole swings of `x` with hysteresis.

    Parameters
    ----------
    t_s : array [shape=(S,)]
        s, strictly increasing.
    x : array [shape=(S,)]
        NaN where not seen; gaps up to a second are bridged.
    least : float
        Swings of a smaller range are fidgeting and do not count.
    """
    x = bridge(x[:, None], t_s, 1.0)[:, 0]
    seen = np.isfinite(x)
    if seen.sum() < 6:
        return NO_SWINGS
    bottom, top = _range(t_s, x)
    size = top - bottom
    low, high = bottom + 0.35 * size, bottom + 0.65 * size
    state = 0
    crossings: list[int] = []
    for i in np.flatnonzero(seen & (size >= max(least, 1e-9))):
        now = 1 if x[i] > high[i] else -1 if x[i] < low[i] else state
        if state and now != state:
            crossings.append(int(i))
        state = now
    at = t_s[crossings]
    # From each crossing to the next one the same way: a whole cycle, told twice in each.
    lasted = at[2:] - at[:-2]
    good = (lasted >= 60.0 / FASTEST_SPM * 0.9) & (lasted <= 60.0 / SLOWEST_SPM * 1.1)
    if not good.any():
        return NO_SWINGS
    usual_s = float(np.median(lasted[good]))
    watched = max(float(t_s[seen][-1] - t_s[seen][0]) - usual_s, 1e-3)
    return Swings(
        cycles=0.5 * (int(good.sum()) + 1),
        in_a_row=0.5 * (_longest_run(good.tolist()) + 1),
        spm=60.0 / usual_s,
        share=min(1.0, 0.5 * float(lasted[good].sum()) / watched),
        travel=float(np.median(size[np.array(crossings)[1:-1][good]])),
    )


def without_jumps(t_s: FloatArray, x: FloatArray) -> FloatArray:
    """Take the median of neighbours within `_JUMP_S`: one wrongly placed hand is no swing.

    Pictures looked at more rarely than that are left as they are.

    Parameters
    ----------
    t_s, x : array [shape=(S,)]
        Times, s, and values; NaN where not seen, and left out of the medians.
    """
    out = x.copy()
    for i in np.flatnonzero(np.isfinite(x)):
        near = x[np.abs(t_s - t_s[i]) <= _JUMP_S]
        out[i] = np.median(near[np.isfinite(near)])
    return out


def _range(t_s: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bottom and top of `x` around each time; NaN-free, equal where hardly anything is seen."""
    first = np.searchsorted(t_s, t_s - _REACH_S)
    last = np.searchsorted(t_s, t_s + _REACH_S, side="right")
    bottom, top = np.zeros_like(x), np.zeros_like(x)
    for i, (a, b) in enumerate(zip(first, last, strict=True)):
        near = x[a:b]
        near = near[np.isfinite(near)]
        if near.size >= 4:
            bottom[i], top[i] = np.percentile(near, [8, 92])
    return bottom, top


def _longest_run(flags: list[bool]) -> int:
    longest = run = 0
    for flag in flags:
        run = run + 1 if flag else 0
        longest = max(longest, run)
    return longest
