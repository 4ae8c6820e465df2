"""The made rower itself: lengths, angles, and truth against values worked out by hand."""

import numpy as np
import pytest

from analysis.motion.motion import JOINTS, SEGMENTS
from tests.made_motion import (
    PLANTS,
    STAGES,
    Technique,
    made_motion,
    planted,
    still_motion,
    tuned,
)
from tests.made_rower import SEGMENTS_M, STATURE_M, Rower, angles_of


@pytest.mark.parametrize("knee, share", [(50, 0.2075), (90, 0.3472), (170, 0.4891)])
def test_legs_have_the_length_of_published_proportions(knee, share):
    # Hip–ankle distance ÷ stature (D) with thigh 0.245 and shank 0.246 of stature: Drillis &
    # Contini 1966, as in Winter 2009, Fig. 4.1.
    places, _ = Rower([Technique(knee_release_deg=knee if knee > 150 else 171.0)] * 2).places(
        np.linspace(0, 2.5, 2001)
    )
    angles = angles_of(places, np.zeros(len(places)))
    at = int(np.argmin(np.abs(angles[:, 2] - knee)))
    line = places[at, JOINTS.index("hip")] - places[at, JOINTS.index("ankle")]
    assert np.hypot(*line) / STATURE_M == pytest.approx(share, abs=0.003)


@pytest.mark.parametrize("name", STAGES)
def test_segments_keep_their_length_and_the_wrist_its_reach(name):
    places, _ = Rower([STAGES[name]] * 3).places(np.linspace(0, 5, 3001))
    assert np.isfinite(places).all()
    for segment, (a, b) in SEGMENTS.items():
        line = places[:, JOINTS.index(a)] - places[:, JOINTS.index(b)]
        np.testing.assert_allclose(np.hypot(*line.T), SEGMENTS_M[segment], atol=1e-6)


def test_the_movement_is_continuous_from_stroke_to_stroke():
    listed = [
        Technique(),
        Technique(catch_trunk_deg=35, shin_catch_deg=3),
        Technique(layback_deg=20),
    ]
    t = np.linspace(0, 5.3, 10601)
    places, rounding = Rower(listed).places(t)
    speed = np.abs(np.diff(places, axis=0)) / np.diff(t)[:, None, None]
    assert speed.max() < 8.0  # m/s
    assert np.abs(np.diff(rounding)).max() < 0.2


def test_truth_is_what_the_parameters_say():
    technique = Technique(catch_trunk_deg=33.0, layback_deg=12.0, shin_catch_deg=1.0, head_deg=7.0)
    truth = made_motion(technique, strokes=2).truth.measures
    for name, value in {"catch_trunk_deg": 33.0, "layback_deg": 12.0, "shin_catch_deg": 1.0,
                        "head_deg": 7.0, "elbow_catch_deg": 174.0}.items():  # fmt: skip
        np.testing.assert_allclose(truth[name], value, atol=0.05)
    np.testing.assert_allclose(truth["rate_spm"], 22.0, atol=0.02)


def test_a_half_cosines_band_is_met_where_it_must():
    # D: with everything at once and the same shape, the seat alone is a half cosine of 0.9 s: it
    # has made 2 % of its way after acos(1 − 0.04)/π of its time.
    technique = Technique(slide_start=0.4)
    truth = made_motion(technique, strokes=1).truth
    recovery = 60 / 22 - 0.9
    slide = 0.6 * recovery * (1 - np.arccos(0.96) / np.pi)
    expected = slide / truth.measures["recovery_s"][0]
    assert truth.measures["slide_time_share"][0] == pytest.approx(expected, abs=0.002)


def test_pauses_and_holds_lengthen_the_stroke_by_what_they_say():
    plain = made_motion(Technique(), strokes=1).truth.measures["recovery_s"][0]
    paused = made_motion(Technique(pauses=(("body_over", 1.5),)), strokes=1)
    assert paused.truth.measures["recovery_s"][0] == pytest.approx(plain + 1.5, abs=0.002)
    held = made_motion(Technique(front_hold_s=0.4), strokes=1).truth.measures
    assert held["catch_dwell_s"][0] > 0.4
    assert held["rate_spm"][0] == pytest.approx(22.0, abs=0.02)


@pytest.mark.parametrize("measure", ["lunge_deg", "seat_slip_share", "handle_dip_share"])
def test_a_planted_fault_has_exactly_its_size(measure):
    value = {"lunge_deg": 11.0, "seat_slip_share": 0.19, "handle_dip_share": 0.27}[measure]
    truth = made_motion(planted(measure, value), strokes=1).truth
    assert truth.measures[measure][0] == pytest.approx(value, abs=0.005)
    assert set(PLANTS) <= set(truth.measures)


def test_tuning_any_parameter():
    technique = tuned(Technique(), "drive_s", "ratio", 1.5, (0.5, 1.8))
    assert made_motion(technique, strokes=1).truth.measures["ratio"][0] == pytest.approx(
        1.5, abs=0.01
    )


@pytest.mark.parametrize("correlation", [{}, {"noise_tau_s": 0.1}, {"noise_smooth_s": 0.06}])
def test_noise_has_the_size_asked_for(correlation):
    clean = made_motion(Technique(), strokes=6).motion
    noisy = made_motion(Technique(), strokes=6, noise_px=2.0, seed=1, **correlation).motion
    error = noisy.joints_px - clean.joints_px
    assert error.std() == pytest.approx(2.0, rel=0.06)
    assert noisy.place_se_px == 2.0


def test_an_angles_error_is_what_its_ends_scatter_to():
    # D: 1 px at both ends of a segment of 150 px gives √2/150 rad = 0.54°.
    scale = 150 / SEGMENTS_M["trunk"]
    motion = made_motion(Technique(), noise_px=1.0, px_per_m=scale).motion
    np.testing.assert_allclose(motion.angle_se("trunk_deg"), 0.54, atol=0.02)


def test_frames_can_be_uneven_dropped_hidden_and_mirrored():
    made = made_motion(Technique(), fps=30, time_jitter=0.4, drop_share=0.1,
                       gaps_s=[(1.0, 1.5)], gap_joints=["wrist"], facing="left")  # fmt: skip
    steps = np.diff(made.motion.t_s)
    assert steps.min() < 0.03 and steps.max() > 0.06
    hidden = (made.motion.t_s >= 1.0) & (made.motion.t_s <= 1.5)
    assert np.isnan(made.motion.handle_px[hidden]).all()
    assert np.isfinite(made.motion.seat_px[hidden]).all()
    assert made.motion.joint("toe")[0, 0] < made.motion.joint("hip")[0, 0]


def test_somebody_still_hardly_moves():
    still = still_motion(noise_px=0.0)
    assert np.ptp(still.handle_px[:, 0]) < 1e-9
