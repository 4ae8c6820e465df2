"""Tracks of people while they grow: what is expected of each, and which pieces are one person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.people import HIPS, TORSO, Person, trunk_length

#: A person hidden longer than this comes back as somebody new (and may be stitched).
MAX_HIDDEN_S = 2.5
#: Somebody missed for longer than this may be on the way back, not on the way on.
SHORTLY_S = 0.6
#: What a difference in height (its logarithm) and in the colour worn weigh against distance in
#: trunk lengths. Within a stroke the height of a rower's box changes by 0.15; two rowers on
#: machines side by side, one behind the other, differ by 0.4.
HEIGHT_WEIGHT, COLOUR_SCALE = 1.2, 200.0
#: A larger difference than a stroke makes counts once more: it is somebody else, nearer or farther.
STROKE_HEIGHT = 0.15
#: Hips of who rows or walks keep their height, also where the shoulders found are a neighbour's: a
#: rower's on rendered machines within 0.1 trunk lengths, a rower's behind them is 0.4 higher up.
HIPS_FROM, HIPS_TO, HIPS_WEIGHT = 0.15, 0.35, 0.5
#: How far back "lately" goes, looks.
_LATELY = 12
#: Somebody who comes back within this time and this many trunk lengths is the same person.
MAX_AWAY_S, SAME_PLACE = 20.0, 0.6
#: Within this time a rower has been everywhere that they are in a stroke, at 20 a minute.
STROKES_AROUND_S = 3.0
#: Two tracks that follow on each other so often, and are never seen at once, are hardly two people.
IN_TURNS = 4
#: People whose heights (logarithm) and colours differ by less look alike.
ALIKE_HEIGHT, ALIKE_COLOUR = 0.25, 50.0


@dataclass
class Growing:
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
            guesses += [last, on_the_whole(self, last=True, times=times)]
        return guesses

    def unlikeness(self, person: Person) -> float:
        """Difference in height and clothes from the person so far, 0 alike … 1.5."""
        lately = self.people[-_LATELY:]
        tall, gap = difference(lately, [person])
        tall = min(tall, 0.5)
        tall += max(tall - STROKE_HEIGHT, 0.0)
        worn = min(gap / COLOUR_SCALE, 0.5) if np.isfinite(gap) else 0.0
        return HEIGHT_WEIGHT * tall + worn

    def off_height(self, person: Person, index: int, shift: FloatArray) -> float:
        """Tell how much the hips' height in the picture speaks against a person, 0 … 0.5."""
        lately, at = self.people[-_LATELY:], self.at[-_LATELY:]
        before_px = np.median([p.xy_px[HIPS, 1].mean() for p in lately] - shift[at, 1])
        off_px = abs(float(person.xy_px[HIPS, 1].mean() - shift[index, 1] - before_px))
        usual_px = float(np.median([trunk_length(p.xy_px) for p in lately]))
        off = off_px / max(trunk_length(person.xy_px), usual_px, 1.0)
        return HIPS_WEIGHT * float(np.clip((off - HIPS_FROM) / (HIPS_TO - HIPS_FROM), 0.0, 1.0))


def difference(a: Sequence[Person], b: Sequence[Person]) -> tuple[float, float]:
    """Difference in height (its logarithm) and colour of two people's usual looks."""
    tall = [np.median([max(p.box_px[3] - p.box_px[1], 1.0) for p in people]) for people in (a, b)]
    worn = [np.median([p.colour for p in people], axis=0) for people in (a, b)]
    return abs(float(np.log(tall[0] / tall[1]))), float(np.linalg.norm(worn[0] - worn[1]))


def on_the_whole(track: Growing, *, last: bool, times: FloatArray) -> FloatArray:
    """Mean keypoints [shape=(17, 2)] over the last or first `MAX_HIDDEN_S` of a track."""
    end = times[track.at[-1 if last else 0]]
    near = [
        person.xy_px
        for person, at in zip(track.people, track.at, strict=True)
        if abs(times[at] - end) <= MAX_HIDDEN_S
    ]
    return np.asarray(np.mean(near, axis=0))


def joined(growing: Sequence[Growing], times: FloatArray, shift: FloatArray) -> list[Growing]:
    """Join tracks that are pieces of one person: never seen at once, and in the same place."""
    out: list[Growing] = []
    for track in sorted(growing, key=lambda g: (-len(g.at), g.at[0])):
        away = [_apart(other, track, times, shift) for other in out]
        if not away or min(away) >= SAME_PLACE:
            out.append(track)
            continue
        whole = out[int(np.argmin(away))]
        merged = sorted(
            zip(whole.at + track.at, whole.people + track.people, strict=True), key=lambda p: p[0]
        )
        whole.at, whole.people = [at for at, _ in merged], [person for _, person in merged]
    return out


def _apart(whole: Growing, piece: Growing, times: FloatArray, shift: FloatArray) -> float:
    """Distance in trunk lengths of two tracks where they meet in time; infinite if never."""
    if set(whole.at) & set(piece.at):
        return float("inf")
    if whole.at[-1] < piece.at[0] or piece.at[-1] < whole.at[0]:
        first, then = sorted((whole, piece), key=lambda g: g.at[0])
        if times[then.at[0]] - times[first.at[-1]] > MAX_AWAY_S:
            return float("inf")
        pairs = [
            (
                on_the_whole(first, last=True, times=times),
                on_the_whole(then, last=False, times=times),
            )
        ]
        return _gap(pairs)
    nearest = np.abs(times[piece.at][:, None] - times[whole.at]).argmin(axis=1)
    pairs = [
        (whole.people[int(n)].xy_px, person.xy_px)
        for n, person in zip(nearest, piece.people, strict=True)
    ]
    # Between the one picture and the other the camera may have been jerked.
    moved = shift[piece.at] - shift[np.array(whole.at)[nearest]]
    carried = [(a + by, b) for (a, b), by in zip(pairs, moved, strict=True)]
    away = min(_gap(pairs), _gap(carried))
    tall, colour = difference(whole.people, piece.people)
    # Bent over their knees, the lines along which the colour is taken miss the shirt.
    if tall < ALIKE_HEIGHT and (not colour > ALIKE_COLOUR or _in_turns(whole, piece) >= IN_TURNS):
        others = _in_other_strokes(whole, piece, times, shift)
        away = min(away, _gap(others)) if others else away
    return away


def _in_turns(whole: Growing, piece: Growing) -> int:
    """Return how often one of two tracks follows on the other."""
    mine = np.isin(sorted(whole.at + piece.at), piece.at)
    return int(np.sum(mine[1:] != mine[:-1]))


def _in_other_strokes(
    whole: Growing, piece: Growing, times: FloatArray, shift: FloatArray
) -> list[tuple[FloatArray, FloatArray]]:
    """Pair each place of a piece with the likest one of the whole track, a few strokes around.

    From one look to the next a rower may come from the catch to the release; but where they are at
    a release, they were at the one before.
    """
    at, pairs = np.array(whole.at), []
    for index, person in zip(piece.at, piece.people, strict=True):
        near = np.flatnonzero(np.abs(times[at] - times[index]) <= STROKES_AROUND_S)
        places = [whole.people[n].xy_px + shift[index] - shift[at[n]] for n in near]
        if places:
            pairs.append(min(((p, person.xy_px) for p in places), key=lambda pair: _gap([pair])))
    return pairs


def _gap(pairs: Sequence[tuple[FloatArray, FloatArray]]) -> float:
    """Median distance of pairs of torsos, trunk lengths."""
    return float(
        np.median(
            [
                np.linalg.norm(a[TORSO] - b[TORSO], axis=1).mean()
                / max(trunk_length(a), trunk_length(b), 1.0)
                for a, b in pairs
            ]
        )
    )
