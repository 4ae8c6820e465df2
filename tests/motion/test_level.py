"""Turning a camera level and square on, checked against a pinhole camera written down here.

Expected values are exact: the same points are projected once by a pitched camera and once by a
level one in the same place.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.motion.level import Level, level_by

FOCAL, SIZE = 900.0, (1280, 720)
CENTRE = (np.array(SIZE) - 1.0) / 2.0


def project(points_m: np.ndarray, pitch_deg: float) -> np.ndarray:
    """Points (x right, y down, z ahead of a level camera, m) as one shows them that looks down."""
    p = math.radians(pitch_deg)
    x, y, z = np.moveaxis(points_m, -1, 0)
    # Looking down, the camera's own axes are turned about its x axis.
    down, ahead = y * math.cos(p) - z * math.sin(p), y * math.sin(p) + z * math.cos(p)
    return CENTRE + FOCAL * np.stack([x / ahead, down / ahead], axis=-1)


def body() -> np.ndarray:
    rng = np.random.default_rng(5)
    return np.stack(
        [rng.uniform(-1, 1, 40), rng.uniform(-0.2, 1.0, 40), rng.uniform(3.5, 4.5, 40)], axis=-1
    )


@given(st.floats(-25.0, 25.0))
def test_picture_becomes_that_of_a_level_camera(pitch_deg: float) -> None:
    level = Level(math.radians(pitch_deg), FOCAL, CENTRE)
    seen = project(body(), pitch_deg)
    assert level.put(seen) == pytest.approx(project(body(), 0.0), abs=1e-6)
    assert level.back(level.put(seen)) == pytest.approx(seen, abs=1e-6)


def test_level_camera_is_left_alone() -> None:
    points = np.array([[10.0, 20.0], [1000.0, 700.0], [np.nan, np.nan]])
    level = level_by(np.array([400.0, CENTRE[1]]), FOCAL, SIZE)
    assert level.put(points) == pytest.approx(points, nan_ok=True)


def test_pitch_follows_from_where_the_picture_shows_level_directions() -> None:
    # A level direction, however far round, is shown on the horizon: here straight ahead and so.
    side = project(np.array([0.0, 0.0, 1.0]), 8.0)
    level = level_by(side, FOCAL, SIZE)
    assert math.degrees(level.pitch_rad) == pytest.approx(8.0)
    assert level.focal_px == pytest.approx(FOCAL)


@pytest.mark.parametrize("guessed", [0.6, 1.0, 1.5])
def test_uprights_seen_to_converge_need_no_lens(guessed: float) -> None:
    # Two uprights at the picture's edges, as a camera that looks 9° down shows them.
    leans = []
    for x in (0.0, SIZE[0] - 1.0):
        x_m = (x - CENTRE[0]) / FOCAL * 4.0
        low, high = project(np.array([[x_m, 0.7, 4.0], [x_m, 0.5, 4.0]]), 9.0)
        leans.append(math.degrees(math.atan2(high[0] - low[0], low[1] - high[1])))
    side = project(np.array([0.0, 0.0, 1.0]), 3.0)
    level = level_by(side, guessed * FOCAL, SIZE, leans[1] - leans[0], 0.1)
    assert abs(leans[1]) > 5.0
    assert level.lean_deg(leans[1], np.array([SIZE[0] - 1.0, CENTRE[1]])) == pytest.approx(
        0.0, abs=0.5
    )


@pytest.mark.parametrize("x_m", [-0.9, 0.0, 0.7])
def test_upright_that_leans_in_the_picture_stands_upright(x_m: float) -> None:
    ends = project(np.array([[x_m, 0.6, 4.0], [x_m, 0.2, 4.0]]), 9.0)
    (across, down), at_px = ends[1] - ends[0], ends.mean(axis=0)
    lean_deg = math.degrees(math.atan2(across, -down))
    assert abs(lean_deg) > 1.5 or x_m == 0.0
    level = Level(math.radians(9.0), FOCAL, CENTRE)
    assert level.lean_deg(lean_deg, at_px) == pytest.approx(0.0, abs=1e-3)


def test_unknown_lean_stays_unknown() -> None:
    assert math.isnan(Level(0.1, FOCAL, CENTRE).lean_deg(math.nan, CENTRE))


def seen_from_the_side(plane_m: np.ndarray, yaw_deg: float, roll_deg: float) -> np.ndarray:
    """Points of an upright plane 4 m away (right, down, m), the camera yawed, then rolled."""
    y, r = math.radians(yaw_deg), math.radians(roll_deg)
    right, down = plane_m[:, 0], plane_m[:, 1]
    across = right * math.cos(y) - 4.0 * math.sin(y)
    ahead = right * math.sin(y) + 4.0 * math.cos(y)
    seen = FOCAL * np.stack([across / ahead, down / ahead], axis=-1)
    return CENTRE + seen @ np.array([[math.cos(r), math.sin(r)], [-math.sin(r), math.cos(r)]])


@given(st.floats(-20.0, 20.0), st.floats(-5.0, 5.0))
def test_a_plane_seen_askew_becomes_one_seen_square_on(yaw_deg: float, roll_deg: float) -> None:
    """Exact: what is seen square on differs from the plane by one scale and the roll alone."""
    plane = body()[:, :2]
    # The direction straight out of the plane is seen this far from the middle, along the roll.
    r = math.radians(roll_deg)
    rolled = -FOCAL * math.tan(math.radians(yaw_deg)) * np.array([math.cos(r), math.sin(r)])
    level = Level(0.0, FOCAL, CENTRE).square_on(CENTRE + rolled, roll_deg)
    found = level.put(seen_from_the_side(plane, yaw_deg, roll_deg))
    assert found == pytest.approx(seen_from_the_side(plane, 0.0, roll_deg), abs=1e-6)
    assert level.back(found) == pytest.approx(
        seen_from_the_side(plane, yaw_deg, roll_deg), abs=1e-6
    )


def test_askew_a_lying_shank_seems_to_lie_otherwise() -> None:
    """Why it matters: 8° round, a line that lies level a metre below the lens leans by a degree."""
    line = np.array([[0.0, 1.0], [0.4, 1.0]])
    low, high = seen_from_the_side(line, 8.0, 0.0)
    assert abs(math.degrees(math.atan2(high[1] - low[1], high[0] - low[0]))) > 1.0
