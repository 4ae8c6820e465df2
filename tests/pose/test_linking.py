"""Identities: people who cross, hide and come back keep their own track."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.pose.growing import Growing, joined
from analysis.pose.linking import link
from analysis.pose.people import Person, overlap, without_doubles
from tests.pose import made_people as made

TIMES = np.arange(0, 12, 0.25)


def hips_x(track_xy: np.ndarray) -> np.ndarray:
    return track_xy[:, 11:13, 0].mean(axis=1)


def scene(hidden: bool, seed: int = 5, speed: float = 0.3) -> tuple[list[list[Person]], np.ndarray]:
    """A rower, and a coach who walks across in front, left to right; True where they overlap."""
    rng = np.random.default_rng(seed)
    frames, crossing = [], np.zeros(len(TIMES), bool)
    for index, t in enumerate(TIMES):
        rower = made.person(made.rowing(t), noise_px=3.0, rng=rng)
        coach = made.person(
            made.walking(t, speed=speed), noise_px=3.0, rng=rng, at_px=(400.0, 400.0)
        )
        crossing[index] = overlap(rower.box_px, coach.box_px) > 0.45
        people = [coach, rower]
        if hidden and crossing[index]:
            people = [coach]
        rng.shuffle(people)  # type: ignore[arg-type]
        frames.append(people)
    return frames, crossing


@pytest.mark.parametrize("hidden", [False, True], ids=["seen through", "hidden"])
@pytest.mark.parametrize("seed", range(6))
def test_crossing_people_keep_their_identity(hidden: bool, seed: int) -> None:
    frames, crossing = scene(hidden, seed)
    assert 3 <= crossing.sum() <= 10  # they do cross, for up to 2.5 s
    tracks = link(TIMES, frames)
    assert len(tracks) == 2
    spread = [np.nanstd(hips_x(t.xy_px)) for t in tracks]
    rower, coach = tracks[int(np.argmin(spread))], tracks[int(np.argmax(spread))]
    # The rower's hips stay within the slide, 0.22 of 300 px; the coach walks 0.3 statures a s.
    seen = rower.seen
    assert np.ptp(hips_x(rower.xy_px)[seen]) < 0.22 * 300 + 25
    assert seen.sum() >= len(TIMES) - crossing.sum()
    walked = np.polyfit(TIMES[coach.seen], hips_x(coach.xy_px)[coach.seen], 1)[0]
    assert walked == pytest.approx(0.3 * 300, rel=0.05)
    # Unsure where one hides the other, sure when they are far apart.
    if hidden:
        assert rower.unsure[crossing].all()
    assert not rower.unsure[np.abs(TIMES - TIMES[crossing].mean()) > 4.0].any()


def test_side_by_side_is_not_unsure() -> None:
    frames = [
        [
            made.person(made.rowing(t)),
            made.person(made.rowing(t + 0.4), at_px=(540.0, 360.0), stature_px=260.0),
        ]
        for t in TIMES
    ]
    tracks = link(TIMES, frames)
    assert len(tracks) == 2
    assert not any(t.unsure.any() for t in tracks)


def test_two_who_walk_through_each_other() -> None:
    rng = np.random.default_rng(0)
    frames = []
    for t in TIMES:
        right = made.person(made.walking(t, speed=0.3), noise_px=3.0, rng=rng, at_px=(900.0, 400.0))
        left = made.person(
            made.walking(t, speed=0.3), noise_px=3.0, rng=rng, at_px=(300.0, 410.0), facing=-1.0
        )
        frames.append([right, left] if rng.random() < 0.5 else [left, right])
    tracks = link(TIMES, frames)
    assert len(tracks) == 2
    speeds = sorted(np.polyfit(TIMES[t.seen], hips_x(t.xy_px)[t.seen], 1)[0] for t in tracks)
    assert speeds == pytest.approx([-90, 90], abs=8)


@pytest.mark.parametrize("later_s", [0.3, 0.7, 1.1])
def test_hips_tell_a_rower_whose_shoulders_are_half_a_neighbours(later_s: float) -> None:
    """At releases right before a neighbour, whose shirt is seen; they are not found apart."""
    red, purple = np.array([180.0, 60.0, 60.0]), np.array([120.0, 60.0, 120.0])
    frames, mixed = [], 0
    for index, t in enumerate(TIMES):
        own = made.person(made.rowing(t))
        neighbour = made.person(made.rowing(t + later_s), at_px=(500.0, 360.0), stature_px=280.0)
        people = [replace(own, colour=red), replace(neighbour, colour=purple)]
        if index > 8 and abs((t + 1.25) % 2.5 - 1.25) < 0.4:  # releases, 24 strokes a minute
            xy = own.xy_px.copy()
            xy[:11] += 0.5 * (neighbour.xy_px[:11] - xy[:11])
            people = [replace(own, xy_px=xy, colour=purple)]
            mixed += 1
        frames.append(people)
    tracks = link(TIMES, frames)
    assert [int(track.seen.sum()) for track in tracks] == [len(TIMES), len(TIMES) - mixed]
    assert np.ptp(hips_x(tracks[0].xy_px)) < 0.22 * 300 + 1  # the slide


def test_panning_camera_keeps_the_rower() -> None:
    frames = [[made.person(made.rowing(t), at_px=(300.0 + 80.0 * t, 400.0))] for t in TIMES]
    tracks = link(TIMES, frames)
    assert len(tracks) == 1 and tracks[0].seen.all()


def test_glimpses_and_unsure_detections_are_no_people() -> None:
    glimpse = [[made.person(made.walking(0.0))] if i < 2 else [] for i in range(len(TIMES))]
    assert link(TIMES, glimpse) == []
    faint = [[made.person(made.rowing(t), score=0.15)] for t in TIMES]
    assert link(TIMES, faint) == []


def test_nobody() -> None:
    assert link(TIMES, [[] for _ in TIMES]) == []
    assert link(np.zeros(0), []) == []


def test_double_detections_of_one_body() -> None:
    one = made.person(made.rowing(0.0))
    again = Person(one.box_px + 4, one.xy_px + 5, one.score, 0.3)
    other = made.person(made.rowing(0.0), at_px=(700.0, 400.0))
    assert without_doubles([one, again, other]) == [one, other]


def test_overlap_of_boxes() -> None:
    whole = np.array([0.0, 0, 10, 10])
    assert overlap(whole, np.array([5.0, 0, 15, 10])) == pytest.approx(0.5)
    assert overlap(whole, np.array([2.0, 2, 4, 4])) == 1.0
    assert overlap(whole, np.array([20.0, 0, 30, 10])) == 0.0


def test_jerked_camera_keeps_two_who_sit_close() -> None:
    # Two in one boat, 0.33 statures apart; every second or so the picture jumps by as much.
    rng = np.random.default_rng(2)
    shift = np.cumsum(np.where(rng.random((len(TIMES), 1)) < 0.25, 1, 0) * [100.0, 10.0], axis=0)
    frames = [
        [made.person(made.rowing(t), at_px=(x + dx, 400.0 + dy)) for x in (300.0, 400.0)]
        for t, (dx, dy) in zip(TIMES, shift, strict=True)
    ]
    tracks = link(TIMES, frames, shift)
    assert len(tracks) == 2 and all(t.seen.all() for t in tracks)
    for track in tracks:
        assert np.ptp(hips_x(track.xy_px) - shift[:, 0]) < 0.22 * 300 + 1


def test_rower_hidden_for_long_is_the_same_one() -> None:
    frames = [[] if 4.0 < t < 8.0 else [made.person(made.rowing(t))] for t in TIMES]
    tracks = link(TIMES, frames)
    assert len(tracks) == 1
    assert tracks[0].seen.sum() == sum(bool(people) for people in frames)


def test_releases_seen_as_somebody_else_are_the_rowers_own() -> None:
    """Few looks a stroke: from one to the next the trunk swings further than one body goes."""
    times = np.arange(0, 8, 0.27)
    people = [made.person(made.rowing(t, spm=26.0)) for t in times]
    # One release's looks became a track of their own, as where the camera is jerked.
    lost = (times > 4.0) & (times < 5.2)
    at = np.flatnonzero(~lost).tolist(), np.flatnonzero(lost).tolist()
    whole, piece = (Growing(part, [people[i] for i in part], np.zeros(2)) for part in at)
    piece.people = [made.person(made.rowing(0.0), at_px=(485.0, 400.0)) for _ in piece.at]
    still = np.zeros((len(times), 2))
    tracks = joined([whole, piece], times, still)
    assert len(tracks) == 1 and tracks[0].at == list(range(len(times)))


@pytest.mark.parametrize(("spells", "people"), [(3, 1), (1, 2)])
def test_catches_seen_in_other_colours_are_the_rowers_own(spells: int, people: int) -> None:
    """Bent over the knees the shirt is missed; who takes turns so often is one person."""
    times = np.arange(0, 8, 0.27)
    share = 0.5 - 0.5 * np.cos(2 * np.pi * 24.0 / 60 * times)
    bent = (share > 0.6) & (times < 2.5 * spells)
    orange, dark = np.array([140.0, 80.0, 44.0]), np.array([50.0, 52.0, 48.0])
    tracks = []
    for part, colour in ((~bent, orange), (bent, dark)):
        at = np.flatnonzero(part).tolist()
        seen = [replace(made.person(made.rowing(times[i])), colour=colour) for i in at]
        tracks.append(Growing(at, seen, np.zeros(2)))
    # And further forward than in any of the other looks.
    for person in tracks[1].people:
        person.xy_px[:] += [20.0, 0.0]
    assert len(joined(tracks, times, np.zeros((len(times), 2)))) == people


def test_somebody_taller_in_the_same_place_is_somebody_else() -> None:
    times = np.arange(0, 8, 0.27)
    lost = (times > 4.0) & (times < 5.2)
    whole, other = (
        Growing(
            np.flatnonzero(chosen).tolist(),
            [made.person(made.rowing(0.0 if tall > 300 else t), stature_px=tall)
             for t in times[chosen]],
            np.zeros(2),
        )
        for chosen, tall in ((~lost, 300.0), (lost, 480.0))
    )  # fmt: skip
    assert len(joined([whole, other], times, np.zeros((len(times), 2)))) == 2


def test_somebody_elsewhere_is_somebody_else() -> None:
    frames = [
        [] if 4.0 < t < 8.0 else [made.person(made.rowing(t), at_px=(300.0 if t < 6 else 700, 400))]
        for t in TIMES
    ]
    assert len(link(TIMES, frames)) == 2


@pytest.mark.parametrize("seats", [2, 4, 8])
def test_crew_in_step_keeps_every_identity(seats: int) -> None:
    """Rowers one behind the other, all alike, some missed now and then, the camera shaken."""
    rng = np.random.default_rng(seats)
    shift = np.cumsum(rng.normal(0, 8.0, (len(TIMES), 2)), axis=0)
    frames = []
    for index, t in enumerate(TIMES):
        people = [
            made.person(
                made.rowing(t + 0.03 * k),
                stature_px=100.0,
                at_px=(100.0 + 75.0 * k + shift[index, 0], 300.0 + shift[index, 1]),
                noise_px=1.5,
                rng=rng,
            )
            for k in range(seats)
        ]
        people = [p for p in people if rng.random() > 0.1]
        rng.shuffle(people)  # type: ignore[arg-type]
        frames.append(people)
    tracks = link(TIMES, frames, shift)
    assert len(tracks) == seats
    for track in tracks:
        hips = hips_x(track.xy_px)[track.seen] - shift[track.seen, 0]
        # The slide is 0.22 statures; the next seat is 75 px away.
        assert np.ptp(hips) < 0.22 * 100 + 15


def test_one_rower_passes_another_in_the_next_lane() -> None:
    """Two boats, one quicker, the nearer larger and in front: nobody takes the other's place."""
    rng = np.random.default_rng(3)
    frames, crossing = [], np.zeros(len(TIMES), bool)
    for index, t in enumerate(TIMES):
        slow = made.person(made.rowing(t), stature_px=200.0, noise_px=2.0, rng=rng)
        quick = made.person(
            made.rowing(t, spm=30.0),
            stature_px=300.0,
            at_px=(130.0 + 60.0 * t, 440.0),
            noise_px=2.0,
            rng=rng,
        )
        crossing[index] = overlap(slow.box_px, quick.box_px) > 0.45
        people = [quick] if crossing[index] else [slow, quick]
        rng.shuffle(people)  # type: ignore[arg-type]
        frames.append(people)
    assert crossing.any()
    tracks = link(TIMES, frames)
    assert len(tracks) == 2
    tall = [np.nanmedian(t.box_px[:, 3] - t.box_px[:, 1]) for t in tracks]
    slow, quick = tracks[int(np.argmin(tall))], tracks[int(np.argmax(tall))]
    assert np.ptp(hips_x(slow.xy_px)[slow.seen]) < 0.22 * 200 + 15
    moved = np.polyfit(TIMES[quick.seen], hips_x(quick.xy_px)[quick.seen], 1)[0]
    assert moved == pytest.approx(60.0, rel=0.1)
