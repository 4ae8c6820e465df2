"""Before and after: did a measure change, by how much, and is that better or worse.

Works from summaries (mean, spread, count, errors), so that it needs no clip and no stroke.

What is assumed
---------------
A clip's mean differs from the athlete's true value by a random part and a systematic part.

- The random part is the strokes' own spread over √n and the frames' noise, and how much one piece
  of rowing differs from the next. One clip a day cannot tell the latter. Where the season holds
  repeats (several clips of an athlete on one day), the SEM measured from them says it. Else, where
  enough others of the squad were filmed on two days of the same kind, it is taken from how their
  changes differ from each other: that holds all of the error, the lasting part too, and what truly
  changed in one and not in another, so that it is rather too large than too small. Else pieces are
  taken to differ by ``PIECE_SHARE`` of what strokes do. That is a guess, on the safe side of what
  is usual: nobody has measured it for this athlete, and pieces that differ by more would be told
  as changes more often than in 5 %.
- The systematic part (landmark models, camera) does not shrink with more strokes. Of two clips of
  the same athlete on the same kind of seat seen from the same side, the share ``SHARED_BIAS`` of
  it is taken to be common and so to cancel in the difference; of clips filmed from different
  sides or on different seats, none.

The smallest change that can be told is MDC95 = 1.96 · √2 · SEM (Weir 2005) with SEM² the mean of
the two clips' variances. The 95 % interval of the change uses Student's t in place of 1.96, since a
handful of strokes knows its own spread badly: with the degrees of freedom of the random part (Welch
and Satterthwaite), which is a little wider than need be when the systematic part is large. A change
is told only when that interval leaves zero out, which implies that it is beyond MDC95.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from analysis.coaching.repeatability import PooledSem, mdc95
from analysis.stroke.strokes import MeasureColumn

#: Correlation of the systematic errors of two clips of one athlete filmed alike.
SHARED_BIAS = 0.5

#: Standard deviation between pieces ÷ that between strokes, where nothing in the season tells.
PIECE_SHARE = 1.0

#: An SEM measured in the season is used from so many degrees of freedom on.
LEAST_DF = 8

#: What told how much pieces differ: repeats on one day, the squad's changes, or nothing.
Basis = Literal["repeats", "squad", "taken on trust"]

Verdict = Literal["better", "worse", "changed", "no change", "cannot tell"]

#: What each verdict says to people.
WORDS: dict[Verdict, str] = {
    "better": "changed for the better",
    "worse": "changed for the worse",
    "changed": "changed, neither better nor worse",
    "no change": "no change that can be told",
    "cannot tell": "cannot tell",
}


@dataclass(frozen=True)
class Summary:
    """One measure over the strokes of one clip or one day.

    Attributes
    ----------
    mean, sd : float
        Over the strokes; `sd` is NaN for a single stroke.
    n : int
        Strokes in which the measure could be told.
    se : float
        Standard error of the mean, the systematic part included.
    bias_se : float
        The systematic part of it.
    clips : int
        Clips that it was taken from.
    """

    mean: float
    sd: float
    n: int
    se: float
    bias_se: float
    clips: int = 1

    @property
    def random_se(self) -> float:
        """Standard error of the mean without the systematic part; NaN when not known."""
        random = self.se**2 - self.bias_se**2
        return math.sqrt(max(0.0, random)) if math.isfinite(random) else math.nan


@dataclass(frozen=True)
class Change:
    """What became of one measure.

    Attributes
    ----------
    before, after : Summary
    change : float
        after − before, in the measure's unit; NaN when either is missing.
    low, high : float
        95 % interval of the change.
    sem, mdc95 : float
        Standard error of measurement of one clip in this comparison, and the smallest change
        that it can tell.
    verdict : str
    basis : str
        What told how much pieces differ.
    """

    before: Summary
    after: Summary
    change: float
    low: float
    high: float
    sem: float
    mdc95: float
    verdict: Verdict
    basis: Basis = "taken on trust"


def summarise(column: MeasureColumn) -> Summary:
    """Return the summary of one measure over the strokes of a clip.

    The random part is the larger of the strokes' own spread and the frames' noise.
    """
    values = column.values[np.isfinite(column.values)]
    noise = column.se[np.isfinite(column.values) & np.isfinite(column.se)]
    n = int(values.size)
    if n == 0:
        return Summary(math.nan, math.nan, 0, math.nan, column.bias_se)
    sd = float(np.std(values, ddof=1)) if n > 1 else math.nan
    frames = float(np.mean(noise**2)) if noise.size else 0.0
    scatter = max(sd**2 if n > 1 else 0.0, frames)
    se = math.sqrt(scatter / n + column.bias_se**2)
    return Summary(float(np.mean(values)), sd, n, se, column.bias_se)


def pool(clips: Sequence[Summary]) -> Summary:
    """Return one summary for several clips of one athlete on one day.

    Every stroke counts the same. The random part is the larger of what the strokes and what the
    differences between the clips say; the systematic part is common to the day and does not
    shrink.

    Raises
    ------
    ValueError
        Without any clip.
    """
    known = [clip for clip in clips if clip.n > 0 and math.isfinite(clip.mean)]
    if not known:
        if not clips:
            raise ValueError("clips: expected at least one summary, got none")
        return clips[0]
    if len(known) == 1:
        return known[0]
    n = sum(clip.n for clip in known)
    mean = sum(clip.n * clip.mean for clip in known) / n
    squares = sum(
        (clip.n - 1) * (clip.sd**2 if clip.n > 1 else 0.0) + clip.n * (clip.mean - mean) ** 2
        for clip in known
    )
    bias = max(clip.bias_se for clip in known)
    by_strokes = sum((clip.n * clip.random_se) ** 2 for clip in known) / n**2
    weights = [clip.n / n for clip in known]
    k = len(known)
    between = sum(w * (clip.mean - mean) ** 2 for w, clip in zip(weights, known, strict=True))
    by_clips = between / (k - 1)
    return Summary(
        mean=mean,
        sd=math.sqrt(squares / (n - 1)),
        n=n,
        se=math.sqrt(max(by_strokes, by_clips) + bias**2),
        bias_se=bias,
        clips=k,
    )


def compare(
    before: Summary,
    after: Summary,
    *,
    low: float | None = None,
    high: float | None = None,
    alike: bool = True,
    repeats: PooledSem | None = None,
    squad: PooledSem | None = None,
) -> Change:
    """Compare one measure before and after.

    Parameters
    ----------
    before, after : Summary
    low, high : float, optional
        Limits of the standard at the stage compared; both ``None`` when it is not judged.
    alike : bool
        Both filmed from the same side on the same kind of seat.
    repeats : PooledSem, optional
        SEM of a clip's mean, measured from repeats; used from ``LEAST_DF`` on.
    squad : PooledSem, optional
        SEM of a day's mean from how others changed between two days, filmed alike; used from
        ``LEAST_DF`` on where there are no repeats.

    Returns
    -------
    Change
        ``cannot tell`` when a side has fewer than two strokes or no error is known.
    """
    change = after.mean - before.mean
    shared = 2 * SHARED_BIAS * after.bias_se * before.bias_se
    bias = after.bias_se**2 + before.bias_se**2 - (shared if alike else 0.0)
    own = before.random_se**2 + after.random_se**2
    basis: Basis = "taken on trust"
    variance, df = own + _pieces(before) + _pieces(after) + bias, _freedom(before, after)
    if repeats is not None and repeats.df >= LEAST_DF:
        basis, variance = "repeats", own + bias
        if 2 * repeats.sem**2 > own:
            variance, df = 2 * repeats.sem**2 + bias, float(repeats.df)
    elif squad is not None and squad.df >= LEAST_DF:
        basis, variance = "squad", own + bias
        theirs = 2 * squad.sem**2 + (0.0 if alike else shared)
        if theirs > variance:
            variance, df = theirs, float(squad.df)
    if min(before.n, after.n) < 2 or not math.isfinite(change) or not variance > 0:
        nan = math.nan
        return Change(before, after, change, nan, nan, nan, nan, "cannot tell")
    half = _quantile(df) * math.sqrt(variance)
    sem = math.sqrt(variance / 2)
    return Change(
        before=before,
        after=after,
        change=change,
        low=change - half,
        high=change + half,
        sem=sem,
        mdc95=mdc95(sem),
        verdict=_verdict(before.mean, after.mean, low, high, half, mdc95(sem)),
        basis=basis,
    )


def _pieces(side: Summary) -> float:
    """Variance of a side's mean from how pieces differ, as far as it has to be taken on trust."""
    return (PIECE_SHARE * side.sd) ** 2 / side.clips if side.n > 1 else 0.0


def _freedom(before: Summary, after: Summary) -> float:
    """Degrees of freedom of the two random parts together (Welch, Satterthwaite)."""
    parts = [(s.random_se**2, s.n - 1) for s in (before, after) if s.n > 1]
    spread = sum(v**2 / df for v, df in parts)
    return sum(v for v, _ in parts) ** 2 / spread if spread > 0 else math.inf


def _quantile(df: float) -> float:
    """97.5 % point of Student's t; 1.96 for very many degrees of freedom."""
    return 1.96 if df > 1e6 else float(stdtrit(df, 0.975))


def _verdict(
    before: float, after: float, low: float | None, high: float | None, half: float, mdc: float
) -> Verdict:
    """Name a change.

    Better is closer to the limits, or inside them at last; worse is the other way round. A change
    from inside to inside is neither, and so is any change of a measure without limits. Who goes
    past one limit and ends beyond the other has not simply come closer: that is better or worse
    only when the two distances differ by more than could be chance.
    """
    if not abs(after - before) > half:
        return "no change"
    was, now = _past(before, low, high), _past(after, low, high)
    closer = abs(was) - abs(now)
    if closer == 0 or (was * now < 0 and abs(closer) <= mdc):
        return "changed"
    return "better" if closer > 0 else "worse"


def _past(value: float, low: float | None, high: float | None) -> float:
    """How far past a limit: + over, − under, 0 inside."""
    if high is not None and value > high:
        return value - high
    if low is not None and value < low:
        return value - low
    return 0.0
