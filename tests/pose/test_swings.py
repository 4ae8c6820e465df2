"""Swings: rate and number of made oscillations, and nothing where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.pose.swings import NO_SWINGS, swings, without_jumps


@given(spm=st.floats(12, 50), noise=st.floats(0, 0.08), phase=st.floats(0, 6.2))
@settings(max_examples=40, deadline=None)
def test_rate_of_a_sine(spm: float, noise: float, phase: float) -> None:
    t_s = np.arange(0, 20, 0.25)
    x = np.sin(2 * np.pi * spm / 60 * t_s + phase)
    found = swings(t_s, x + np.random.default_rng(0).normal(0, noise, len(t_s)))
    assert found.spm == pytest.approx(spm, rel=0.1)
    assert abs(found.cycles - 20 * spm / 60) <= 1.5
    assert found.share > 0.8
    # Between the 8th and 92nd percentile a sine of amplitude 1 goes 2 · sin(0.42 π) = 1.94.
    assert found.travel == pytest.approx(1.94, abs=0.2)


def test_too_slow_and_too_fast_do_not_count() -> None:
    t_s = np.arange(0, 60, 0.05)
    for spm in (5.0, 100.0):
        assert swings(t_s, np.sin(2 * np.pi * spm / 60 * t_s)).cycles == 0


def test_uneven_times_and_gaps() -> None:
    t_s = np.cumsum(np.random.default_rng(2).uniform(0.1, 0.4, 80))
    x = np.sin(2 * np.pi * 24 / 60 * t_s)
    x[30:32] = np.nan
    assert swings(t_s, x).spm == pytest.approx(24, rel=0.08)


def test_slow_drift_does_no_harm() -> None:
    t_s = np.arange(0, 40, 0.25)
    x = np.sin(2 * np.pi * 24 / 60 * t_s) + 0.1 * t_s
    assert swings(t_s, x).cycles == pytest.approx(16, abs=1)


def test_fidgeting_is_less_than_the_least() -> None:
    t_s = np.arange(0, 20, 0.25)
    x = 0.15 * np.sin(2 * np.pi * 24 / 60 * t_s)
    assert swings(t_s, x, least=0.4) == NO_SWINGS
    assert swings(t_s, x).cycles > 6


def test_longest_row() -> None:
    # Three strokes, ten seconds of rest, five strokes.
    t_s = np.arange(0, 35, 0.1)
    rowing = (t_s < 7.5) | (t_s > 17.5) & (t_s < 30)
    x = np.where(rowing, np.cos(2 * np.pi * 24 / 60 * (t_s - 17.5 * (t_s > 17))), -1.0)
    found = swings(t_s, x)
    assert 4 <= found.in_a_row <= 5.5
    assert found.in_a_row < found.cycles


def test_constant_and_empty() -> None:
    t_s = np.arange(0, 10, 0.25)
    assert swings(t_s, np.full_like(t_s, np.nan)) == NO_SWINGS
    assert swings(t_s, np.zeros_like(t_s)) == NO_SWINGS


def test_one_jump_of_a_hand_breaks_no_swing() -> None:
    t_s = np.arange(0.0, 6.0, 0.1)
    hands = np.cos(2 * np.pi * t_s / 2.2)
    jumped = hands.copy()
    jumped[[15, 32, 41]] = [1.2, -1.4, 1.3]
    calm = without_jumps(t_s, jumped)
    assert swings(t_s, calm).spm == pytest.approx(swings(t_s, hands).spm, rel=0.05)
    assert swings(t_s, calm).cycles == swings(t_s, hands).cycles
    # Four looks a second are too rare to compare with their neighbours.
    assert np.array_equal(without_jumps(t_s * 2.5, jumped), jumped)
