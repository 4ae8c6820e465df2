"""Level edges far off: the lean of a rolled camera that goes along with a boat."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.pose.shoreline import shore_lean
from analysis.pose.straight_edges import Edges

SIZE = 960, 540


def level_edges(tilt: float, top: float, bottom: float, count: int = 12, seed: int = 0) -> Edges:
    """Edges between two heights (shares) that fall to the right by `tilt` degrees."""
    rng = np.random.default_rng(seed)
    middle = np.column_stack(
        [rng.uniform(150, 800, count), rng.uniform(top, bottom, count) * SIZE[1]]
    )
    run = np.array([math.cos(math.radians(tilt)), math.sin(math.radians(tilt))])
    half = run * rng.uniform(30, 120, (count, 1))
    return Edges(np.hstack([middle - half, middle + half]), SIZE)


def both(one: Edges, other: Edges) -> Edges:
    return Edges(np.vstack([one.ends_px, other.ends_px]), SIZE)


@given(tilt=st.floats(-8, 8), seed=st.integers(0, 30))
@settings(deadline=None)
def test_rolled_camera(tilt: float, seed: int) -> None:
    edges = level_edges(tilt, 0.1, 0.45, seed=seed)
    found, se_deg = shore_lean(edges, 0.5)
    assert found == pytest.approx(tilt, abs=1e-6)
    assert 0.5 <= se_deg <= 1.0
    turned = Edges(edges.ends_px[:, [2, 3, 0, 1]], SIZE)
    assert shore_lean(turned, 0.5)[0] == pytest.approx(tilt, abs=1e-6)


def test_a_boat_below_the_trunk_has_no_say() -> None:
    shore, boat = level_edges(2.0, 0.1, 0.45), level_edges(5.0, 0.6, 0.95, count=60)
    assert shore_lean(both(shore, boat), 0.5)[0] == pytest.approx(2.0)


def test_trees_and_oars_do_not_pull() -> None:
    shore = level_edges(2.0, 0.1, 0.45)
    clutter = [level_edges(lean, 0.1, 0.45, count=1, seed=int(lean + 20)) for lean in (-9, -5, 7)]
    edges = shore
    for each in clutter:
        edges = both(edges, each)
    assert shore_lean(edges, 0.5)[0] == pytest.approx(2.0)


def test_no_witness() -> None:
    assert math.isnan(shore_lean(Edges(np.empty((0, 4)), SIZE), 0.5)[0])
    assert math.isnan(shore_lean(level_edges(1.0, 0.6, 0.9), 0.5)[0])
    upright = np.array([[100.0 + 30 * i, 50, 102 + 30 * i, 250] for i in range(9)])
    assert math.isnan(shore_lean(Edges(upright, SIZE), 0.5)[0])
    # One short edge in five pictures is no shore.
    one = level_edges(1.0, 0.1, 0.4, count=1)
    assert math.isnan(shore_lean(Edges(one.ends_px, SIZE, 5), 0.5)[0])
    # As many leans as edges: nothing agrees.
    rng = np.random.default_rng(2)
    many = [
        level_edges(a, 0.1, 0.45, count=1, seed=int(rng.integers(99))) for a in range(-12, 12, 3)
    ]
    assert math.isnan(shore_lean(Edges(np.vstack([e.ends_px for e in many]), SIZE), 0.5)[0])
