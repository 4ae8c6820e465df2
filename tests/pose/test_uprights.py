"""Upright edges: the lean of a rolled camera, with perspective, clutter and without a witness."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.pose.straight_edges import Edges, straight_edges
from analysis.pose.uprights import Lean, upright_lean

WIDTH, HEIGHT = 960, 540


def edges(tilt: float, converge: float = 0.0, count: int = 12, seed: int = 0) -> np.ndarray:
    """Edges that lean by ``tilt + converge · (x/W − ½)`` degrees, top to the right."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(0.05, 0.95, count) * WIDTH
    length = rng.uniform(60, 300, count)
    y = rng.uniform(50, 200, count)
    lean = np.radians(tilt + converge * (x / WIDTH - 0.5))
    run = np.column_stack([np.sin(lean), -np.cos(lean)]) * length[:, None]
    middle = np.column_stack([x, y + length / 2])
    return np.hstack([middle - run / 2, middle + run / 2])


def lean_of_edges(ends: np.ndarray, at: float = 0.5, pictures: int = 1) -> Lean:
    """The lean of edges in a picture of the size above."""
    return upright_lean(Edges(ends, (WIDTH, HEIGHT), pictures), at)


@given(tilt=st.floats(-6, 6), seed=st.integers(0, 50))
@settings(deadline=None)
def test_rolled_camera(tilt: float, seed: int) -> None:
    lean = lean_of_edges(edges(tilt, seed=seed))
    # Parallel uprights are none that a camera tipped down sees: they pull a little.
    assert lean.tilt_deg == pytest.approx(tilt, abs=0.15)
    assert abs(lean.converge_deg) < 2 * lean.converge_se_deg
    assert 0.3 <= lean.se_deg < 0.8


def test_order_of_the_ends_does_not_matter() -> None:
    ends = edges(2.0)
    assert lean_of_edges(ends[:, [2, 3, 0, 1]]) == lean_of_edges(ends)


@pytest.mark.parametrize("at", [0.3, 0.5, 0.7])
def test_converging_uprights(at: float) -> None:
    lean = lean_of_edges(edges(1.0, converge=6.0, count=24), at)
    assert lean.tilt_deg == pytest.approx(1.0 + 6.0 * (at - 0.5), abs=0.3)
    assert lean.converge_deg == pytest.approx(6.0, abs=0.5)


def test_uprights_on_one_side_only_widen_the_error() -> None:
    ends = edges(1.0, count=40)
    one_side = ends[ends[:, 0] < 0.25 * WIDTH]
    wide = lean_of_edges(one_side)
    assert wide.se_deg > 1.0
    assert abs(wide.tilt_deg - 1.0) < 2 * wide.se_deg


def test_clutter_does_not_pull() -> None:
    clutter = edges(0.0, converge=90.0, count=8, seed=3) * [1, 1, 1, 1]
    lean = lean_of_edges(np.vstack([edges(2.0, count=16), clutter]))
    assert lean.tilt_deg == pytest.approx(2.0, abs=0.3)


def test_longer_posts_of_machines_are_no_uprights_but_a_rolled_room_is() -> None:
    posts, room = edges(-11.0, count=10, seed=3), edges(2.0, count=7, seed=4)
    assert lean_of_edges(posts).tilt_deg == pytest.approx(-11.0, abs=0.3)
    longer = [np.hypot(e[:, 2] - e[:, 0], e[:, 3] - e[:, 1]).sum() for e in (posts, room)]
    assert longer[0] > 1.1 * longer[1]
    assert lean_of_edges(np.vstack([posts, room])).tilt_deg == pytest.approx(2.0, abs=0.4)
    # Somebody holds the phone badly, and posts stand as true as in a level picture.
    rolled, few = edges(9.0, count=24, seed=4), edges(-2.0, count=6, seed=3)
    assert lean_of_edges(np.vstack([rolled, few])).tilt_deg == pytest.approx(9.0, abs=0.4)


def test_no_witness() -> None:
    assert np.isnan(lean_of_edges(np.zeros((0, 4))).tilt_deg)
    flat = np.array([[100.0, 200, 700, 210]])
    assert np.isnan(lean_of_edges(flat).tilt_deg)
    level = np.array([[100.0 + 9 * i, 20.0 * i, 700, 20.0 * i] for i in range(12)])
    assert np.isnan(lean_of_edges(level).tilt_deg)
    short = edges(1.0)[:1]
    assert np.isnan(lean_of_edges(short).tilt_deg)
    # As many leans as edges: nothing agrees.
    scattered = np.vstack(
        [edges(lean, count=1, seed=i) for i, lean in enumerate(range(-12, 13, 3))]
    )
    assert np.isnan(lean_of_edges(scattered).tilt_deg)
    assert np.isnan(upright_lean(straight_edges([]), 0.5).tilt_deg)
    assert np.isnan(upright_lean(straight_edges([np.full((540, 960), 90, np.uint8)]), 0.5).tilt_deg)


@pytest.mark.parametrize("tilt", [-3.0, 0.0, 2.5])
def test_in_pictures(tilt: float) -> None:
    # A room of panels, rolled about the picture's centre: a clockwise roll by `tilt` (cv2 turns
    # counter-clockwise for positive angles), with somebody moving in front.
    room = np.full((900, 1400), 150, np.uint8)
    for i, x in enumerate(range(0, 1400, 110)):
        room[:, x : x + 60] = 90 + 12 * (i % 5)
    matrix = cv2.getRotationMatrix2D((700, 450), -tilt, 1.0)
    room = cv2.warpAffine(room, matrix, (1400, 900))[180:720, 220:1180]
    rng = np.random.default_rng(0)
    pictures = []
    for i in range(9):
        frame = np.clip(room + rng.normal(0, 3, room.shape), 0, 255).astype(np.uint8)
        cv2.line(frame, (300 + 20 * i, 500), (420 + 20 * i, 100), 20, 40)
        pictures.append(frame)
    lean = upright_lean(straight_edges(pictures), 0.45)
    assert lean.tilt_deg == pytest.approx(tilt, abs=0.15)
    # A mirror image leans the other way.
    mirrored = upright_lean(straight_edges([p[:, ::-1] for p in pictures]), 0.55)
    assert mirrored.tilt_deg == pytest.approx(-tilt, abs=0.3)


def test_wall_seen_only_where_somebody_moves() -> None:
    rng = np.random.default_rng(1)
    door = np.full((540, 960), 150, np.uint8)
    for x in (380, 470, 560):
        cv2.line(door, (x, 520), (x + 21, 120), 90, 14, cv2.LINE_AA)
    pictures = []
    for i in range(9):
        frame = np.clip(door + rng.normal(0, 3, door.shape), 0, 255).astype(np.uint8)
        cv2.line(frame, (330 + 25 * i, 500), (400 + 10 * i, 100), 20, 40)
        pictures.append(frame)
    # By construction the doors lean by atan(21 / 400) = 3.0°.
    assert upright_lean(straight_edges(pictures), 0.5).tilt_deg == pytest.approx(3.0, abs=0.4)


def test_the_same_room_in_many_pictures_is_one_witness() -> None:
    ends = edges(2.0)
    one = lean_of_edges(ends)
    five = lean_of_edges(np.tile(ends, (5, 1)), pictures=5)
    assert five.tilt_deg == pytest.approx(one.tilt_deg, abs=0.01)
    assert five.se_deg == pytest.approx(one.se_deg, abs=0.05)


#: Pictures of one room in the tests below, and how far it is shifted in each, px.
MANY, MOVED = 5, np.array([[0.0, 0.0], [6.0, -3.0], [-9.0, 4.0], [14.0, 8.0], [-3.0, -11.0]])


def room_and_people(
    lean_deg: float, heights: float, *, moved: bool = True, known: bool = True
) -> Edges:
    """Two edges of a room, `heights` of a picture in all, and in each picture many of people.

    People's lean this way and that, and lie elsewhere in every picture.
    """
    ends, picture = [], []
    for n in range(MANY):
        room = edges(lean_deg, converge=3.0, count=2, seed=1)
        middle = (room[:, :2] + room[:, 2:]) / 2
        half = (room[:, 2:] - room[:, :2]) / 2
        half *= heights / 2 * HEIGHT / (2 * np.linalg.norm(half, axis=1, keepdims=True))
        shift = np.tile(MOVED[n], 2) if moved else 0.0
        ends.append(np.hstack([middle - half, middle + half]) + shift)
        for k in range(14):
            one = edges(-11.0 + 22.0 * k / 13, count=1, seed=100 * n + k)
            ends.append(one * [1.0, 0.4, 1.0, 0.4])
        picture += [n] * (len(room) + 14)
    at = np.array(picture)
    shifts = MOVED if moved and known else np.zeros_like(MOVED)
    return Edges(np.vstack(ends), (WIDTH, HEIGHT), MANY, at, shifts)


@pytest.mark.parametrize("lean_deg", [-3.0, 1.0, 4.0])
@pytest.mark.parametrize("moved", [False, True])
def test_few_uprights_are_told_from_people_by_staying(lean_deg: float, moved: bool) -> None:
    found = upright_lean(room_and_people(lean_deg, 0.4, moved=moved), 0.5)
    assert found.tilt_deg == pytest.approx(lean_deg, abs=0.3)
    # They may be parts of a machine: less sure than a room full of uprights.
    assert found.se_deg > 0.6


def test_what_stays_is_told_in_the_room_not_in_the_picture() -> None:
    shaken = room_and_people(1.0, 0.4, known=False)
    assert np.isnan(upright_lean(shaken, 0.5).tilt_deg)


def test_too_little_that_stays_tells_nothing() -> None:
    assert np.isnan(upright_lean(room_and_people(1.0, 0.2), 0.5).tilt_deg)


def test_a_few_leaning_legs_are_no_uprights() -> None:
    """Legs of machines lean by more than a phone that somebody means to hold level."""
    assert np.isnan(upright_lean(room_and_people(8.0, 0.4), 0.5).tilt_deg)


def test_a_room_full_of_uprights_is_told_as_without_knowing_which_stay() -> None:
    ends = np.tile(edges(2.0), (MANY, 1))
    picture = np.repeat(np.arange(MANY), len(ends) // MANY)
    known = Edges(ends, (WIDTH, HEIGHT), MANY, picture, np.zeros_like(MOVED))
    assert upright_lean(known, 0.5) == lean_of_edges(ends, pictures=MANY)


def test_edges_know_their_picture_and_how_it_moved() -> None:
    picture = np.full((540, 960), 150, np.uint8)
    cv2.line(picture, (300, 100), (300, 400), 40, 12)
    right = np.roll(picture, 10, axis=1)
    found = straight_edges([picture, right], np.array([[0.0, 0.0], [10.0, 0.0]]))
    rest = found.at_rest_px
    assert rest is not None and found.picture is not None
    long = np.abs(rest[:, 3] - rest[:, 1]) > 200
    assert set(found.picture[long].tolist()) == {0, 1}
    first, second = (np.sort(rest[long & (found.picture == n)][:, 0]) for n in (0, 1))
    np.testing.assert_allclose(first, second, atol=0.2)
    assert straight_edges([picture]).at_rest_px is None
