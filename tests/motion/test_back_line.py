import numpy as np
import pytest

from analysis.motion.back_line import LEVELS, find_back_line

HIP, SHOULDER = np.array([[0.0, 0.0]]), np.array([[0.0, 100.0]])
FAR_ELBOW, FAR_WRIST = np.array([[60.0, 70.0]]), np.array([[110.0, 60.0]])
JOINTS = (HIP, SHOULDER, FAR_ELBOW, FAR_WRIST)


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


def test_edge_is_the_distance_behind_the_axis_in_trunk_lengths() -> None:
    edge = find_back_line(figure(arc(200.0)), *JOINTS)[0]
    inside = (LEVELS > -0.29) & (LEVELS < 1.1)
    assert edge[inside] == pytest.approx(arc(200.0)(100 * LEVELS[inside]) / 100, abs=1e-3)


def test_lean_and_scale_do_not_count() -> None:
    turn = np.radians(25.0)
    matrix = 2.7 * np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    plain = (figure(arc(200.0)), *JOINTS)
    turned = tuple(points @ matrix.T for points in plain)
    inside = (LEVELS > -0.29) & (LEVELS < 1.1)
    assert find_back_line(*turned)[0, inside] == pytest.approx(
        find_back_line(*plain)[0, inside], abs=1e-9
    )


def test_elbow_behind_the_back_is_left_out() -> None:
    elbow, wrist = np.array([[-50.0, 50.0]]), np.array([[0.0, 45.0]])

    def bump(up: np.ndarray) -> np.ndarray:
        return arc(200.0)(up) + 25 * np.exp(-(((up - 50) / 9) ** 2))

    edge = find_back_line(figure(bump), HIP, SHOULDER, elbow, wrist)[0]
    assert np.isnan(edge[np.argmin(np.abs(LEVELS - 0.5))])
    # The arm covers the edge from the shoulder down to the elbow, not the rump.
    assert np.isnan(edge[(LEVELS > 0.45) & (LEVELS < 0.85)]).all()
    assert np.isfinite(edge[(LEVELS > -0.29) & (LEVELS < 0.3)]).all()


def test_nothing_is_said_without_outline_or_joints() -> None:
    gone = np.full((1, 256, 2), np.nan)
    assert np.isnan(find_back_line(gone, *JOINTS)).all()
    assert np.isnan(find_back_line(figure(arc(200.0)), HIP * np.nan, *JOINTS[1:])).all()
