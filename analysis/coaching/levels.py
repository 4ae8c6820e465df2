"""One measure against its limits: the level, how sure, and which strokes show it.

Pure functions of one column of numbers; nothing here knows what the measure means.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import FloatArray
from analysis.coaching.findings import Level, Side
from analysis.coaching.standard import Limit
from analysis.stroke.strokes import MeasureColumn

#: A level needs at least so many strokes in which the measure could be told.
LEAST_STROKES = 2

#: 97.5 % point of the normal distribution.
Z = 1.96


@dataclass(frozen=True)
class Judgement:
    """What one column says against one limit.

    Attributes
    ----------
    level : str
    value, u : float
        Median, and 1.96 × its standard error; NaN when nothing could be measured.
    side : "over", "under" or None
        The limit passed, for ``work on`` and ``watch``.
    seen, strokes : int
        Strokes whose own value is past that limit, and strokes that could be measured.
    close : bool
        Inside, by less than `u`.
    past_steps : float
        How far the median is past its nearest limit, in steps; negative inside; NaN if open.
    reason : str
        Why it cannot be told: ``none``, ``one``, ``no error`` or ``unsure``; else empty.
    worst, typical : int or None
        0-based strokes.
    """

    level: Level
    value: float = math.nan
    u: float = math.nan
    low: float | None = None
    high: float | None = None
    side: Side | None = None
    seen: int = 0
    strokes: int = 0
    close: bool = False
    past_steps: float = math.nan
    reason: str = ""
    worst: int | None = None
    typical: int | None = None


def median_u(values: FloatArray, se: FloatArray, bias_se: float) -> float:
    """Return 1.96 × the standard error of the median of `values` [both shape=(N,)].

    ``u² / 1.96² = bias_se² + k² · se² / n``: the bias is common to all strokes and does not shrink;
    the random part shrinks with the number of strokes n. k = √(π/2) is the loss of the median
    against the mean for many normal values, and `se` that of the middle stroke, for a stroke that
    was badly seen hardly moves the median. Of two strokes the median is the mean: k = 1 and the
    two errors are averaged as squares. Where three strokes or more scatter by more than their
    errors say, the scatter is believed instead: landmarks that wander from stroke to stroke (on
    somebody who rows behind, say) show only there. NaN when no stroke has an error.
    """
    known = se[np.isfinite(values) & np.isfinite(se)]
    n = int(np.sum(np.isfinite(values)))
    if known.size == 0 or not math.isfinite(bias_se):
        return math.nan
    if n > 2:
        scatter = float(np.var(values[np.isfinite(values)], ddof=1))
        random = math.pi / 2 * max(float(np.median(known)) ** 2, scatter)
    else:
        random = float(np.mean(known**2))
    return Z * math.sqrt(bias_se**2 + random / n)


def judge(limit: Limit, column: MeasureColumn | None, rate_spm: float) -> Judgement:
    """Hold one measure against its limit.

    Parameters
    ----------
    limit : Limit
    column : MeasureColumn or None
        ``None`` when the strokes do not have it at all.
    rate_spm : float
        Rate for limits that follow it; NaN leaves such a limit open.

    Notes
    -----
    A stroke counts as past a limit when its own value is, by however little. ``work on`` needs the
    *median* past the limit by more than U, and the strokes past it to be at least half, and at
    least two. Since the median is over by more than U, about half of the strokes are so too: the
    count guards the small numbers, where one wild stroke of two can pull the median over.
    """
    low, high = limit.bounds(rate_spm)
    values = np.empty(0) if column is None else column.values
    told = np.isfinite(values)
    n = int(np.sum(told))
    if column is None or n == 0:
        return Judgement("cannot tell", low=low, high=high, reason="none")
    value = float(np.median(values[told]))
    u = median_u(values, column.se, column.bias_se)
    typical = int(np.nanargmin(np.abs(values - value)))
    past, side = _past(value, low, high)
    steps = past / limit.step
    untold = Judgement("cannot tell", value, u, low, high, strokes=n, past_steps=steps)
    if n < LEAST_STROKES:
        return replace(untold, reason="one")
    if not math.isfinite(u):
        return replace(untold, reason="no error")
    if u > limit.max_u:
        return replace(untold, reason="unsure")

    if past <= 0:
        side = _commoner_side(values[told], low, high)
    seen = _count_past(values[told], low, high, side)
    level: Level = "steady"
    if past > u and seen >= max(LEAST_STROKES, n / 2):
        level = "work on" if limit.at_most == "work on" else "watch"
    elif past > 0 or (side is not None and seen >= n / 4):
        level = "watch"
    return replace(
        untold,
        level=level,
        side=None if level == "steady" else side,
        seen=seen,
        close=level == "steady" and math.isfinite(past) and -past < u,
        worst=_worst(values, low, high, side),
        typical=typical,
    )


def _past(value: float, low: float | None, high: float | None) -> tuple[float, Side | None]:
    """Return how far `value` is past its nearest limit (negative inside) and which limit."""
    over = -math.inf if high is None else value - high
    under = -math.inf if low is None else low - value
    past = max(over, under)
    if not math.isfinite(past):
        return math.nan, None
    return past, "over" if over >= under else "under"


def _count_past(
    values: FloatArray, low: float | None, high: float | None, side: Side | None
) -> int:
    if side == "over" and high is not None:
        return int(np.sum(values > high))
    if side == "under" and low is not None:
        return int(np.sum(values < low))
    return 0


def _commoner_side(values: FloatArray, low: float | None, high: float | None) -> Side | None:
    """Return the limit that single strokes pass more often, while the median is inside."""
    over = _count_past(values, low, high, "over")
    under = _count_past(values, low, high, "under")
    if over == under == 0:
        return None
    return "over" if over >= under else "under"


def _worst(values: FloatArray, low: float | None, high: float | None, side: Side | None) -> int:
    """Return the stroke furthest to the side of the finding, else the one nearest to a limit."""
    if side == "over":
        return int(np.nanargmax(values))
    if side == "under":
        return int(np.nanargmin(values))
    past = [_past(float(v), low, high)[0] if math.isfinite(v) else math.nan for v in values]
    return int(np.nanargmax(past)) if np.any(np.isfinite(past)) else int(np.nanargmax(values))
