"""Linking the people of successive pictures into one track per person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.checks import BoolArray, FloatArray, require_increasing, require_shape
from analysis.pose.growing import (
    ALIKE_COLOUR,
    ALIKE_HEIGHT,
    MAX_AWAY_S,
    MAX_HIDDEN_S,
    Growing,
    difference,
    joined,
)
from analysis.pose.people import TORSO, Person, overlap, trunk_length

#: A track needs one detection this sure.
SURE_CONFIDENCE = 0.25
#: Further apart than this, a track and a detection are not the same person.
TOO_FAR = 1.3
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

    def where_sure(self) -> PersonTrack:
        """Return the track as if unsure frames had not seen the person."""
        return replace(self, box_px=np.where(self.unsure[:, None], np.nan, self.box_px))


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
    growing: list[Growing] = []
    for index, people in enumerate(found):
        live = [g for g in growing if times_s[index] - times_s[g.at[-1]] <= MAX_HIDDEN_S]
        taken = _assign(live, people, index, times_s, shift)
        for track, person in taken:
            _extend(track, index, person, times_s)
        used = {id(person) for _, person in taken}
        growing += [Growing([index], [p], np.zeros(2)) for p in people if id(p) not in used]
    solid = [
        g
        for g in joined(growing, times_s, shift)
        if len(g.at) >= 3 and max(p.confidence for p in g.people) >= SURE_CONFIDENCE
    ]
    solid.sort(key=lambda g: -len(g.at))
    return _as_tracks(solid, times_s)


def _assign(
    live: Sequence[Growing],
    people: Sequence[Person],
    index: int,
    times: FloatArray,
    shift: FloatArray,
) -> list[tuple[Growing, Person]]:
    """Pair tracks with people at least total distance, none further than plausible."""
    if not live or not people:
        return []
    cost = np.array([[_distance(g, p, index, times, shift) for p in people] for g in live])
    pairs = [(0, 0)] if cost.size == 1 else _cheapest(np.minimum(cost, 10.0))
    return [(live[r], people[c]) for r, c in pairs if cost[r, c] < TOO_FAR]


def _cheapest(cost: FloatArray) -> list[tuple[int, int]]:
    """Pairs of row and column at least total cost; only loaded where somebody has company."""
    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(cost)
    return list(zip(rows.tolist(), columns.tolist(), strict=True))


def _distance(
    track: Growing, person: Person, index: int, times: FloatArray, shift: FloatArray
) -> float:
    """Distance between where a track is expected and a detection; below `TOO_FAR` they may be one.

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
    since = float(times[index] - times[track.at[-1]])
    reach = 0.9 + 0.5 * min(since, 1.0)
    # Of two tracks that would do, the one seen more lately: the other is a fragment.
    unlike = track.unlikeness(person) + track.off_height(person, index, shift)
    return away / (size * reach) + unlike + 0.1 * since


def _extend(track: Growing, index: int, person: Person, times: FloatArray) -> None:
    """Add a detection and renew the heading: slow to change, so a stroke does not count as one."""
    since = max(float(times[index] - times[track.at[-1]]), 1e-3)
    moved = np.median(person.xy_px[TORSO] - track.people[-1].xy_px[TORSO], axis=0) / since
    weight = min(1.0, 0.5 if len(track.at) < 3 else since / 0.8)
    track.speed = (1.0 - weight) * track.speed + weight * moved
    track.at.append(index)
    track.people.append(person)


def _as_tracks(growing: Sequence[Growing], times: FloatArray) -> list[PersonTrack]:
    count = len(times)
    boxes = np.full((len(growing), count, 4), np.nan)
    xy = np.full((len(growing), count, 17, 2), np.nan)
    score = np.zeros((len(growing), count, 17))
    for number, track in enumerate(growing):
        for index, person in zip(track.at, track.people, strict=True):
            boxes[number, index] = person.box_px
            xy[number, index] = person.xy_px
            score[number, index] = person.score
    unsure = np.zeros(boxes.shape[:2], bool)
    if len(growing) > 1:
        bridged = np.stack([bridge(b, times, MAX_HIDDEN_S) for b in boxes])
        at_rest = np.stack([bridge(b, times, MAX_AWAY_S) for b in boxes])
        for i in range(len(growing)):
            for j in range(i):
                tall, gap = difference(growing[i].people, growing[j].people)
                alike = tall < ALIKE_HEIGHT and not gap > ALIKE_COLOUR
                # Somebody may stop in front for long: who is hidden is where they were.
                pair = bridged[[i, j]]
                for one, (own, other) in enumerate(((i, j), (j, i))):
                    covered = np.isnan(pair[one, :, 0]) & np.isfinite(boxes[other, :, 0])
                    pair[one, covered] = at_rest[own, covered]
                unsure[[i, j]] |= _crossing(pair, xy[[i, j]], alike)
    return [PersonTrack(times, boxes[n], xy[n], score[n], unsure[n]) for n in range(len(growing))]


def _crossing(boxes: FloatArray, xy: FloatArray, alike: bool) -> BoolArray:
    """Mark where two people cover each other [shape=(2, S)].

    That is where their boxes overlap, and torsos meet or one of them is hidden. Two who row side
    by side overlap all the time; as long as both are seen apart they are told apart. Of two who
    look different the one in front stays sure: the one seen, or else whose box reaches lower.
    """
    torso = xy[:, :, TORSO]
    trunk = np.linalg.norm(torso[:, :, :2].mean(axis=2) - torso[:, :, 2:].mean(axis=2), axis=2)
    apart = np.linalg.norm(torso[0] - torso[1], axis=2).mean(axis=1)
    # NaN, so not apart, where one of them is hidden.
    seen_apart = apart > MEETING * np.fmax(trunk[0], trunk[1])
    unsure = np.zeros(boxes.shape[:2], bool)
    for s in np.flatnonzero(~seen_apart & np.isfinite(boxes[:, :, 0]).all(axis=0)):
        if overlap(boxes[0, s], boxes[1, s]) > HEAVY_OVERLAP:
            hidden = ~np.isfinite(trunk[:, s])
            behind = int(hidden[1] if hidden.any() else boxes[0, s, 3] > boxes[1, s, 3])
            who = [0, 1] if alike or hidden.all() else [behind]
            unsure[who, max(s - 1, 0) : s + 2] = True
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
