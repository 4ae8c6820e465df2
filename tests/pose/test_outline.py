"""Outlines: exact on shapes whose outline is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.pose.landmarkers import MEDIAPIPE_NAMES, near_skeleton
from analysis.pose.outline import bulges, outline, resample, signed_area
from analysis.pose.track import OUTLINE_POINTS


def disc(centre: tuple[float, float], radius: float, shape: tuple[int, int]) -> np.ndarray:
    """Mask that falls linearly through 0.5 at the circle, over 4 px."""
    y, x = np.mgrid[: shape[0], : shape[1]]
    away = np.hypot(x - centre[0], y - centre[1])
    return np.clip(0.5 + (radius - away) / 4, 0, 1).astype(np.float32)


@given(x=st.floats(60, 90), y=st.floats(50, 70), radius=st.floats(20, 45))
def test_circle(x: float, y: float, radius: float) -> None:
    line = outline(disc((x, y), radius, (120, 160)))
    assert line.shape == (OUTLINE_POINTS, 2)
    away = np.hypot(*(line - (x, y)).T)
    # Chords of the pixel grid cut the circle by at most 1/(8 r) px; interpolation adds little.
    assert away == pytest.approx(radius, abs=0.05)
    # Evenly spaced: each step is a 256th of the circumference, 2 π r.
    steps = np.linalg.norm(np.diff(np.vstack([line, line[:1]]), axis=0), axis=1)
    assert steps == pytest.approx(2 * np.pi * radius / OUTLINE_POINTS, rel=0.03)
    assert signed_area(line) == pytest.approx(np.pi * radius**2, rel=0.01)


def test_resampled_rectangle_is_exact() -> None:
    # 60 × 20: perimeter 160, sixteen steps of 10, from the upper left corner clockwise.
    corners = np.array([[0.0, 20], [60, 20], [60, 0], [0, 0]])
    expected = (
        [(10.0 * i, 0.0) for i in range(6)]
        + [(60.0, 10.0 * i) for i in range(2)]
        + [(60.0 - 10.0 * i, 20.0) for i in range(6)]
        + [(0.0, 20.0 - 10.0 * i) for i in range(2)]
    )
    for line in (corners, corners[::-1]):
        start = np.roll(line, -int(np.flatnonzero((line == 0).all(axis=1))[0]), axis=0)
        assert resample(start, 16) == pytest.approx(np.array(expected))
        assert resample(np.vstack([start, start[:1]]), 16) == pytest.approx(np.array(expected))


def test_sharp_rectangle_lies_between_pixels() -> None:
    mask = np.zeros((40, 50), np.float32)
    mask[10:30, 5:45] = 1
    line = outline(mask)
    # Half-way between the last pixel outside and the first inside.
    assert line.min(axis=0) == pytest.approx([4.5, 9.5])
    assert line.max(axis=0) == pytest.approx([44.5, 29.5])


def test_body_that_leaves_the_picture() -> None:
    mask = np.zeros((40, 50), np.float32)
    mask[20:, 10:30] = 1
    line = outline(mask)
    assert np.isfinite(line).all()
    assert line[:, 1].max() == pytest.approx(39.5)


def test_the_part_that_holds_the_athlete() -> None:
    both = disc((30, 40), 12, (100, 160)) + disc((110, 50), 30, (100, 160))
    largest = outline(both)
    assert largest.mean(axis=0) == pytest.approx([110, 50], abs=1)
    held = outline(both, np.array([[30.0, 40], [33, 42], [28, 38], [31, 35]]))
    assert held.mean(axis=0) == pytest.approx([30, 40], abs=1)


def test_hole_does_not_count() -> None:
    ring = disc((80, 60), 40, (120, 160)) - disc((80, 60), 15, (120, 160))
    line = outline(ring, np.array([[80.0, 60.0]]))
    assert np.hypot(*(line - (80, 60)).T) == pytest.approx(40, abs=0.1)


def test_nothing_there() -> None:
    assert np.isnan(outline(np.full((30, 30), 0.4, np.float32))).all()
    assert np.isnan(outline(np.zeros((30, 30), np.float32))).all()


@pytest.mark.parametrize("facing", ["left", "right"])
def test_somebody_behind_the_back_bulges(facing: str) -> None:
    # A trunk 100 px long leaning 20° forward, its back 25 px behind; in frame 3 somebody adds 30.
    sign = 1.0 if facing == "right" else -1.0
    up = np.array([sign * np.sin(np.radians(20)), -np.cos(np.radians(20))])
    back = np.array([-sign * np.cos(np.radians(20)), -np.sin(np.radians(20))])
    hip = np.tile([300.0, 400.0], (5, 1))
    shoulder = hip + 100 * up
    levels = np.linspace(-0.3, 1.2, 40)[:, None] * 100
    line = np.vstack([hip[0] + levels * up + 25 * back, hip[0] + levels[::-1] * up - 30 * back])
    lines = np.tile(line, (5, 1, 1))
    lines[3, 24:36] += 30 * back
    lines[1] = np.nan
    found = bulges(lines, hip, shoulder, facing)  # type: ignore[arg-type]
    assert np.isnan(found[1])
    assert found[[0, 2, 4]] == pytest.approx(0.0, abs=1e-9)
    assert found[3] == pytest.approx(0.30)


def test_reach_of_a_body() -> None:
    # Everybody's landmarks in one spot but for a trunk of 100 px: what is within 58 px counts.
    xy = np.full((33, 2), 200.0)
    for name in ("left_hip", "right_hip"):
        xy[MEDIAPIPE_NAMES.index(name)] = (200, 300)
    reach = near_skeleton(xy, 400)
    assert reach[250, 200 - 55] == reach[250, 200 + 55] == 1
    assert reach[250, 200 - 62] == reach[250, 200 + 62] == 0
    assert reach[120, 200] == 0 and reach[150, 200] == 1
