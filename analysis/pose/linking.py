"""Linking the people of successive pictures into one track per person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.optimize import linear_sum_assignment

from analysis.checks import BoolArray, FloatArray, require_increasing, require_shape
from analysis.pose.people import TORSO, Person, overlap, trunk_length

#: A track needs one detection this sure.
SURE_CONFIDENCE = 0.25
#: A person hidden longer than this comes back as somebody new (and may be stitched).
MAX_HIDDEN_S = 2.5
#: Somebody missed for longer than this may be on the way back, not on the way on.
SHORTLY_S = 0.6
#: Somebody who comes back within this time and this many trunk lengths is the same person.
MAX_AWAY_S, SAME_PLACE = 20.0, 0.6
#: Two boxes that share this much of the smaller one cover each other …
HEAVY_OVERLAP = 0.4
#: … and who is who cannot be sure while torsos are within this many trunk lengths.
MEETING = 0.45


@dataclass(frozen=True)
class PersonTrack:
    """One person over the looked-at frames; NaN where not seen.

    Attributes
    ----------
    t_s : array [shape=(S,)]
        Times of all looked-at frames, s.
    box_px : array [shape=(S, 4)]
    xy_px : array [shape=(S, 17, 2)]
    score : array [shape=(S, 17)]
        0 where not seen.
    unsure : array [shape=(S,)] of bool
        Somebody else covers the person: who is who cannot be sure.
    """

    t_s: FloatArray
    box_px: FloatArray
    xy_px: FloatArray
    score: FloatArray
    unsure: BoolArray

    def __post_init__(self) -> None:
        """Check shapes."""
        require_increasing("t_s", self.t_s)
        count = len(self.t_s)
        require_shape("box_px", self.box_px, (count, 4))
        require_shape("xy_px", self.xy_px, (count, 17, 2))
        require_shape("score", self.score, (count, 17))
        require_shape("unsure", self.unsure, (count,))

    @property
    def seen(self) -> BoolArray:
        """Where the person was found [shape=(S,)]."""
        return np.asarray(np.isfinite(self.box_px[:, 0]))


@dataclass
class _Growing:
    """A track while it grows: where the person was and is heading."""

    at: list[int]
    people: list[Person]
    speed: FloatArray

    def expected(self, index: int, times: FloatArray, shift: FloatArray) -> list[FloatArray]:
        """Keypoints expected in a picture, one array [shape=(17, 2)] for each guess.

        Somebody who walks goes on; when the camera is jerked everybody jumps with the background;
        and somebody who rows and was hidden for a while is where they were on the whole.
        """
        since = times[index] - times[self.at[-1]]
        last = self.people[-1].xy_px
        guesses = [last + self.speed * min(since, 1.5), last + shift[index] - shift[self.at[-1]]]
        if since > SHORTLY_S:
            guesses += [last, _on_the_whole(self, last=True, times=times)]
        return guesses


def link(
    times_s: FloatArray,
    found: Sequence[Sequence[Person]],
    shift_px: FloatArray | None = None,
) -> list[PersonTrack]:
    """Link the people of successive pictures into tracks.

    Parameters
    ----------
    times_s : array [shape=(S,)]
        Times of the looked-at frames, s, strictly increasing.
    found : sequence of S sequences of Person
    shift_px : array [shape=(S, 2)], optional
        Shift of the background since the first picture, px; none by default.

    Returns
    -------
    list of PersonTrack
        Longest first; tracks of fewer than three detections, or never surely seen, are left out.
    """
    require_increasing("times_s", times_s)
    shift = np.zeros((len(times_s), 2)) if shift_px is None else shift_px
    growing: list[_Growing] = []
    for index, people in enumerate(found):
        live = [g for g in growing if times_s[index] - times_s[g.at[-1]] <= MAX_HIDDEN_S]
        taken = _assign(live, people, index, times_s, shift)
        for track, person in taken:
            _extend(track, index, person, times_s)
        used = {id(person) for _, person in taken}
        growing += [_Growing([index], [p], np.zeros(2)) for p in people if id(p) not in used]
    solid = [
        g
        for g in _joined(growing, times_s)
        if len(g.at) >= 3 and max(p.confidence for p in g.people) >= SURE_CONFIDENCE
    ]
    solid.sort(key=lambda g: -len(g.at))
    return _as_tracks(solid, times_s)


def _assign(
    live: Sequence[_Growing],
    people: Sequence[Person],
    index: int,
    times: FloatArray,
    shift: FloatArray,
) -> list[tuple[_Growing, Person]]:
    """Pair tracks with people at least total distance, none further than plausible."""
    if not live or not people:
        return []
    cost = np.array([[_distance(g, p, index, times, shift) for p in people] for g in live])
    rows, columns = linear_sum_assignment(np.minimum(cost, 10.0))
    pairs = zip(rows, columns, strict=True)
    return [(live[int(r)], people[int(c)]) for r, c in pairs if cost[r, c] < 1.0]


def _distance(
    track: _Growing, person: Person, index: int, times: FloatArray, shift: FloatArray
) -> float:
    """Distance between where a track is expected and a detection; 1 is as far as can be.

    Torso and head, not hands and feet: they move least within a stroke, and their arrangement
    tells a seated from a standing person where two boxes cross.
    """
    last = track.people[-1]
    points = [0, *TORSO]
    size = max(trunk_length(person.xy_px), trunk_length(last.xy_px), 1.0)
    away = min(
        float(np.median(np.linalg.norm(guess[points] - person.xy_px[points], axis=1)))
        for guess in track.expected(index, times, shift)
    )
    tall = [max(p.box_px[3] - p.box_px[1], 1.0) for p in (person, last)]
    since = float(times[index] - times[track.at[-1]])
    reach = 0.9 + 0.5 * min(since, 1.0)
    # Of two tracks that would do, the one seen more lately: the other is a fragment.
    return float(away / (size * reach) + 0.3 * abs(np.log(tall[0] / tall[1])) + 0.1 * since)


def _extend(track: _Growing, index: int, person: Person, times: FloatArray) -> None:
    """Add a detection and renew the heading: slow to change, so a stroke does not count as one."""
    since = max(float(times[index] - times[track.at[-1]]), 1e-3)
    moved = np.median(person.xy_px[TORSO] - track.people[-1].xy_px[TORSO], axis=0) / since
    weight = min(1.0, 0.5 if len(track.at) < 3 else since / 0.8)
    track.speed = (1.0 - weight) * track.speed + weight * moved
    track.at.append(index)
    track.people.append(person)


def _on_the_whole(track: _Growing, *, last: bool, times: FloatArray) -> FloatArray:
    """Mean keypoints [shape=(17, 2)] over the last or first `MAX_HIDDEN_S` of a track."""
    end = times[track.at[-1 if last else 0]]
    near = [
        person.xy_px
        for person, at in zip(track.people, track.at, strict=True)
        if abs(times[at] - end) <= MAX_HIDDEN_S
    ]
    return np.asarray(np.mean(near, axis=0))


def _joined(growing: Sequence[_Growing], times: FloatArray) -> list[_Growing]:
    """Join each track to an earlier one of somebody who was in the same place until it began."""
    out: list[_Growing] = []
    for track in sorted(growing, key=lambda g: g.at[0]):
        best, least = None, SAME_PLACE
        for earlier in out:
            gap = times[track.at[0]] - times[earlier.at[-1]]
            if not 0 < gap <= MAX_AWAY_S:
                continue
            before = _on_the_whole(earlier, last=True, times=times)[TORSO]
            after = _on_the_whole(track, last=False, times=times)[TORSO]
            size = max(trunk_length(earlier.people[-1].xy_px), trunk_length(track.people[0].xy_px))
            away = float(np.linalg.norm(before - after, axis=1).mean()) / max(size, 1.0)
            if away < least:
                best, least = earlier, away
        if best is None:
            out.append(track)
        else:
            best.at += track.at
            best.people += track.people
    return out


def _as_tracks(growing: Sequence[_Growing], times: FloatArray) -> list[PersonTrack]:
    count = len(times)
    boxes = np.full((len(growing), count, 4), np.nan)
    xy = np.full((len(growing), count, 17, 2), np.nan)
    score = np.zeros((len(growing), count, 17))
    for number, track in enumerate(growing):
        for index, person in zip(track.at, track.people, strict=True):
            boxes[number, index] = person.box_px
            xy[number, index] = person.xy_px
            score[number, index] = person.score
    unsure = _crossings(boxes, xy, times)
    return [PersonTrack(times, boxes[n], xy[n], score[n], unsure[n]) for n in range(len(growing))]


def _crossings(boxes: FloatArray, xy: FloatArray, times: FloatArray) -> BoolArray:
    """Mark where somebody else covers a person: boxes overlap, and one is hidden or torsos meet.

    Two who row side by side overlap all the time; as long as both are seen apart they are told
    apart.
    """
    unsure = np.zeros(boxes.shape[:2], bool)
    if len(boxes) < 2:
        return unsure
    bridged = np.stack([bridge(b, times, MAX_HIDDEN_S) for b in boxes])
    torso = xy[:, :, TORSO]
    trunk = np.linalg.norm(torso[:, :, :2].mean(axis=2) - torso[:, :, 2:].mean(axis=2), axis=2)
    for i in range(len(boxes)):
        for j in range(i):
            apart = np.linalg.norm(torso[i] - torso[j], axis=2).mean(axis=1)
            # NaN, so not apart, where one of them is hidden.
            seen_apart = apart > MEETING * np.fmax(trunk[i], trunk[j])
            for s in np.flatnonzero(~seen_apart & np.isfinite(bridged[[i, j], :, 0]).all(axis=0)):
                if overlap(bridged[i, s], bridged[j, s]) > HEAVY_OVERLAP:
                    near = slice(max(s - 1, 0), s + 2)
                    unsure[i, near] = unsure[j, near] = True
    return unsure


def bridge(values: FloatArray, times: FloatArray, longest_s: float) -> FloatArray:
    """Fill gaps of `values` [shape=(S, K)] up to `longest_s` by straight lines, no others."""
    seen = np.flatnonzero(np.isfinite(values).all(axis=1))
    if seen.size < 2:
        return values
    out = values.copy()
    for first, last in pairwise(seen):
        if last - first > 1 and times[last] - times[first] <= longest_s:
            share = (times[first + 1 : last] - times[first]) / (times[last] - times[first])
            out[first + 1 : last] = values[first] + share[:, None] * (values[last] - values[first])
    return out
