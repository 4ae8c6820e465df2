"""SEM, MDC95, ICC and limits of agreement against the data they were published with."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analysis.coaching.repeatability import (
    limits_of_agreement,
    mdc95,
    pooled_sem,
    repeatability,
)

# Weir JP, J Strength Cond Res 2005;19:231–240: trials A1 and A2 (data from memory; the values
# that follow from them agree with the ones remembered).
WEIR = np.array(
    [(146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218)],
    dtype=float,
)

# Shrout PE, Fleiss JL, Psychol Bull 1979;86:420–428, table 2: six targets, four judges (data from
# memory).
SHROUT = np.array(
    [(9, 2, 5, 8), (6, 1, 3, 2), (8, 4, 6, 8), (7, 1, 2, 6), (10, 5, 6, 9), (6, 2, 4, 7)],
    dtype=float,
)

# Bland JM, Altman DG, Lancet 1986;i:307–310: peak flow, first readings, l/min (data from memory).
LARGE = np.array(
    [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427],
    dtype=float,
)
MINI = np.array(
    [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451],
    dtype=float,
)


def test_weir_2005():
    found = repeatability(WEIR)
    assert found.ms_error == pytest.approx(57.107, abs=5e-4)
    assert found.sem == pytest.approx(7.557, abs=5e-4)
    assert found.mdc95 == pytest.approx(20.95, abs=5e-3)
    assert found.icc_3_1 == pytest.approx(0.947, abs=5e-4)


def test_the_factor_of_mdc95():
    # 1.96 · √2 (Weir 2005).
    assert mdc95(1.0) == pytest.approx(2.77186, abs=5e-6)


def test_shrout_and_fleiss_1979():
    found = repeatability(SHROUT)
    assert found.icc_1_1 == pytest.approx(0.17, abs=5e-3)
    assert found.icc_2_1 == pytest.approx(0.29, abs=5e-3)
    assert found.icc_3_1 == pytest.approx(0.71, abs=5e-3)


def test_bland_and_altman_1986():
    found = limits_of_agreement(LARGE, MINI)
    assert found.difference == pytest.approx(-2.12, abs=5e-3)
    assert found.sd == pytest.approx(38.77, abs=5e-3)
    # Limits of ∓ 1.96 SD about the mean difference follow from the two values above.
    assert found.low == pytest.approx(-2.12 - 1.96 * 38.77, abs=0.02)
    assert found.high == pytest.approx(-2.12 + 1.96 * 38.77, abs=0.02)
    # SD/√n = 38.77/√17 and √(3 SD²/n), as in the paper's section on precision (derivation).
    assert found.difference_se == pytest.approx(38.77 / math.sqrt(17), abs=2e-3)
    assert found.limit_se == pytest.approx(math.sqrt(3) * 38.77 / math.sqrt(17), abs=3e-3)


def test_pairs_with_a_missing_value_are_left_out():
    found = limits_of_agreement(np.append(LARGE, np.nan), np.append(MINI, 300.0))
    assert found.n == 17
    assert found.sd == pytest.approx(38.77, abs=5e-3)


def test_repeats_that_agree_wholly_have_no_error():
    found = repeatability(np.array([[1.0, 1.0], [2.0, 2.0], [5.0, 5.0]]))
    assert found.sem == 0.0
    assert found.icc_1_1 == found.icc_2_1 == found.icc_3_1 == 1.0


def test_a_shift_of_one_column_is_no_error_of_the_two_way_model():
    # Derivation: icc(3,1) is about consistency, icc(2,1) about agreement.
    shifted = np.array([[1.0, 4.0], [2.0, 5.0], [5.0, 8.0]])
    found = repeatability(shifted)
    assert found.sem == pytest.approx(0.0, abs=1e-12)
    assert found.icc_3_1 == pytest.approx(1.0)
    assert found.icc_2_1 < 0.6


def test_nothing_varies():
    assert math.isnan(repeatability(np.full((3, 2), 4.0)).icc_1_1)


@pytest.mark.parametrize(
    "table", [np.ones((1, 2)), np.ones((2, 1)), np.array([[1.0, np.nan], [1.0, 2.0]])]
)
def test_tables_that_cannot_be_used(table):
    with pytest.raises(ValueError, match="expected"):
        repeatability(table)


@given(
    arrays(
        np.float64,
        st.tuples(st.integers(2, 6), st.integers(2, 5)),
        elements=st.floats(-100, 100, allow_nan=False).map(lambda v: round(v, 3)),
    )
)
def test_pooled_sem_is_the_one_way_within_mean_square(table):
    # Derivation: for groups of one size, Σ(x − own mean)²/Σ(k − 1) is MS_within.
    pooled = pooled_sem(list(table))
    assert pooled.df == table.shape[0] * (table.shape[1] - 1)
    assert pooled.sem**2 == pytest.approx(repeatability(table).ms_within, abs=1e-6)


def test_pooled_sem_takes_groups_of_any_size():
    # By hand: (1 + 1)/1 from {1, 3}, nothing from {7}, 2·1 from {4, 5, 6} → √((2 + 2)/3).
    pooled = pooled_sem([np.array([1.0, 3.0]), np.array([7.0, np.nan]), np.array([4.0, 5.0, 6.0])])
    assert pooled.df == 3
    assert pooled.sem == pytest.approx(math.sqrt(4 / 3))


def test_no_repeats_no_sem():
    assert math.isnan(pooled_sem([np.array([1.0])]).sem)
