import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.motion import angles

# Winter DA, Biomechanics and Motor Control of Human Movement, 4th ed., Wiley 2009, Table A.1,
# raw coordinates in cm (y up) of hip, knee, fibula head, ankle; then the segment angles against
# the right horizontal and the knee flexion that follow from them.
WINTER_A1 = {
    1: ((44.94, 78.58), (41.00, 47.40), (35.91, 40.53), (9.31, 21.44), 82.80, 35.67, 47.13),
    28: ((101.53, 79.34), (112.34, 50.46), (113.87, 41.80), (124.94, 10.63), 110.52, 109.55, 0.97),
    50: ((142.02, 82.65), (140.11, 51.09), (137.05, 42.57), (130.56, 9.99), 86.54, 78.73, 7.80),
    70: ((185.67, 78.83), (181.73, 47.53), (176.00, 40.15), (149.53, 21.82), 82.83, 34.70, 48.12),
    90: ((225.18, 81.12), (238.29, 52.75), (239.18, 43.46), (247.07, 10.63), 114.80, 103.51, 11.29),
}


@pytest.mark.parametrize("frame", WINTER_A1)
def test_segment_leans_match_winter_table_a1(frame: int) -> None:
    hip, knee, fibula, ankle, thigh, leg, flexion = WINTER_A1[frame]
    # Counter-clockwise from the right horizontal = 90° − lean from vertical towards + x.
    thigh_here = 90.0 - angles.lean_deg(np.array(knee), np.array(hip))
    leg_here = 90.0 - angles.lean_deg(np.array(ankle), np.array(fibula))
    assert thigh_here == pytest.approx(thigh, abs=0.006)
    assert leg_here == pytest.approx(leg, abs=0.006)
    assert thigh_here - leg_here == pytest.approx(flexion, abs=0.011)


def test_knee_of_given_hip_to_ankle_distance() -> None:
    # Thigh 0.245 and shank 0.246 of stature: Drillis & Contini 1966, as in Winter 2009 Fig. 4.1.
    # The distances for 50°, 90°, 170° follow by the law of cosines (exact derivation).
    thigh, shank = 0.245, 0.246
    for knee, distance in ((50.0, 0.2075), (90.0, 0.3472), (170.0, 0.4891)):
        turn = np.radians(knee)
        hip = thigh * np.array([1.0, 0.0])
        ankle = shank * np.array([np.cos(turn), np.sin(turn)])
        assert np.linalg.norm(hip - ankle) == pytest.approx(distance, abs=5e-5)
        assert angles.knee_deg(hip, np.zeros(2), ankle) == pytest.approx(knee)


@pytest.mark.parametrize(
    ("seen_deg", "yaw_deg"), [(45.11, 5), (45.44, 10), (45.99, 15), (46.78, 20), (49.11, 30)]
)
def test_yaw_steepens_a_45_degree_line(seen_deg: float, yaw_deg: float) -> None:
    # Far camera: tan θ′ = tan θ / cos ψ (exact derivation); x shrinks by cos ψ.
    upper = np.array([np.cos(np.radians(yaw_deg)), 1.0])
    from_horizontal = 90.0 - angles.lean_deg(np.zeros(2), upper)
    assert from_horizontal == pytest.approx(seen_deg, abs=0.006)


def test_signs() -> None:
    origin = np.zeros(2)
    assert angles.trunk_deg(origin, np.array([1.0, 1.0])) == pytest.approx(45)  # to the feet
    assert angles.trunk_deg(origin, np.array([-1.0, 1.0])) == pytest.approx(-45)  # layback
    assert angles.shin_deg(origin, np.array([0.1, 1.0])) > 0  # knee beyond the ankle
    assert angles.forearm_deg(origin, np.array([1.0, 0.2])) > 0  # wrist above elbow
    ear_forward = np.array([0.3, 1.3])
    assert angles.head_deg(ear_forward, np.array([0.0, 1.0]), origin) == pytest.approx(45)


def test_missing_stays_missing() -> None:
    gone = np.array([np.nan, 0.0])
    assert np.isnan(angles.trunk_deg(gone, np.ones(2)))
    assert np.isnan(angles.knee_deg(np.ones(2), gone, np.zeros(2)))


places = st.tuples(st.floats(-5, 5), st.floats(-5, 5)).map(np.array)


@given(places, places, places, st.floats(-180, 180), st.floats(0.1, 50))
def test_included_angle_ignores_turn_mirror_and_scale(a, b, c, turn_deg, scale) -> None:
    if min(np.linalg.norm(a - b), np.linalg.norm(c - b)) < 1e-3:
        return
    turn = np.radians(turn_deg)
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) * scale
    mirrored = turned @ np.diag([-1.0, 1.0])
    plain = angles.included_deg(a, b, c)
    assert angles.included_deg(turned @ a, turned @ b, turned @ c) == pytest.approx(plain, abs=1e-6)
    assert angles.included_deg(mirrored @ a, mirrored @ b, mirrored @ c) == pytest.approx(
        plain, abs=1e-6
    )


@given(places, st.floats(-179, 179))
def test_lean_turns_with_the_line(line, turn_deg) -> None:
    if np.linalg.norm(line) < 1e-3:
        return
    turn = np.radians(turn_deg)
    clockwise = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    before = angles.lean_deg(np.zeros(2), line)
    after = angles.lean_deg(np.zeros(2), clockwise @ line)
    assert (after - before - turn_deg + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
