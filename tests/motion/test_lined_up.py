"""Where the camera stands, from edges along the machine, as a pinhole camera sees them.

Expected values are the camera's own: lines of known places are projected by it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.motion.level import Level
from analysis.motion.lined_up import LINED_UP_SE_DEG, yaw_by_edges
from analysis.motion.tilt import Tilt
from analysis.motion.view import Yaw
from analysis.pose.track import Facing

FOCAL, CENTRE, HIGH_M, AWAY_M = 900.0, np.array([479.5, 269.5]), 1.1, 4.5
#: Px of a trunk of 0.48 m at that distance.
UNIT = 0.48 * FOCAL / AWAY_M
#: Heights of edges, m, and how far behind the machine: its own, and those of a wall.
RAIL, WALL = [(0.0, 0.0), (0.33, 0.0), (0.4, 0.0), (0.02, 0.2), (0.05, -0.2)], [
    (0.1, 2.5), (1.2, 2.5), (1.6, 2.5), (2.1, 2.5), (2.4, 2.5),
]  # fmt: skip


def seen(points_m: np.ndarray, yaw_deg: float, pitch_deg: float, roll_deg: float) -> np.ndarray:
    """Points (x to the right along the machine, height, away from the camera's side), px."""
    yaw, pitch, roll = np.radians([yaw_deg, pitch_deg, roll_deg])
    # It stands to the right by the yaw and looks back at the machine's middle.
    x, down, z = points_m[..., 0], HIGH_M - points_m[..., 1], points_m[..., 2]
    x = x - AWAY_M * math.sin(yaw)
    z = z + AWAY_M * math.cos(yaw)
    x, z = x * math.cos(yaw) + z * math.sin(yaw), z * math.cos(yaw) - x * math.sin(yaw)
    down, z = (
        down * math.cos(pitch) - z * math.sin(pitch),
        z * math.cos(pitch) + down * math.sin(pitch),
    )
    x, down = x / z, down / z
    turned = [
        x * math.cos(roll) - down * math.sin(roll),
        down * math.cos(roll) + x * math.sin(roll),
    ]
    return CENTRE + FOCAL * np.stack(turned, axis=-1)


def edges(
    yaw_deg: float,
    pitch_deg: float = 4.0,
    roll_deg: float = 0.0,
    wall_deg: float = 0.0,
    heights: list[tuple[float, float]] | None = None,
) -> np.ndarray:
    """Two edges at each height, of a wall that is turned against the machine by `wall_deg`."""
    found = []
    for high, back in heights or [*RAIL, *WALL]:
        turn = math.radians(wall_deg) if back > 1.0 else 0.0
        for left, right in ((-1.0, -0.2), (0.1, 0.9)):
            along = np.array([left, right])
            ends = [along * math.cos(turn), [high, high], back + along * math.sin(turn)]
            found.append(seen(np.stack(ends, axis=-1), yaw_deg, pitch_deg, roll_deg))
    return np.array(found).reshape(-1, 4)


def told(
    found: np.ndarray, pitch_deg: float = 4.0, roll_deg: float = 0.0, facing: Facing = "right"
) -> Yaw:
    level = Level(math.radians(pitch_deg), FOCAL, CENTRE, pitch_se_rad=0.02)
    hip = level.put(seen(np.array([0.0, 0.5, 0.0]), 0.0, pitch_deg, roll_deg))
    return yaw_by_edges(found, hip, UNIT, level, Tilt(roll_deg, 0.3), facing)


@given(st.floats(-16.0, 16.0), st.floats(0.0, 9.0), st.floats(-4.0, 4.0))
@settings(deadline=None, max_examples=40)
def test_camera_is_found_however_it_is_held(yaw: float, pitch: float, roll: float) -> None:
    found = told(edges(yaw, pitch, roll), pitch, roll)
    # The pitch is taken out about the camera's own axis: of 9°, a roll of 4° leaves 0.6° of yaw.
    assert found.deg == pytest.approx(yaw, abs=1.0)
    assert LINED_UP_SE_DEG < found.se_deg < 2.0 * LINED_UP_SE_DEG


def test_towards_the_feet_is_the_other_way_for_who_faces_left() -> None:
    assert told(edges(8.0), facing="left").deg == pytest.approx(-told(edges(8.0)).deg)


def test_roll_that_is_not_quite_known_is_found_with_it() -> None:
    # Told as 0.5° less than it is: of the rail alone that were yaw ÷ its fall below the horizon,
    # 0.5° ÷ (0.7 m ÷ 4.5 m) = 3.2°; edges at several heights tell the two apart.
    assert told(edges(6.0, roll_deg=0.5), roll_deg=0.0).deg == pytest.approx(6.0, abs=1.0)


def test_edges_that_run_otherwise_do_not_pull() -> None:
    rng = np.random.default_rng(4)
    start = rng.uniform([100, 100], [800, 500], (8, 2))
    shadows = np.hstack([start, start + rng.uniform([60, -12], [120, 12], (8, 2))])
    assert told(np.vstack([edges(9.0), shadows])).deg == pytest.approx(9.0, abs=1.5)


@pytest.mark.parametrize("wall_deg", [-25.0, -14.0, 14.0, 25.0])
def test_machine_that_stands_askew_in_its_room_holds_against_it(wall_deg: float) -> None:
    room = told(edges(4.0, wall_deg=wall_deg, heights=WALL))
    both = told(edges(4.0, wall_deg=wall_deg))
    assert abs(room.deg - 4.0) > 9.0
    assert abs(both.deg - 4.0) < 0.5 * abs(room.deg - 4.0)
    assert abs(both.deg - 4.0) < 2.0 * both.se_deg


def test_a_room_slightly_askew_has_its_say() -> None:
    found = told(edges(4.0, wall_deg=3.0))
    assert abs(found.deg - 4.0) < 2.0 * found.se_deg


@pytest.mark.parametrize("count", [0, 1, 4])
def test_few_edges_tell_nothing(count: int) -> None:
    found = told(edges(9.0)[:count])
    assert found.deg == 0.0
    assert math.isinf(found.se_deg)
