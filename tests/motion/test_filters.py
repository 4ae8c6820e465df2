import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt

from analysis.motion import filters


def test_one_pass_coefficients_match_winter() -> None:
    # Winter 2009 §2.2.4: second-order Butterworth, one pass, fs/fc = 10 (60 Hz, 6 Hz).
    b, a = butter(2, 6.0, fs=60.0)
    assert b == pytest.approx([0.067455, 0.134911, 0.067455], abs=5e-7)
    assert -a[1:] == pytest.approx([1.142980, -0.412802], abs=6e-7)


def test_two_pass_factor_matches_winter() -> None:
    assert pytest.approx(0.8022, abs=5e-5) == filters.TWO_PASS_FACTOR  # Winter 2009 §2.2.4


@pytest.mark.parametrize(("count", "corner_hz"), [(8, 3.0), (60, 7.48), (900, 2.0), (900, 13.0)])
def test_it_is_scipys_butterworth_both_ways(count: int, corner_hz: float) -> None:
    values = np.random.default_rng(3).normal(size=count).cumsum() + 200.0
    pad = min(count - 1, int(np.ceil(30.0 / corner_hz)) * 3)
    theirs = sosfiltfilt(butter(2, corner_hz, fs=30.0, output="sos"), values, padlen=pad)
    cut_off_hz = corner_hz * filters.TWO_PASS_FACTOR
    ours = filters.smooth(np.arange(count) / 30.0, values, cut_off_hz=cut_off_hz)
    # Both solve the same recursion in double precision; sums differ in their order only.
    assert ours == pytest.approx(theirs, abs=1e-9)


def test_two_passes_halve_the_power_at_the_cut_off() -> None:
    t_s = np.arange(0, 20, 1 / 240)
    wave = np.sin(2 * np.pi * 6.0 * t_s)
    middle = slice(1200, 3600)
    left = filters.smooth(t_s, wave, cut_off_hz=6.0)[middle]
    # Exact by definition of the corrected cut-off: amplitude 1/√2 after both passes.
    assert np.sqrt(2 * np.mean(left**2)) == pytest.approx(np.sqrt(0.5), abs=0.01)


def test_no_lag_and_slow_motion_kept_on_uneven_times() -> None:
    rng = np.random.default_rng(4)
    t_s = np.cumsum(rng.uniform(0.02, 0.045, 300))
    slow = np.sin(2 * np.pi * 0.5 * t_s)
    assert np.max(np.abs(filters.smooth(t_s, slow) - slow)[20:-20]) < 0.01


def test_noise_shrinks() -> None:
    rng = np.random.default_rng(5)
    t_s = np.arange(600) / 60
    noise = rng.normal(size=600)
    assert np.std(filters.smooth(t_s, noise)) < 0.6  # √(2·6/60) = 0.45 of white noise passes


def test_short_gaps_are_bridged_long_ones_stay() -> None:
    t_s = np.arange(40) / 30
    ramp = np.arange(40.0)
    holed = ramp.copy()
    holed[5:8] = np.nan
    holed[15:30] = np.nan
    holed[:2] = np.nan
    values, filled = filters.bridge_gaps(t_s, holed)
    assert values[5:8] == pytest.approx(ramp[5:8])
    assert filled.sum() == 3
    assert np.isnan(values[15:30]).all()
    assert np.isnan(values[:2]).all()


def test_runs() -> None:
    keep = np.array([False, True, True, False, True])
    assert filters.runs(keep) == [slice(1, 3), slice(4, 5)]
    assert filters.runs(np.zeros(3, dtype=bool)) == []


def test_long_gaps() -> None:
    t_s = np.arange(30) / 10
    seen = np.ones(30, dtype=bool)
    seen[3] = False  # 0.2 s between its neighbours: short
    seen[10:15] = False  # 0.6 s
    seen[28:] = False  # 0.2 s to the clip's end
    assert np.flatnonzero(filters.long_gaps(t_s, seen, longest_s=0.25)).tolist() == [
        10,
        11,
        12,
        13,
        14,
    ]


@pytest.mark.filterwarnings("ignore:All-NaN slice")
@pytest.mark.parametrize("count", [1, 2, 5, 10])
def test_the_quick_median_is_numpys(count: int) -> None:
    rng = np.random.default_rng(count)
    points = rng.normal(size=(count, 40, 2))
    points[rng.random((count, 40)) < 0.5] = np.nan
    expected = np.nanmedian(points, axis=0)
    assert np.array_equal(filters.median_of_known(points), expected, equal_nan=True)
