"""Harder company: a rower behind a rower, a coach who stops in front, somebody who mimics."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.linking import PersonTrack, link
from analysis.pose.people import Person, overlap
from analysis.pose.rower import choose, evidence
from tests.pose import made_people as made

TIMES = np.arange(0, 14, 0.25)


def hips(track: PersonTrack) -> np.ndarray:
    return track.xy_px[:, 11:13].mean(axis=1)


def torso_gap(a: Person, b: Person) -> float:
    return float(np.linalg.norm(a.xy_px[[5, 6, 11, 12]] - b.xy_px[[5, 6, 11, 12]], axis=1).mean())


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("far_spm", [24.0, 27.0], ids=["in step", "out of step"])
def test_machines_side_by_side_overlapping_in_depth(seed: int, far_spm: float) -> None:
    rng = np.random.default_rng(seed)
    frames, hidden = [], np.zeros(len(TIMES), bool)
    for index, t in enumerate(TIMES):
        near = made.person(made.rowing(t), noise_px=3.0, rng=rng)
        far = made.person(
            made.rowing(t + 0.4, spm=far_spm),
            stature_px=225.0,
            at_px=(455.0, 372.0),
            noise_px=3.0,
            rng=rng,
        )
        # The finder sees one body where two torsos all but coincide: the nearer one.
        hidden[index] = torso_gap(near, far) < 40.0
        people = [near] if hidden[index] or rng.random() < 0.15 else [near, far]
        rng.shuffle(people)  # type: ignore[arg-type]
        frames.append(people)
    assert hidden.any() and not hidden.all()
    tracks = link(TIMES, frames)
    nearest = tracks[choose(tracks, "nearest")[0]]
    assert nearest.seen.mean() > 0.95
    # The nearer one's feet are fixed, 28 px below the farther one's; nothing of the other is in it.
    ankles = nearest.xy_px[nearest.seen][:, [15, 16]].mean(axis=1)
    assert np.abs(ankles - [480.0, 400.0]).max() < 15.0
    for track in tracks:
        ankles_y = track.xy_px[track.seen][:, [15, 16], 1].mean(axis=1)
        assert np.ptp(ankles_y) < 15.0  # one person throughout


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("on", [True, False], ids=["goes on", "turns back"])
def test_coach_stops_between_camera_and_rower(seed: int, on: bool) -> None:
    rng = np.random.default_rng(seed)
    frames, hidden = [], np.zeros(len(TIMES), bool)
    for index, t in enumerate(TIMES):
        rower = made.person(made.rowing(t), noise_px=3.0, rng=rng)
        # Comes in, stands in front of the rower from 5 s to 6.5 s, and leaves.
        way = np.interp(t, [0, 5, 6.5, 11.5], [-330.0, 0.0, 0.0, 330.0 if on else -330.0])
        act = made.walking(t if not 5 <= t <= 6.5 else 5.0, speed=0.0)
        coach = made.person(
            {name: place + np.array([2.0, 0.0]) for name, place in act.items()},
            noise_px=3.0,
            rng=rng,
            stature_px=330.0,
            at_px=(390.0 + way, 410.0),
        )
        hidden[index] = overlap(rower.box_px, coach.box_px) > 0.45
        people = [coach] if hidden[index] else [rower, coach]
        rng.shuffle(people)  # type: ignore[arg-type]
        frames.append(people)
    assert 6 <= hidden.sum() <= 20  # for a second and a half at least
    tracks = link(TIMES, frames)
    rower = tracks[choose(tracks)[0]]
    assert rower.seen[~hidden].mean() > 0.95
    assert np.ptp(hips(rower)[rower.seen], axis=0).max() < 0.22 * 300 + 25
    # Whoever stands is never the rower: hips of a standing coach are 150 px higher.
    assert not (hips(rower)[rower.seen, 1] < 400 - 100).any()
    assert rower.unsure[(TIMES >= 5) & (TIMES <= 6.5)].all()
    assert rower.unsure[hidden].mean() > 0.8


def mimicking(t_s: float, seated: bool) -> dict:
    """Somebody who makes a rower's strokes with trunk and arms, on their feet or on a chair."""
    act = made.rowing(t_s, slide=0.0)
    up = np.array([0.0, 0.22 if seated else 0.44])
    hip = act["hip"].copy()
    moved = {name: place - hip + up for name, place in act.items()}
    moved["knee"] = up + ([0.24, -0.02] if seated else [0.02, -0.22])
    moved["ankle"] = up + ([0.22, -0.24] if seated else [0.0, -0.44])
    return moved


@pytest.mark.parametrize("seated", [False, True], ids=["standing", "on a chair"])
@pytest.mark.parametrize("where", [-130.0, 170.0], ids=["behind the back", "before the feet"])
def test_somebody_mimics_the_stroke_beside_the_rower(seated: bool, where: float) -> None:
    rng = np.random.default_rng(1)
    frames = []
    for t in TIMES:
        rower = made.person(made.rowing(t), noise_px=3.0, rng=rng)
        mimic = made.person(
            mimicking(t, seated),
            noise_px=3.0,
            rng=rng,
            stature_px=360.0,
            at_px=(340.0 + where, 430.0),
        )
        people = [rower, mimic]
        rng.shuffle(people)  # type: ignore[arg-type]
        frames.append(people)
    tracks = link(TIMES, frames)
    assert len(tracks) == 2
    # The mimic is larger and as busy with the hands, and yet the rower is followed.
    rower = tracks[choose(tracks, "nearest")[0]]
    assert np.ptp(hips(rower)[:, 0]) > 40
    other = next(t for t in tracks if t is not rower)
    found = evidence(other)
    assert not found.rows and found.cycles >= 3
    assert np.ptp(hips(other)[other.seen], axis=0).max() < 25
