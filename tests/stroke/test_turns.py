import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.stroke.signals import GRID_S, Curves
from analysis.stroke.turns import find_turns, quickness_of_turns, reversals, turn_table

T = np.arange(0, 12, GRID_S)


def curves(handle: np.ndarray) -> Curves:
    return Curves(T, {"handle_x": handle, "handle_y": np.zeros_like(T)})


@given(st.floats(0.1, 0.9), st.floats(0, 6.28))
def test_reversals_alternate_and_are_large(period_share, phase):
    x = 100 * np.cos(2 * np.pi * T / 2.5 + phase) + 4 * np.cos(2 * np.pi * T / (period_share))
    index, front = reversals(x, 30.0)
    assert np.all(front[1:] != front[:-1])
    assert np.all(np.abs(np.diff(x[index])) >= 30.0)
    assert np.all(np.diff(index) > 0)


def test_a_pause_and_a_small_wobble_are_no_turns():
    x = 150 * np.cos(2 * np.pi * T / 4)
    x = np.where((T % 4 > 3) & (T % 4 < 3.5), x - 10 * np.sin((T % 4 - 3) * 4 * np.pi), x)
    turns = find_turns(x, 130.0)
    # Front at 4 and 8, back at 2, 6 and 10; the clip's own ends are candidates too.
    inner = turns.index[1:-1] * GRID_S
    np.testing.assert_allclose(inner, [2, 4, 6, 8, 10], atol=0.02)


def test_the_band_of_a_cosine_is_met_where_it_says():
    # D: 150 cos(ωt) is within 1 % of its travel of 300 where 1 − cos(ωt) ≤ 0.02.
    x = 150 * np.cos(2 * np.pi * T / 4)
    turns = find_turns(x, 130.0)
    table = turn_table(x, T, turns)
    half = np.arccos(0.98) * 4 / (2 * np.pi)
    np.testing.assert_allclose(table.leave[2] - 4, half, atol=1e-3)
    np.testing.assert_allclose(4 - table.arrive[2], half, atol=1e-3)
    np.testing.assert_allclose(table.travel[1:-1], 300, rtol=1e-3)


def test_quickness_of_a_cosine():
    # D: the acceleration at its turn is 150 ω², so √(2 × 300 ÷ 150 ω²) = 2/ω; between 1 % and 8 %
    # a cosine is a little slower than its parabola.
    x = 150 * np.cos(2 * np.pi * T / 4)
    _, quickness = quickness_of_turns(curves(x), find_turns(x, 130.0))
    np.testing.assert_allclose(quickness, 2 * 4 / (2 * np.pi), rtol=0.03)


@pytest.mark.parametrize("hidden, told", [((3.95, 4.05), False), ((4.5, 4.7), True)])
def test_a_turn_behind_a_gap_is_not_told(hidden, told):
    x = 150 * np.cos(2 * np.pi * T / 4)
    x[np.abs(T - np.mean(hidden)) < np.ptp(hidden) / 2] = np.nan
    turns = find_turns(x, 130.0)
    table = turn_table(x, T, turns)
    at = int(np.argmin(np.abs(turns.index * GRID_S - 4)))
    assert np.isfinite(table.leave[at]) == told


def test_no_handle_no_turns():
    assert len(find_turns(np.full(100, np.nan), 130.0).index) == 0
    assert len(find_turns(np.full(100, 5.0), 130.0).index) == 0


@pytest.mark.parametrize("creep_px", [0.0, 6.0, 12.0])
def test_hands_that_creep_at_a_turn_go_when_they_really_go(creep_px):
    # D: there and back in 2 s, then 0.5 s at the front, for whose first half hands are placed too
    # far out. A cosine leaves the 1 % band of its travel of 300 after arccos(0.98)/π s; by where
    # the hands were placed at first it would have left while it rested.
    phase = (T - 1.0) % 2.5
    x = 150 * np.cos(np.pi * np.minimum(phase, 2.0))
    x += creep_px * np.interp(phase, [1.5, 2.0, 2.25, 2.5], [0.0, 1.0, 0.0, 0.0])
    table = turn_table(x, T, find_turns(x, 130.0))
    late_s = np.arccos(0.98) / np.pi
    leave = table.leave[np.nanargmin(np.abs(table.leave - 6.0))]
    assert leave - 6.0 == pytest.approx(late_s, abs=0.015)
    # The same the other way round: a release is where the hands come, not where they stay.
    y = -x[::-1]
    table = turn_table(y, T, find_turns(y, 130.0))
    come_s = T[-1] - 6.0
    arrive = table.arrive[np.nanargmin(np.abs(table.arrive - come_s))]
    assert come_s - arrive == pytest.approx(late_s, abs=0.015)
