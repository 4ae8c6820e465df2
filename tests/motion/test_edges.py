"""Depth under the outline, and the fit that holds joints to it. Shapes are made here."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.edges import EDGES, Depth, Silhouette, depth_px
from analysis.motion.fit import FITTED, fit_rower
from tests.motion.made_rower import knee_of, planar_rower, uneven_times

#: A closed square, 40 px wide, about (0, 0).
SQUARE = np.array([[-20.0, -20.0], [20.0, -20.0], [20.0, 20.0], [-20.0, 20.0]])


def one(point: tuple[float, float], towards: tuple[float, float], most_px: float = 30.0):  # type: ignore[no-untyped-def]
    depth, slope = depth_px(
        SQUARE[None], np.array([point], float), np.array([towards], float), most_px, 10.0
    )
    return float(depth[0]), slope[0]


def test_depth_is_the_way_to_the_side_ahead() -> None:
    depth, slope = one((5.0, 3.0), (1.0, 0.0))
    assert depth == pytest.approx(15.0)
    # One px further towards the side is one px less deep; along the side nothing changes.
    assert slope == pytest.approx([-1.0, 0.0])


def test_slope_is_how_depth_changes_along_a_slanting_direction() -> None:
    towards = np.array([0.8, 0.6])
    here, slope = one((0.0, 0.0), (0.8, 0.6))
    assert here == pytest.approx(20.0 / 0.8)
    for axis, step in enumerate(np.eye(2) * 0.01):
        there, _ = one(tuple(step), tuple(towards))  # type: ignore[arg-type]
        assert (there - here) / 0.01 == pytest.approx(slope[axis], abs=1e-6)


def test_skin_too_far_away_is_another_joints() -> None:
    assert np.isnan(one((5.0, 3.0), (1.0, 0.0), most_px=10.0)[0])


def test_point_just_outside_has_a_negative_depth_and_far_outside_none() -> None:
    # The joint may lie outside by a twentieth of the trunk's 10 px.
    assert one((20.4, 0.0), (1.0, 0.0))[0] == pytest.approx(-0.4)
    assert np.isnan(one((21.0, 0.0), (1.0, 0.0))[0])


def test_outline_that_runs_along_the_direction_says_nothing() -> None:
    # Five degrees off the side's own direction: its sine, 0.09, is below what counts.
    lean = np.radians(5.0)
    assert np.isnan(one((19.0, 0.0), (np.sin(lean), np.cos(lean)))[0])


def test_no_outline_no_depth() -> None:
    depth, slope = depth_px(
        np.full((2, 8, 2), np.nan), np.zeros((2, 2)), np.tile([1.0, 0.0], (2, 1)), 30.0, 10.0
    )
    assert np.isnan(depth).all() and not slope.any()


def test_long_clips_are_worked_on_in_parts_without_a_seam() -> None:
    points = np.column_stack([np.linspace(-10, 10, 1234), np.zeros(1234)])
    depth, _ = depth_px(
        np.tile(SQUARE, (1234, 1, 1)), points, np.tile([1.0, 0.0], (1234, 1)), 60.0, 10.0
    )
    assert depth == pytest.approx(20.0 - points[:, 0])


def skin(place: np.ndarray, depth_px: float) -> np.ndarray:
    """A box about the trunk [shape=(T, 4, 2)] whose rear and foot lie so deep about the hip."""
    hip, shoulder = (place[:, FITTED.index(name)] for name in ("hip", "shoulder"))
    up = (shoulder - hip) / np.linalg.norm(shoulder - hip, axis=1, keepdims=True)
    rear = np.stack([-up[:, 1], up[:, 0]], axis=1)
    low, high = hip - depth_px * up, shoulder + 20.0 * up
    return np.stack(
        [low + depth_px * rear, high + depth_px * rear, high - 40 * rear, low - 40 * rear], axis=1
    )


@pytest.mark.parametrize("nearer", [0.0, 0.05])
def test_hip_that_wanders_in_the_flesh_is_held_by_the_skin(nearer: float) -> None:
    """Landmarks of the hip drift forward at full compression; the seat of the trousers does not.

    With `nearer` the outline is seen magnified about a point, as a near side is.
    """
    t_s = uneven_times()
    truth = planar_rower(t_s)
    seen = truth[None].copy()
    bent = knee_of(truth) < np.percentile(knee_of(truth), 40)
    seen[0, bent, FITTED.index("hip")] += [7.0, 3.0]
    # Skin 25 px deep, where 22 px of 110 px of trunk are usual: bodies differ.
    side = np.array([-40.0, 60.0])
    outline = side + (skin(truth, 25.0) - side) / (1.0 - nearer)
    every = np.arange(len(t_s))
    shares, sides = np.full((len(t_s), 6), nearer), np.tile(side, (len(t_s), 1))
    silhouette = Silhouette(every, outline, shares, sides)
    usual = {
        name: Depth(np.array([40.0, 180.0]), np.array([0.2, 0.2]), 0.005, 0.03)
        for name in EDGES
        if name.startswith("hip")
    }
    spread = np.full((1, len(t_s), 6), 3.0)
    held = fit_rower(t_s, seen, spread, silhouette=silhouette, depths=usual)
    free = fit_rower(t_s, seen, spread)

    def wanders_px(place: np.ndarray) -> float:
        off = place[:, FITTED.index("hip")] - truth[:, FITTED.index("hip")]
        return float(np.linalg.norm(off[bent].mean(axis=0) - off[~bent].mean(axis=0)))

    assert wanders_px(held.place_px) < 0.4 * wanders_px(free.place_px)


def test_frames_without_an_outline_are_left_to_the_rest() -> None:
    t_s = uneven_times(60)
    truth = planar_rower(t_s)
    none = np.zeros(0, dtype=int), np.zeros((0, 4, 2))
    silhouette = Silhouette(*none, np.zeros((60, 6)), np.zeros((60, 2)))
    usual = {"hip to the rear": Depth(np.array([40.0, 180.0]), np.array([0.2, 0.2]), 0.005, 0.03)}
    spread = np.full((1, 60, 6), 2.0)
    with_none = fit_rower(t_s, truth[None], spread, silhouette=silhouette, depths=usual)
    assert with_none.place_px == pytest.approx(fit_rower(t_s, truth[None], spread).place_px)
