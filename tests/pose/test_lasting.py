"""Edges in the same place in most pictures, whichever way they run. Values follow from the rule."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.pose.lasting import LASTS_DEG, found_in, lasting


def edge(way_deg: float, aside: float = 0.0, onward: float = 0.0, length: float = 100.0):
    """One edge about (300, 200), px [shape=(4,)]."""
    way = np.array([np.cos(np.radians(way_deg)), np.sin(np.radians(way_deg))])
    middle = np.array([300.0, 200.0]) + onward * way + aside * np.array([-way[1], way[0]])
    return np.concatenate([middle - length / 2 * way, middle + length / 2 * way])


@given(st.floats(0.0, 360.0), st.booleans())
def test_same_place_whichever_way_it_runs(way_deg: float, turned_round: bool) -> None:
    there = edge(way_deg)[None]
    again = edge(way_deg, aside=1.0)[None]
    again = again[:, [2, 3, 0, 1]] if turned_round else again
    assert found_in(there, again, 2.0).all()


@pytest.mark.parametrize(
    ("other", "found"),
    [
        (edge(30.0 + 0.8 * LASTS_DEG), True),
        (edge(30.0 + 1.2 * LASTS_DEG), False),
        (edge(30.0, aside=2.5), False),
        (edge(30.0, onward=70.0, length=60.0), False),
        (edge(30.0, onward=60.0, length=60.0), True),
        (edge(120.0), False),
    ],
)
def test_turned_beside_or_beyond(other: np.ndarray, found: bool) -> None:
    # Beyond: the middle lies past the other's end by more than a quarter of its own length.
    assert found_in(edge(30.0)[None], other[None], 2.0).tolist() == [found]


def test_most_pictures_and_more_than_one() -> None:
    ends = np.array([edge(10.0)] * 3 + [edge(80.0)] * 2)
    picture = np.array([0, 1, 3, 0, 4])
    assert lasting(ends, picture, 5, 2.0).tolist() == [True] * 3 + [False] * 2
    assert not lasting(ends[:1], np.array([0]), 1, 2.0).any()
