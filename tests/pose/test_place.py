"""Where the followed person is between looks, and a crop with nobody else in it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.people import TORSO
from analysis.pose.place import Place
from tests.pose import made_people as made

TIMES = np.arange(0, 6, 0.25)


def test_distance_in_trunk_lengths() -> None:
    people = [made.person(made.rowing(t), stature_px=300.0) for t in TIMES]
    place = Place.of(made.track(TIMES, [p if i % 3 else None for i, p in enumerate(people)]))
    trunk_px = 0.288 * 300
    assert place.trunk_px == pytest.approx(trunk_px)
    own = people[4].xy_px[TORSO]
    assert place.off_by(own, 1.0) == pytest.approx(0.0, abs=1e-9)
    assert place.off_by(own + np.array([trunk_px, 0.0]), 1.0) == pytest.approx(1.0)
    # Between looks: straight lines stray little from a rower's torso.
    for t in np.arange(0.5, 5.0, 0.04):
        torso = made.person(made.rowing(t), stature_px=300.0).xy_px[TORSO]
        assert place.off_by(torso, float(t)) < 0.2


def test_only_the_person_is_left() -> None:
    one = made.person(made.rowing(0.0))
    place = Place.of(made.track(TIMES, [one] * len(TIMES)))
    square = (200.0, 100.0, 400.0)
    alone = place.alone(np.full((200, 200, 3), 90, np.uint8), 1.0, square)
    kept = np.argwhere(alone[..., 0] > 0)[:, ::-1] * 2.0 + square[:2]
    room = 0.35 * place.trunk_px
    low, high = np.maximum(one.box_px[:2] - room, square[:2]), one.box_px[2:] + room
    assert kept.min(axis=0) == pytest.approx(low, abs=4)
    assert kept.max(axis=0) == pytest.approx(np.minimum(high, [600, 500]), abs=4)
