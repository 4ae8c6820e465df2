"""How well a measurement repeats itself: SEM, smallest detectable change, ICC, limits of agreement.

Pure functions of numbers; what the numbers are measured on plays no part here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray, require_shape

#: 97.5 % point of the normal distribution, as it is written in MDC95 = 1.96 · √2 · SEM.
Z = 1.96


def mdc95(sem: float) -> float:
    """Return the smallest change that can be told from no change: ``1.96 · √2 · SEM``.

    In the unit of `sem`; NaN for NaN. Weir JP, J Strength Cond Res 2005;19:231–240.
    """
    return Z * math.sqrt(2.0) * sem


@dataclass(frozen=True)
class Repeatability:
    """Analysis of variance of a table of subjects (rows) × repeats (columns).

    Attributes
    ----------
    subjects, repeats : int
    ms_subjects, ms_repeats, ms_within, ms_error : float
        Mean squares between rows, between columns, within rows, and residual of the two-way model.
    sem : float
        Standard error of measurement, ``√ms_error`` (Weir 2005): a shift common to all subjects
        between two repeats does not count as error.
    mdc95 : float
        ``1.96 · √2 · sem``.
    icc_1_1, icc_2_1, icc_3_1 : float
        Shrout PE, Fleiss JL, Psychol Bull 1979;86:420–428; NaN when nothing varies.
    """

    subjects: int
    repeats: int
    ms_subjects: float
    ms_repeats: float
    ms_within: float
    ms_error: float
    sem: float
    mdc95: float
    icc_1_1: float
    icc_2_1: float
    icc_3_1: float


def repeatability(table: FloatArray) -> Repeatability:
    """Return how well the columns of `table` [shape=(subjects, repeats)] repeat each other.

    Raises
    ------
    ValueError
        With fewer than two rows or columns, or with a missing value: leave such a row out.
    """
    require_shape("table", table, (None, None))
    n, k = table.shape
    if n < 2 or k < 2:
        raise ValueError(f"table: expected at least 2 rows and 2 columns, got {n} and {k}")
    if not np.all(np.isfinite(table)):
        raise ValueError(f"table: expected no missing value, got {np.sum(~np.isfinite(table))}")
    rows, columns, middle = table.mean(axis=1), table.mean(axis=0), table.mean()
    ss_rows = k * float(np.sum((rows - middle) ** 2))
    ss_columns = n * float(np.sum((columns - middle) ** 2))
    ss_within = float(np.sum((table - rows[:, None]) ** 2))
    between, across = ss_rows / (n - 1), ss_columns / (k - 1)
    within = ss_within / (n * (k - 1))
    error = max(0.0, ss_within - ss_columns) / ((n - 1) * (k - 1))
    return Repeatability(
        subjects=n,
        repeats=k,
        ms_subjects=between,
        ms_repeats=across,
        ms_within=within,
        ms_error=error,
        sem=math.sqrt(error),
        mdc95=mdc95(math.sqrt(error)),
        icc_1_1=_share(between - within, between + (k - 1) * within),
        icc_2_1=_share(between - error, between + (k - 1) * error + k * (across - error) / n),
        icc_3_1=_share(between - error, between + (k - 1) * error),
    )


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0 else math.nan


@dataclass(frozen=True)
class PooledSem:
    """Spread of repeats about their own subject's mean, pooled over subjects.

    ``df`` is how many independent differences it rests on; ``sem`` is NaN with none.
    """

    sem: float
    df: int


def pooled_sem(groups: Sequence[FloatArray]) -> PooledSem:
    """Return the SEM from repeats [each shape=(repeats of one subject,)], in the data's own unit.

    ``√(Σ Σ (x − own mean)² / Σ (repeats − 1))``: the within-subject mean square of the one-way
    model, so subjects may have different numbers of repeats; missing values are left out.
    """
    squares, df = 0.0, 0
    for group in groups:
        known = group[np.isfinite(group)]
        if known.size >= 2:
            squares += float(np.sum((known - known.mean()) ** 2))
            df += known.size - 1
    return PooledSem(math.sqrt(squares / df) if df else math.nan, df)


@dataclass(frozen=True)
class Agreement:
    """Limits of agreement of two methods.

    Attributes
    ----------
    n : int
        Pairs used.
    difference, sd : float
        Mean and standard deviation of one − other.
    low, high : float
        ``difference ∓ 1.96 · sd``: where 95 % of differences are expected.
    difference_se, limit_se : float
        Standard errors of the mean difference, ``sd/√n``, and of either limit, ``√3 · sd/√n``.
    """

    n: int
    difference: float
    sd: float
    low: float
    high: float
    difference_se: float
    limit_se: float


def limits_of_agreement(one: FloatArray, other: FloatArray) -> Agreement:
    """Return how two methods agree on the same things [both shape=(N,)].

    Pairs with a missing value are left out. Bland JM, Altman DG, Lancet 1986;i:307–310.

    Raises
    ------
    ValueError
        When the lengths differ, or fewer than two pairs are whole.
    """
    require_shape("one", one, (None,))
    require_shape("other", other, (one.size,))
    off = (one - other)[np.isfinite(one) & np.isfinite(other)]
    if off.size < 2:
        raise ValueError(f"expected at least 2 whole pairs, got {off.size}")
    mean, sd = float(off.mean()), float(off.std(ddof=1))
    se = sd / math.sqrt(off.size)
    return Agreement(
        n=off.size,
        difference=mean,
        sd=sd,
        low=mean - Z * sd,
        high=mean + Z * sd,
        difference_se=se,
        limit_se=math.sqrt(3.0) * se,
    )
