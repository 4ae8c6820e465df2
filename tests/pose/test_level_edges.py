"""Level edges that last. Expected values are the edges that the pictures were made of."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.level_edges import MOST, level_edges
from analysis.pose.straight_edges import Edges

SIZE, PICTURES = (960, 540), 5
RAIL = np.array([200.0, 400.0, 700.0, 410.0])
MOVED = np.array([[0.0, 0.0], [3.0, -1.0], [1.0, 2.0], [-2.0, 0.0], [4.0, 1.0]])


def pictures(*in_each: list[np.ndarray], moved: np.ndarray | None = None) -> Edges:
    """Edges of five pictures, and how far the surroundings are shifted in each."""
    moved = np.zeros((PICTURES, 2)) if moved is None else moved
    ends = np.array([edge for edges in in_each for edge in edges])
    picture = np.repeat(np.arange(PICTURES), [len(edges) for edges in in_each])
    return Edges(ends + np.tile(moved, 2)[picture], SIZE, PICTURES, picture, moved)


def test_an_edge_that_lasts_is_there_once_as_long_as_it_was_ever_seen() -> None:
    part = np.array([200.0, 400.0, 450.0, 405.0])
    found = level_edges(pictures([part], [RAIL], [part], [RAIL], [part]))
    assert found == pytest.approx(RAIL[None])


def test_camera_that_shakes_is_held_still_first() -> None:
    found = level_edges(pictures(*[[RAIL]] * PICTURES, moved=MOVED))
    assert found == pytest.approx(RAIL[None])


def test_who_moves_is_left_out() -> None:
    legs = [[RAIL, [300.0 + 40.0 * n, 300.0, 380.0 + 40.0 * n, 308.0]] for n in range(PICTURES)]
    assert level_edges(pictures(*legs)) == pytest.approx(RAIL[None])


def test_uprights_steep_edges_and_short_ones_are_left_out() -> None:
    steep, upright = [100.0, 100.0, 300.0, 160.0], [500.0, 50.0, 503.0, 300.0]
    short = [100.0, 300.0, 130.0, 300.0]
    assert not len(level_edges(pictures(*[[steep, upright, short]] * PICTURES)))


def test_of_many_the_longest_are_kept() -> None:
    rows = [np.array([100.0, 4.0 * n, 200.0 + n, 4.0 * n]) for n in range(MOST + 20)]
    found = level_edges(pictures(*[rows] * PICTURES))
    assert found == pytest.approx(np.array(rows[: -MOST - 1 : -1]))


def test_pictures_that_are_not_told_apart_give_none() -> None:
    assert level_edges(Edges(RAIL[None], SIZE)).shape == (0, 4)
