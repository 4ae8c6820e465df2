import numpy as np
import pytest

from analysis.motion.back_line import (
    LEVELS,
    STRETCHES,
    back_angle_deg,
    find_back_line,
    terms_of,
)

HIP, SHOULDER = np.array([[0.0, 0.0]]), np.array([[0.0, 100.0]])
FAR_ELBOW, FAR_WRIST = np.array([[60.0, 70.0]]), np.array([[110.0, 60.0]])


def figure(rear, points: int = 256) -> np.ndarray:
    """Closed outline (1, P, 2) whose rear edge lies `rear(height)` behind x = 0 (made here)."""
    up = np.linspace(-30, 115, points // 2)
    back = np.stack([-rear(up), up], axis=1)
    front = np.stack([np.full(points - len(up), 20.0), np.linspace(115, -30, points - len(up))], 1)
    return np.concatenate([back, front])[None]


def arc(radius: float):
    """Rear edge on a circle through heights 0 and 100, bulging backwards."""
    sag = radius - np.sqrt(radius**2 - 50.0**2)
    return lambda up: 25 + np.sqrt(radius**2 - (np.clip(up, -40, 140) - 50) ** 2) - radius + sag


def raw_deg(*figure_and_joints) -> np.ndarray:
    """Upper minus lower tangent, with nothing learned."""
    terms = terms_of(find_back_line(*figure_and_joints), np.zeros(1), np.zeros(1))
    return back_angle_deg(terms, np.array([0.0, -1.0, 0.0, 1.0, 0.0]))


def test_straight_back_is_not_rounded() -> None:
    flat = figure(lambda up: np.full_like(up, 20.0))
    assert raw_deg(flat, HIP, SHOULDER, FAR_ELBOW, FAR_WRIST)[0] == pytest.approx(0.0, abs=1e-6)


def test_circular_back_turns_by_the_arc_between_the_stretches() -> None:
    radius = 200.0
    found = raw_deg(figure(arc(radius)), HIP, SHOULDER, FAR_ELBOW, FAR_WRIST)
    # A tangent of a circle leans by arcsin(height from its middle / radius); a line fitted over a
    # short stretch leans like the tangent at the stretch's middle (exact for a parabola).
    low, high = (100 * np.mean(stretch) - 50 for stretch in (STRETCHES[0], STRETCHES[2]))
    turned = np.degrees(np.arcsin(high / radius) - np.arcsin(low / radius))
    assert found[0] == pytest.approx(turned, abs=0.5)


def test_hollow_back_is_negative() -> None:
    hollow = figure(lambda up: 40 - arc(200.0)(up))
    assert raw_deg(hollow, HIP, SHOULDER, FAR_ELBOW, FAR_WRIST)[0] < -10


def test_lean_and_scale_do_not_count() -> None:
    turn = np.radians(25.0)
    matrix = 2.7 * np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    plain = (figure(arc(200.0)), HIP, SHOULDER, FAR_ELBOW, FAR_WRIST)
    turned = tuple(points @ matrix.T for points in plain)
    assert raw_deg(*turned) == pytest.approx(raw_deg(*plain), abs=0.3)


def test_elbow_behind_the_back_is_left_out() -> None:
    elbow, wrist = np.array([[-50.0, 50.0]]), np.array([[0.0, 45.0]])

    def bump(up: np.ndarray) -> np.ndarray:
        return arc(200.0)(up) + 25 * np.exp(-(((up - 50) / 9) ** 2))

    found = find_back_line(figure(bump), HIP, SHOULDER, elbow, wrist)
    assert np.isnan(found.edge[0, np.argmin(np.abs(LEVELS - 0.5))])
    # The arm covers the upper stretch from the shoulder down: it cannot be told.
    assert np.isnan(found.lean_deg[0, 2])
    assert np.isfinite(found.lean_deg[0, 0])
    assert np.isnan(raw_deg(figure(bump), HIP, SHOULDER, elbow, wrist)[0])


def test_nothing_is_said_without_outline_or_joints() -> None:
    gone = np.full((1, 256, 2), np.nan)
    assert np.isnan(raw_deg(gone, HIP, SHOULDER, FAR_ELBOW, FAR_WRIST)[0])
    seen = figure(arc(200.0))
    assert np.isnan(raw_deg(seen, HIP * np.nan, SHOULDER, FAR_ELBOW, FAR_WRIST)[0])
