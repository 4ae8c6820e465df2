import numpy as np
import pytest

from analysis.stroke.signals import (
    SIGNALS,
    SLOW_NOISE_S,
    half_windows_s,
    signals_of,
    slow_noise_matrix,
    white_noise,
)
from tests.made_motion import Technique, made_motion


@pytest.mark.parametrize("fps", [25.0, 30.0, 60.0, 120.0])
def test_white_noise_is_told_from_the_movement(fps):
    for noise in (0.3, 1.0, 3.0):
        motion = made_motion(Technique(), fps=fps, noise_px=noise, time_jitter=0.2, seed=4).motion
        assert white_noise(motion.t_s, motion.handle_px[:, 0]) == pytest.approx(noise, rel=0.2)
    still = made_motion(Technique(), fps=fps, noise_px=0.0).motion
    assert white_noise(still.t_s, still.handle_px[:, 0]) < 0.15


def test_slow_noise_has_unit_size_and_its_correlation():
    rng = np.random.default_rng(0)
    t = np.sort(rng.uniform(0, 3, 90))
    matrix = slow_noise_matrix(t)
    draws = matrix @ rng.standard_normal((matrix.shape[1], 6000))
    np.testing.assert_allclose(draws.std(axis=1), 1.0, atol=0.05)
    apart = t[:, None] - t[None, :]
    np.testing.assert_allclose(
        np.corrcoef(draws), np.exp(-(apart**2) / (2 * SLOW_NOISE_S**2)), atol=0.06
    )


def test_noise_that_shows_is_believed_over_a_smaller_claim():
    made = made_motion(Technique(), noise_px=2.0, seed=1)
    claims_less = made.motion.__class__(**{**made.motion.__dict__, "place_se_px": 0.2})
    assert signals_of(claims_less).by_name["handle_x"].se.mean() == pytest.approx(2.0, rel=0.25)


def test_noise_without_fine_wiggles_counts_as_slow():
    slow = made_motion(Technique(), noise_px=2.0, noise_smooth_s=0.08, seed=1).motion
    white = made_motion(Technique(), noise_px=2.0, seed=1).motion
    assert signals_of(slow).by_name["handle_x"].white_share < 0.05
    assert signals_of(white).by_name["handle_x"].white_share > 0.6


def test_windows_grow_with_noise_and_shrink_with_quick_turns():
    def window(noise: float, quickness: float) -> float:
        motion = made_motion(Technique(), noise_px=noise, seed=2).motion
        quick = np.array([quickness])
        return float(half_windows_s("handle_x", motion.t_s, motion.handle_px[:, 0], quick)[0])

    assert window(0.0, 0.7) < window(1.0, 0.7) < window(4.0, 0.7)
    assert window(2.0, 0.3) < window(2.0, 0.7)
    assert window(0.0, 0.7) >= 3.2 / 30 - 1e-9  # never fewer frames than a cubic needs


def test_every_signal_has_a_curve_and_gaps_stay_empty():
    made = made_motion(Technique(), gaps_s=[(3.0, 3.4)], gap_joints=["shoulder"])
    curves = signals_of(made.motion).curves
    assert set(curves.values) == set(SIGNALS)
    assert np.isnan(curves.at("trunk_deg", 3.2))
    assert np.isfinite(curves.at("shin_deg", 3.2))
    assert np.isnan(curves.at("shin_deg", -1.0))
    assert np.isnan(curves.at("shin_deg", np.nan))


def test_a_span_ends_exactly_where_asked():
    curves = signals_of(made_motion(Technique()).motion).curves
    t, x = curves.span("seat_x", 1.2345, 2.3456)
    assert t[0] == 1.2345 and t[-1] == 2.3456
    assert np.all(np.diff(t) > 0)
    assert np.isfinite(x).all()
    assert np.isnan(curves.span("seat_x", 2.0, 1.0)[1]).all()
