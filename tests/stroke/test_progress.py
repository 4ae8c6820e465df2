import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.stroke.progress import (
    first_time,
    last_time,
    progress,
    rest_place,
    span_of,
    value_at,
)

T = np.linspace(0, 1, 201)


def test_progress_runs_from_nothing_to_all_and_never_back():
    x = 100 * (1 - np.cos(np.pi * T)) + 3 * np.sin(40 * T)
    done = progress(x, 10.0)
    assert done[0] == 0.0
    assert done[-1] == pytest.approx(1.0, abs=0.01)
    assert np.all(np.diff(done) >= 0)
    assert done.min() >= 0 and done.max() <= 1


def test_a_movement_away_first_counts_as_nothing():
    x = 50 * T - 20 * np.sin(2 * np.pi * np.minimum(T / 0.4, 0.5))
    done = progress(x, 10.0)
    assert np.all(done[T < 0.15] == 0.0)


@pytest.mark.parametrize("whole, told", [(9.9, False), (10.6, True)])
def test_a_part_that_hardly_moves_has_no_progress(whole, told):
    assert np.isfinite(progress(whole * T**2, 10.0)).all() == told


def test_a_gap_leaves_progress_empty():
    x = 100 * T
    x[50] = np.nan
    assert np.isnan(progress(x, 10.0)).all()


@given(st.floats(0.3, 3.0), st.floats(0.3, 3.0))
def test_a_parabolas_top_is_found_exactly_enough(left, right):
    # D: top of a two-sided parabola of different steepness; bound found from the same mean.
    u = np.linspace(-1, 1, 4001)
    x = -np.where(u < 0, left, right) * u**2
    place = rest_place(x, 2000, 0.05)
    lopsided = abs(np.log(left / right))
    assert abs(place) < 0.05 * (0.02 + 0.06 * lopsided)


def test_a_held_posture_is_its_mean_and_not_its_furthest_wiggle():
    rng = np.random.default_rng(1)
    x = np.concatenate([np.linspace(0, 100, 100), np.full(200, 100.0)])
    x += np.convolve(rng.standard_normal(300), np.ones(5) / 5, "same")
    at = int(np.argmax(x))
    assert x[at] - 100 > 0.5
    # On a plateau the parabola's twelfth of the band is too much; noise itself averages out.
    assert rest_place(x, at, 2.0) - 100 == pytest.approx(2 / 12, abs=0.25)


def test_half_a_parabola_at_the_end_of_the_curve():
    x = -((1 - T) ** 2)
    assert rest_place(x, 200, 0.01) == pytest.approx(0.0, abs=2e-4)


def test_crossings_lie_between_samples():
    x = T**2
    assert first_time(T, x, 0.333) == pytest.approx(np.sqrt(0.333), abs=1e-5)
    assert last_time(T, x, 0.333) == pytest.approx(np.sqrt(0.333), abs=1e-5)
    assert np.isnan(first_time(T, x, 2.0))
    assert np.isnan(last_time(T, x + 1, 0.5))
    assert first_time(T, x + 1, 0.5) == 0.0
    assert last_time(T, x, 5.0) == 1.0


def test_small_things():
    assert np.isnan(value_at(T, T, np.nan))
    assert value_at(T, 2 * T, 0.3) == pytest.approx(0.6)
    assert np.isnan(span_of(np.array([np.nan])))
    assert span_of(np.array([1.0, np.nan, 4.0])) == 3.0
