"""Which person is rowing: the one whose hands cycle, seated, seen from the side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.checks import FloatArray
from analysis.errors import NoRowerError, SettingsError
from analysis.pose.linking import PersonTrack
from analysis.pose.moves import middle, unlike_rowing
from analysis.pose.people import ANKLES, HIPS, KNEES, SHOULDERS, WRISTS, boxes_meet
from analysis.pose.swings import swings, without_jumps
from analysis.pose.track import Facing

Who = Literal["auto", "nearest", "left", "right"] | int

#: Least travel of the hands past the hips, in trunk lengths; arms alone make about one.
MIN_HAND_TRAVEL = 0.4
#: Highest place of the hips over the knees in trunk lengths: legs flat, hips and knees are
#: level; standing, walking, squatting or on a bicycle the knees hang below the hips.
MAX_HIP_OVER_KNEE = 0.35
#: Steepest fall from hips to ankles, and the share of looks, in percent, that falls by less. Where
#: legs are stretched 15° in a boat, up to 31° on rendered machines (measured), but 50° and more at
#: full compression; 45° at the bottom of a squat, more on a bicycle.
MAX_LEG_FALL_DEG, STRETCHED_PERCENT = 40.0, 30.0
#: Least reach of knees and feet before the hips, in trunk lengths.
MIN_LEGS_AHEAD = 0.25
#: Shoulder width in trunk lengths: 0.9 square to the camera (Drillis & Contini 1966: 0.259 and
#: 0.288 of stature), 0.23 at 15° off the side view.
FRONTAL_SHOULDERS = 0.62
#: Wider than this, hands that seem to cycle across the picture are not believed either.
SQUARE_SHOULDERS = 1.0
#: Strokes needed, and the share of the time watched that they must fill, or else how many in a
#: row: somebody may row for a while only, but fidgeting does not make three strokes on end.
MIN_CYCLES, MIN_CYCLING_SHARE, ENOUGH_IN_A_ROW = 1.5, 0.4, 3.0
#: With so many strokes, somebody seated is worth a finer look when nothing more than this speaks
#: against it; with fewer too, where somebody else is in the way in so many of the looks, and there
#: arms that stay may be arms that were lost at the release.
MAYBE, UNSURE, IN_THE_WAY = 1.0, ("still", "lying"), 0.5
UNSURE_BEHIND = (*UNSURE, "arms stay")
#: A finer look takes long: at so many people, and before somebody who plainly rows only at somebody
#: who is so much more prominent.
FINER_LOOKS, MORE_PROMINENT = 2, 1.05


@dataclass(frozen=True)
class Evidence:
    """What speaks for and against a person's rowing.

    Attributes
    ----------
    rows : bool
    why_not : str
        Empty, ``"still"``, ``"not seated"``, ``"front"``, ``"too short"``, or what
        `analysis.pose.moves.unlike_rowing` found.
    facing : "left" or "right"
        The side that the feet are on.
    trunk_px : float
        Length of the trunk, px: how near the person is.
    hand_travel, hip_over_knee, legs_ahead, shoulder_width : float
        In trunk lengths.
    leg_fall_deg : float
        Fall of the line from hips to ankles below the horizontal, legs stretched.
    cycles : float
        Hand cycles within 10…60 a minute.
    spm : float
        Their median rate, strokes per minute; NaN without.
    x_px : float
        Mean place of the hips.
    """

    rows: bool
    why_not: str
    facing: Facing
    trunk_px: float
    hand_travel: float
    hip_over_knee: float
    legs_ahead: float
    shoulder_width: float
    leg_fall_deg: float
    cycles: float
    spm: float
    x_px: float


def evidence(track: PersonTrack, *, many_looks: bool = False) -> Evidence:
    """Weigh whether a tracked person rows; every length in trunk lengths, so size drops out.

    ``many_looks`` says that the finer model saw the person, ten times a second.
    """
    shoulder, hip = middle(track, SHOULDERS), middle(track, HIPS)
    wrist, knee, ankle = middle(track, WRISTS), middle(track, KNEES), middle(track, ANKLES)
    trunk_px = _median(np.linalg.norm(shoulder - hip, axis=1))
    if not trunk_px > 0:
        none = float("nan")
        return Evidence(
            False, "too short", "right", 0.0, none, none, none, none, none, 0, none, none
        )
    ahead = np.stack([knee - hip, ankle - hip, wrist - shoulder])[..., 0] / trunk_px
    sign = 1.0 if np.nansum(np.sign(ahead)) >= 0 else -1.0
    hands = sign * (wrist - hip)[:, 0] / trunk_px
    across = track.xy_px[:, SHOULDERS[0]] - track.xy_px[:, SHOULDERS[1]]
    hands_swing = swings(track.t_s, without_jumps(track.t_s, hands), MIN_HAND_TRAVEL)
    legs = _median(np.fmax(sign * ahead[0], sign * ahead[1]))
    over_knee = _median((knee - hip)[:, 1] / trunk_px)
    reach = ankle - hip
    fall_deg = _share(np.degrees(np.arctan2(reach[:, 1], sign * reach[:, 0])), STRETCHED_PERCENT)
    width = _median(np.abs(across[:, 0]) / trunk_px)
    why_not = ""
    lasting = hands_swing.share >= MIN_CYCLING_SHARE or hands_swing.in_a_row >= ENOUGH_IN_A_ROW
    if hands_swing.cycles < MIN_CYCLES or not lasting:
        why_not = "still"
    # Ankles may be hidden in a hull; knees and reach of the legs must be seen.
    upright = over_knee > MAX_HIP_OVER_KNEE or fall_deg > MAX_LEG_FALL_DEG
    if upright or not np.isfinite(over_knee) or not legs > MIN_LEGS_AHEAD:
        why_not = "not seated"
    if width > FRONTAL_SHOULDERS and (why_not or width > SQUARE_SHOULDERS):
        why_not = "front"
    why_not = why_not or unlike_rowing(track, sign, many_looks=many_looks)
    return Evidence(
        rows=not why_not,
        why_not=why_not,
        facing="right" if sign > 0 else "left",
        trunk_px=trunk_px,
        hand_travel=hands_swing.travel,
        hip_over_knee=over_knee,
        leg_fall_deg=fall_deg,
        legs_ahead=legs,
        shoulder_width=width,
        cycles=hands_swing.cycles,
        spm=hands_swing.spm,
        x_px=_median(hip[:, 0]),
    )


def closer_look(first: PersonTrack, second: PersonTrack) -> Evidence:
    """Weigh what both finer models saw of a person: the second's where the first is in doubt.

    That is, where somebody else is in the way in much of the clip (`unsure`): the two models take
    a passer-by's hands for the person's in different frames.
    """
    found = evidence(first, many_looks=True)
    if found.rows or first.unsure.mean() < IN_THE_WAY:
        return found
    other = evidence(second, many_looks=True)
    return other if other.rows else found


def choose(tracks: Sequence[PersonTrack], who: Who = "auto") -> list[int]:
    """Return which of `tracks` are to be followed, in the order in which to look closer.

    Parameters
    ----------
    tracks : sequence of PersonTrack
    who : "auto", "nearest", "left", "right" or int
        Among those who row: the nearest (also for "auto"), the leftmost or rightmost in the
        picture, or the N-th along the boat from its bow, the side that the backs face.

    Returns
    -------
    list of int
        More than one where few looks leave it open who of those nearest rows.

    Raises
    ------
    NoRowerError
        Nobody found, nobody who rows, or fewer rowers than `who` asks for.
    """
    if not tracks:
        raise NoRowerError(
            "Nobody was found in this clip; film the whole athlete from the side, "
            "so that they fill at least a third of the picture."
        )
    judged = [evidence(track) for track in tracks]
    rowers = [n for n, e in enumerate(judged) if e.rows]
    if who in ("auto", "nearest"):
        if worth_a_look := _nearest(tracks, judged):
            return worth_a_look
        raise NoRowerError(_refusal(tracks, judged))
    if not rowers:
        raise NoRowerError(_refusal(tracks, judged))
    along = sorted(rowers, key=lambda n: judged[n].x_px)
    if who == "left":
        return along[:1]
    if who == "right":
        return along[-1:]
    if isinstance(who, bool) or not isinstance(who, int) or who < 1:
        raise SettingsError(
            f"Who to follow is auto, nearest, left, right or a seat number from the bow, not {who}."
        )
    if who > len(along):
        people = "one person rows" if len(along) == 1 else f"{len(along)} people row"
        raise NoRowerError(f"Only {people} in this clip; choose a number up to {len(along)}.")
    return [_from_bow(along, judged)[who - 1]]


def _nearest(tracks: Sequence[PersonTrack], judged: Sequence[Evidence]) -> list[int]:
    """Return who may be meant, the most prominent first, down to the first who plainly rows.

    Few looks, and somebody crossing or right behind, may hide strokes, or put one's hips on a
    neighbour's: the finer look has the last word.
    """
    prominent = [e.trunk_px * np.sqrt(t.seen.mean()) for e, t in zip(judged, tracks, strict=True)]
    rowing = max((prominent[n] for n, e in enumerate(judged) if e.rows), default=0.0)
    order: list[int] = []
    for n in sorted(range(len(tracks)), key=lambda n: -prominent[n]):
        if judged[n].rows:
            return [*order[: FINER_LOOKS - 1], n]
        behind = _in_the_way(tracks, n) >= IN_THE_WAY
        unsure = UNSURE_BEHIND if behind else UNSURE
        maybe = judged[n].cycles >= MAYBE or behind
        if judged[n].why_not in unsure and maybe and prominent[n] > MORE_PROMINENT * rowing:
            order.append(n)
    return order[:FINER_LOOKS]


def _in_the_way(tracks: Sequence[PersonTrack], number: int) -> float:
    """Share of a person's looks in which somebody else's box covers a part of theirs."""
    own, met = tracks[number], np.zeros(len(tracks[number].t_s), bool)
    for other in tracks:
        if other is not own:
            met |= boxes_meet(own.box_px, other.box_px)
    return float(met.sum() / max(own.seen.sum(), 1))


def rowers_from_bow(tracks: Sequence[PersonTrack]) -> list[int]:
    """Return which of `tracks` row, counted as `choose` counts them; empty when nobody does."""
    judged = [evidence(track) for track in tracks]
    rowers = [n for n, e in enumerate(judged) if e.rows]
    return _from_bow(sorted(rowers, key=lambda n: judged[n].x_px), judged)


def _from_bow(along: list[int], judged: Sequence[Evidence]) -> list[int]:
    """Order rowers, given from left to right, from the bow: the side that most backs face."""
    left_facing = sum(judged[n].facing == "left" for n in along) * 2 > len(along)
    return along[::-1] if left_facing else along


def _refusal(tracks: Sequence[PersonTrack], judged: Sequence[Evidence]) -> str:
    """One sentence on why nobody is taken for a rower: what the most prominent person does."""
    main = max(range(len(tracks)), key=lambda n: judged[n].trunk_px * tracks[n].seen.mean())
    return refusal(judged[main], len(tracks))


def refusal(found: Evidence, people: int) -> str:
    """One sentence on why the most prominent of `people` is not taken for a rower."""
    if found.why_not == "front":
        return (
            "The athlete is filmed from the front or back; put the phone level with the seat, "
            "square to the side of the machine or boat."
        )
    who = "One person was" if people == 1 else f"{people} people were"
    return (
        f"{who} found, but nobody whose hands and hips go through rowing strokes; film at least "
        "two whole strokes from the side, with the whole athlete in view."
    )


def _median(values: FloatArray) -> float:
    return _share(values, 50.0)


def _share(values: FloatArray, percent: float) -> float:
    """Percentile of what is known; NaN without any."""
    kept = values[np.isfinite(values)]
    return float(np.percentile(kept, percent)) if kept.size else float("nan")
