import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.stroke.smooth import MAX_GAP_S, apply, even_grid, smoothing_matrix


def frames(rng: np.random.Generator, fps: float = 30.0, seconds: float = 3.0) -> np.ndarray:
    """Uneven frame times with some frames dropped."""
    t = np.arange(0.0, seconds, 1 / fps)
    t = t + rng.uniform(-0.3, 0.3, len(t)) / fps
    keep = rng.random(len(t)) > 0.05
    return t[keep]


@given(
    st.lists(st.floats(-5, 5), min_size=4, max_size=4),
    st.sampled_from([(60.0, 0.15), (120.0, 0.1), (30.0, 0.3)]),
    st.integers(0, 1000),
)
@settings(max_examples=40, deadline=None)
def test_a_cubic_passes_unchanged_whatever_the_frame_times(coefficients, rate, seed):
    # Exact: a local cubic fit reproduces cubics, given frames enough on both sides.
    fps, half = rate
    rng = np.random.default_rng(seed)
    t = frames(rng, fps)
    grid = even_grid(t, 0.01)
    grid = grid[(grid > t[0] + half) & (grid < t[-1] - half)]
    matrix = smoothing_matrix(t, np.ones(len(t), bool), grid, np.full(len(grid), half))
    got = apply(matrix, np.polyval(coefficients, t - 1.5))
    seen = np.isfinite(got)
    assert seen.mean() > 0.8
    np.testing.assert_allclose(got[seen], np.polyval(coefficients, grid[seen] - 1.5), atol=1e-4)


@given(st.floats(-5, 5), st.sampled_from([25.0, 30.0, 120.0]), st.integers(0, 1000))
@settings(max_examples=20, deadline=None)
def test_a_steady_movement_passes_unchanged_up_to_the_clips_ends(slope, fps, seed):
    t = frames(np.random.default_rng(seed), fps)
    grid = even_grid(t, 0.01)
    matrix = smoothing_matrix(t, np.ones(len(t), bool), grid, np.full(len(grid), 0.13))
    got = apply(matrix, slope * t)
    seen = np.isfinite(got)
    np.testing.assert_allclose(got[seen], slope * grid[seen], atol=1e-4)


def test_rows_sum_to_one_and_noise_shrinks():
    t = np.arange(0, 4, 1 / 60)
    grid = even_grid(t, 0.005)
    matrix = smoothing_matrix(t, np.ones(len(t), bool), grid, np.full(len(grid), 0.15))
    sums = np.asarray(matrix.sum(axis=1)).ravel()
    np.testing.assert_allclose(sums, 1.0, atol=1e-9)
    middle = matrix[200:-200]
    assert np.sqrt(middle.power(2).sum(axis=1)).max() < 0.6


@pytest.mark.parametrize("missing, covered", [(0.9 * MAX_GAP_S, True), (1.3 * MAX_GAP_S, False)])
def test_nothing_is_read_across_a_long_gap(missing, covered):
    t = np.arange(0, 3, 1 / 120)
    measured = (t < 1.0) | (t > 1.0 + missing - 1 / 120)
    grid = np.array([1.0 + missing / 2])
    matrix = smoothing_matrix(t, measured, grid, np.array([0.2]))
    assert np.isfinite(apply(matrix, t)[0]) == covered


def test_values_in_gaps_do_not_matter():
    t = np.arange(0, 3, 1 / 30)
    measured = np.ones(len(t), bool)
    measured[40:42] = False
    values = np.sin(t)
    values[~measured] = np.nan
    grid = even_grid(t, 0.01)
    got = apply(smoothing_matrix(t, measured, grid, np.full(len(grid), 0.15)), values)
    np.testing.assert_allclose(got, np.sin(grid), atol=2e-3)


def test_too_few_frames_give_nothing():
    t = np.array([0.0, 1.0, 2.0])
    one = np.array([True, False, False])
    assert np.isnan(apply(smoothing_matrix(t, one, t, np.full(3, 0.2)), t)).all()
