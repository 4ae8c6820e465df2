"""Where the followed person is between looks, and a crop with nobody else in it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.people import HIPS, TORSO
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


def test_somebody_elses_shoulders_on_the_persons_own_hips_are_off_by_as_much_as_they_look() -> None:
    person = made.person(made.rowing(1.0), stature_px=300.0)
    place = Place.of(made.track(TIMES, [person] * len(TIMES)))
    mixed = person.xy_px[TORSO].copy()
    mixed[:2, 0] += 0.9 * place.trunk_px
    assert place.off_by(mixed, 1.0) == pytest.approx(0.9)


def test_a_look_that_took_two_people_for_one_does_not_count() -> None:
    people = [made.person(made.rowing(t), stature_px=300.0) for t in TIMES]
    whole = Place.of(made.track(TIMES, people))
    people[4].xy_px[HIPS] -= [1.2 * whole.trunk_px, 0.0]  # the hips of somebody beside
    place = Place.of(made.track(TIMES, people))
    assert TIMES[4] in whole.t_s and TIMES[4] not in place.t_s
    assert place.off_by(made.person(made.rowing(1.0), stature_px=300.0).xy_px[TORSO], 1.0) < 0.3


def test_of_looks_that_all_differ_the_most_usual_is_kept() -> None:
    small, large = (made.person(made.rowing(0.0), stature_px=s) for s in (100.0, 400.0))
    place = Place.of(made.track(TIMES[:2], [small, large]))
    assert len(place.t_s) >= 1 and np.isfinite(place.ends_at(0.1)).all()
