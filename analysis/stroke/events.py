"""Where the handle turns: catches and releases, sub-frame, and the whole strokes between them.

Catch: the last instant at which the handle is within 1 % of that stroke's handle travel of its
foremost place. Release: the first instant within 1 % of its place nearest to the body. The turns
are found first, roughly, as reversals of the handle that are large against the arm; pauses do not
reverse it and jitter does not reverse it far. The instants are then read off the smooth curve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.stroke.progress import rest_place
from analysis.stroke.signals import GRID_S, Curves

#: Share of the handle's travel that counts as "at" its foremost or rearmost place.
BAND_SHARE = 0.01

#: A reversal counts when it is this share of the arm, and of the usual swing of the clip.
_LEAST_OF_ARM = 0.2
_LEAST_OF_SWING = 0.2

#: What a stroke may be: s, and shares of its travel.
_DRIVE_S = (0.15, 5.0)
_STROKE_S = (0.8, 20.0)
_FRONTS_APART = 0.35
_PATH_OVER_TRAVEL = 1.5
_LONGEST_GAP_S = 0.45

#: A turn at the clip's very start is a turn only if the handle stays so long; the drive after the
#: last catch must be seen to begin by so much.
_STAY_S = 0.05
_LEFT_BY = 0.03


@dataclass(frozen=True)
class Turns:
    """Rough turns of the handle: indices into the curves, alternating front and back.

    Attributes
    ----------
    index : array [shape=(K,)] of int
    front : array [shape=(K,)] of bool
        True where the handle is foremost, False where it is nearest to the body.
    """

    index: IntArray
    front: BoolArray


@dataclass(frozen=True)
class Events:
    """Instants of N strokes [each shape=(N,), s]; NaN where not covered by frames.

    ``compression_s`` is the full compression before the drive, ``next_compression_s`` the one
    that ends the recovery; ``away_s`` when the handle leaves its rearmost place, ``arrival_s``
    when it comes to its next foremost one. ``travel_px`` is the handle's travel in the drive.
    """

    catch_s: FloatArray
    release_s: FloatArray
    away_s: FloatArray
    arrival_s: FloatArray
    next_catch_s: FloatArray
    compression_s: FloatArray
    next_compression_s: FloatArray
    travel_px: FloatArray

    @property
    def count(self) -> int:
        """Number of strokes."""
        return len(self.catch_s)


def find_turns(handle: FloatArray, arm_px: float) -> Turns:
    """Return the handle's turns.

    Parameters
    ----------
    handle : array [shape=(M,)]
        Smooth handle curve, px, + to the feet; NaN where not covered.
    arm_px : float
        Upper arm and forearm together, px.
    """
    least = _LEAST_OF_ARM * arm_px
    turns = _reversals(handle, least)
    swings = np.abs(np.diff(handle[turns.index]))
    if len(swings):
        usual = float(np.median(swings[swings >= np.median(swings)]))
        if _LEAST_OF_SWING * usual > least:
            turns = _reversals(handle, _LEAST_OF_SWING * usual)
    return turns


def whole_strokes(curves: Curves, turns: Turns) -> IntArray:
    """Return which turns begin a whole stroke [shape=(N,)]: indices into `turns`.

    A stroke goes from a front turn over a back turn to the next front turn. It is whole when its
    three turns are seen, and a stroke when the handle swings there and back as rowing does.
    """
    handle = curves.values["handle_x"]
    table = _turn_table(handle, curves.t_s, turns)
    found = []
    for k in np.flatnonzero(turns.front[: max(len(turns.front) - 2, 0)]):
        if _is_stroke(handle, turns.index, table, int(k)):
            found.append(int(k))
    travel = np.array([table.travel[k] for k in found])
    if len(found) > 2:
        keep = travel >= 0.25 * np.median(travel)
        found = [k for k, kept in zip(found, keep, strict=True) if kept]
    return np.array(found, dtype=np.int64)


def read_events(curves: Curves, turns: Turns, strokes: IntArray, slides: BoolArray) -> Events:
    """Read the events of the strokes that begin at `strokes` off the curves.

    Parameters
    ----------
    strokes : array [shape=(N,)] of int
        As :func:`whole_strokes` gave them.
    slides : array [shape=(N,)] of bool
        Whether the seat moves in that stroke; where it does not, full compression is the catch.
    """
    handle, seat = curves.values["handle_x"], curves.values["seat_x"]
    table = _turn_table(handle, curves.t_s, turns)
    compression = np.full(len(turns.index), np.nan)
    for k in set(strokes.tolist()) | set((strokes + 2).tolist()):
        compression[k] = _seat_foremost(seat, curves.t_s, turns.index, k)
    catch, next_catch = table.leave[strokes], table.leave[strokes + 2]
    return Events(
        catch_s=catch,
        release_s=table.arrive[strokes + 1],
        away_s=table.leave[strokes + 1],
        arrival_s=table.arrive[strokes + 2],
        next_catch_s=next_catch,
        compression_s=np.where(slides, compression[strokes], catch),
        next_compression_s=np.where(slides, compression[strokes + 2], next_catch),
        travel_px=table.travel[strokes],
    )


def quickness_of_turns(curves: Curves, turns: Turns) -> tuple[FloatArray, FloatArray]:
    """Return when the handle turns and how quickly it leaves the front or comes to the body.

    Returns
    -------
    turn_s : array [shape=(K,)]
        Times of the turns that could be read, s.
    quickness_s : array [shape=(K,)]
        √(2 × travel ÷ acceleration), s, from the time between 1 % and 8 % of the travel: for a
        parabola that is (√0.08 − √0.01) of it.
    """
    handle = curves.values["handle_x"]
    near = _turn_table(handle, curves.t_s, turns)
    far = _turn_table(handle, curves.t_s, turns, 0.08)
    spent = np.where(turns.front, far.leave - near.leave, near.arrive - far.arrive)
    quickness = spent / (np.sqrt(0.08) - np.sqrt(BAND_SHARE))
    told = np.isfinite(quickness) & (quickness > 0)
    return curves.t_s[turns.index[told]], quickness[told]


@dataclass(frozen=True)
class _TurnTable:
    """For each turn: first and last instant within the band, s, place and travel, px."""

    arrive: FloatArray
    leave: FloatArray
    place: FloatArray
    travel: FloatArray


def _reversals(x: FloatArray, least: float) -> Turns:
    """Return alternating extremes of `x` with at least `least` between neighbours."""
    index, front = [], []
    seen = np.flatnonzero(np.isfinite(x))
    if len(seen) == 0:
        return Turns(np.array([], dtype=np.int64), np.array([], dtype=bool))
    high = low = seen[0]
    looking = 0  # +1: for a front turn, −1: for a back turn, 0: either
    for i in seen:
        value = x[i]
        if value > x[high]:
            high = i
        if value < x[low]:
            low = i
        if looking >= 0 and value <= x[high] - least:
            index.append(high)
            front.append(True)
            looking, low, high = -1, i, i
        elif looking <= 0 and value >= x[low] + least:
            index.append(low)
            front.append(False)
            looking, low, high = 1, i, i
    if looking:  # the last turn is one only if it is left again, which its reader checks
        index.append(high if looking > 0 else low)
        front.append(looking > 0)
    return Turns(np.array(index, dtype=np.int64), np.array(front, dtype=bool))


def _turn_table(
    handle: FloatArray, t_s: FloatArray, turns: Turns, band_share: float = BAND_SHARE
) -> _TurnTable:
    """Refine every turn on the smooth curve and read when the handle comes and goes."""
    count = len(turns.index)
    sign = np.where(turns.front, 1.0, -1.0)
    best = np.array([_refine(handle, turns, k) for k in range(count)], dtype=np.int64)
    travel = _travels(handle[best], turns.front)
    place = np.array(
        [_place(handle, best, k, sign[k], BAND_SHARE * travel[k]) for k in range(count)]
    )
    travel = _travels(place, turns.front)
    arrive, leave = np.full(count, np.nan), np.full(count, np.nan)
    for k in range(count):
        lower = best[k - 1] if k > 0 else 0
        upper = best[k + 1] if k + 1 < count else len(handle) - 1
        depth = sign[k] * (place[k] - handle)  # ≥ 0 around the turn
        arrive[k], leave[k] = _band(depth, t_s, lower, best[k], upper, band_share * travel[k])
    return _TurnTable(arrive, leave, place, travel)


def _place(handle: FloatArray, best: IntArray, k: int, sign: float, band: float) -> float:
    """Return where the handle rests at turn `k`, px."""
    lower = best[k - 1] if k > 0 else 0
    upper = best[k + 1] if k + 1 < len(best) else len(handle) - 1
    if not np.isfinite(band):
        return float(handle[best[k]])
    return sign * rest_place(sign * handle[lower : upper + 1], int(best[k] - lower), band)


def _travels(place: FloatArray, front: BoolArray) -> FloatArray:
    """Return the travel that belongs to each turn [shape=(K,), px].

    A front turn belongs to the drive that follows it, a back turn to the one before; the last
    swing may be cut short by the end of the clip.
    """
    count = len(place)
    swing = np.abs(np.diff(place))
    travel = np.full(count, np.nan)
    for k in range(count):
        follows = front[k] and (k + 2 < count or k == 0)
        j = k if follows or k == 0 else k - 1
        if 0 <= j < len(swing):
            travel[k] = swing[j]
    return travel


def _refine(handle: FloatArray, turns: Turns, k: int) -> int:
    """Return the index of the extreme near turn `k`."""
    at = turns.index[k]
    lower = (turns.index[k - 1] + at) // 2 if k > 0 else 0
    upper = (turns.index[k + 1] + at) // 2 if k + 1 < len(turns.index) else len(handle) - 1
    reach = round(0.4 / GRID_S)
    lower, upper = max(lower, at - reach), min(upper, at + reach)
    window = handle[lower : upper + 1]
    if not np.isfinite(window).any():
        return int(at)
    return int(lower + (np.nanargmax(window) if turns.front[k] else np.nanargmin(window)))


def _band(
    depth: FloatArray, t_s: FloatArray, lower: int, at: int, upper: int, band: float
) -> tuple[float, float]:
    """Return when `depth` first and last is within `band` around index `at`, s.

    NaN where the crossing, or anything between the two, is not covered by frames.
    """
    before, after = depth[lower : at + 1], depth[at : upper + 1]
    first = lower + int(np.argmax(before <= band))
    last = at + int(np.flatnonzero(after <= band)[-1])
    if np.isnan(depth[first : last + 1]).any():
        return float("nan"), float("nan")
    arrive = leave = float("nan")
    if first > lower:
        arrive = t_s[first] - GRID_S * _share(depth[first], depth[first - 1], band)
    elif first == 0:
        arrive = float("nan")  # the clip begins within the band: nobody saw it arrive
    if last < upper:
        leave = t_s[last] + GRID_S * _share(depth[last], depth[last + 1], band)
    return float(arrive), float(leave)


def _share(inside: float, outside: float, band: float) -> float:
    return (band - inside) / (outside - inside)


def _is_stroke(handle: FloatArray, index: IntArray, table: _TurnTable, k: int) -> bool:
    """Tell whether the swing from front turn `k` and back is a whole stroke."""
    catch, release, next_catch = table.leave[k], table.arrive[k + 1], table.leave[k + 2]
    if not np.all(
        np.isfinite([catch, release, next_catch, table.leave[k + 1], table.arrive[k + 2]])
    ):
        return False
    timed = (
        _DRIVE_S[0] <= release - catch <= _DRIVE_S[1]
        and _STROKE_S[0] <= next_catch - catch <= _STROKE_S[1]
    )
    travel = table.travel[k]
    back = abs(table.place[k + 2] - table.place[k]) <= _FRONTS_APART * travel
    within = handle[index[k] : index[k + 2] + 1]
    path = np.nansum(np.abs(np.diff(within)))
    direct = 2 * table.place[[k, k + 2]].mean() - 2 * table.place[k + 1]
    gaps = np.diff(np.flatnonzero(np.isfinite(within)), prepend=0)
    started = np.isfinite(table.arrive[k]) or _seen_to_stay(table, handle, index, k)
    left = np.nanmax(table.place[k + 2] - handle[index[k + 2] :]) >= _LEFT_BY * table.travel[k + 2]
    return bool(
        timed
        and back
        and path <= _PATH_OVER_TRAVEL * direct
        and gaps.max() * GRID_S <= _LONGEST_GAP_S
        and started
        and left
    )


def _seen_to_stay(table: _TurnTable, handle: FloatArray, index: IntArray, k: int) -> bool:
    """Tell whether a clip that begins at the front shows enough of it to know the catch."""
    first = int(np.flatnonzero(np.isfinite(handle))[0])
    depth = table.place[k] - handle[first : index[k] + 1]
    within = np.all(depth <= BAND_SHARE * table.travel[k])
    stay = np.sum((table.place[k] - handle[first:]) <= BAND_SHARE * table.travel[k])
    return bool(within and stay * GRID_S >= _STAY_S)


def _seat_foremost(seat: FloatArray, t_s: FloatArray, index: IntArray, k: int) -> float:
    """Return when the seat is foremost around front turn `k`, s: the middle of its rest there."""
    lower = (index[k - 1] + index[k]) // 2 if k > 0 else 0
    upper = index[k + 1] if k + 1 < len(index) else len(seat) - 1
    window = seat[lower : upper + 1]
    if not np.isfinite(window).any():
        return float("nan")
    at = int(np.nanargmax(window))
    band = 0.001 * (window[at] - np.nanmin(window))
    near = np.flatnonzero(window >= window[at] - band)
    first, last = int(near[0]), int(near[-1])
    edges = window[max(first - 1, 0)], window[min(last + 1, len(window) - 1)]
    if np.isnan(edges).any():
        return float("nan")
    return float((t_s[lower + first] + t_s[lower + last]) / 2)
