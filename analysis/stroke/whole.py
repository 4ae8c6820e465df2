"""Which swings of the handle are whole strokes."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray, IntArray
from analysis.stroke.progress import span_of
from analysis.stroke.signals import GRID_S, Curves
from analysis.stroke.turns import Turns, TurnTable, reversals, turn_table

#: Drive and whole stroke, s: wide enough for pause drills and for 10 to 60 strokes a minute.
_DRIVE_S = (0.15, 5.0)
_STROKE_S = (0.8, 20.0)

#: Least travel, as a share of the arm: arms alone make about half.
_TRAVEL_OF_ARM = 0.3

#: Shares of the stroke's travel: how far its two front turns may lie apart, how much longer than
#: straight there and back the handle's path may be (wiggles below a share left out), and how far it
#: may rise and fall.
_FRONTS_APART = 0.35
_PATH_OVER_TRAVEL = 1.2
_WIGGLE_OF_TRAVEL = 0.05
_RISE_OVER_TRAVEL = 0.7

#: Longest spell without frames, s: no quick stroke's drive fits into it.
_LONGEST_GAP_S = 0.45

#: Factor by which travel and drive time of strokes that resemble each other may differ.
_ALIKE = 1.6
_MUCH_ALIKE = 1.2

#: A turn at the clip's very start is a turn only if the handle stays so long, s; the drive after
#: the last catch must be seen to begin by so much of its travel, and by so much where only the
#: rhythm is told, because the handle of somebody small wavers.
_STAY_S = 0.05
_LEFT_BY, _LEFT_BY_ROUGHLY = 0.03, 0.12


def whole_strokes(curves: Curves, turns: Turns, *, roughly: bool = False) -> IntArray:
    """Return which turns begin a whole stroke [shape=(N,)]: indices into `turns`.

    Parameters
    ----------
    curves : Curves
    turns : Turns
    roughly : bool
        The athlete is seen so small that only the rhythm can be told.

    Notes
    -----
    A stroke goes from a front turn over a back turn to the next front turn. It is whole when its
    three turns are seen, and a stroke when the handle swings there and back as rowing does.
    """
    handle = curves.values["handle_x"]
    table = turn_table(handle, curves.t_s, turns)
    found = []
    for k in np.flatnonzero(turns.front[: max(len(turns.front) - 2, 0)]):
        if _is_stroke(curves, turns, table, int(k), roughly):
            found.append(int(k))
    return _in_rhythm(np.array(found, dtype=np.int64), table)


def _is_stroke(curves: Curves, turns: Turns, table: TurnTable, k: int, roughly: bool) -> bool:
    """Tell whether the swing from front turn `k` and back is a whole stroke."""
    handle, index = curves.values["handle_x"], turns.index
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
    wiggle = max(_WIGGLE_OF_TRAVEL * travel, 4.0 * turns.noise_px)
    inner = reversals(within, wiggle)[0]
    inner = np.concatenate([[0], inner[(inner > 0) & (inner < len(within) - 1)], [-1]])
    path = np.sum(np.abs(np.diff(within[inner])))
    direct = np.sum(np.abs(np.diff(handle[index[k : k + 3]])))
    rise = span_of(curves.values["handle_y"][index[k] : index[k + 2] + 1])
    gaps = np.diff(np.flatnonzero(np.isfinite(within)), prepend=0)
    started = np.isfinite(table.arrive[k]) or _seen_to_stay(curves, table, turns, k)
    edge = _LEFT_BY_ROUGHLY if roughly else _LEFT_BY
    left = np.nanmax(table.place[k + 2] - handle[index[k + 2] :]) >= edge * table.travel[k + 2]
    return bool(
        timed
        and travel >= _TRAVEL_OF_ARM * turns.arm_px
        and back
        and path <= _PATH_OVER_TRAVEL * direct
        and not rise > _RISE_OVER_TRAVEL * travel + 4.0 * turns.noise_px  # NaN: not known
        and gaps.max() * GRID_S <= _LONGEST_GAP_S
        and started
        and left
    )


def _in_rhythm(found: IntArray, table: TurnTable) -> IntArray:
    """Keep the strokes that resemble another one, if any two are plainly of one rhythm.

    Hands that wander about make a swing now and then, but not the same one over and over: two must
    follow on each other and be alike, or lie apart and be much alike.
    """
    if len(found) < 2:
        return found
    travel = table.travel[found]
    drive = table.arrive[found + 1] - table.leave[found]
    apart = np.maximum(_factor(travel), _factor(drive))
    follow = found[None, :] - found[:, None] == 2
    other = ~np.eye(len(found), dtype=bool)
    if not np.any((apart <= _ALIKE) & follow | (apart <= _MUCH_ALIKE) & other):
        return found[:0]
    kept: IntArray = found[np.any((apart <= _ALIKE) & other, axis=1)]
    return kept


def _factor(x: FloatArray) -> FloatArray:
    """Return by what factor any two differ [shape=(N, N), ≥ 1]."""
    ratio: FloatArray = np.maximum(x[:, None] / x[None, :], x[None, :] / x[:, None])
    return ratio


def _seen_to_stay(curves: Curves, table: TurnTable, turns: Turns, k: int) -> bool:
    """Tell whether a clip that begins at the front shows enough of it to know the catch.

    At rest there the handle may tremble by more than the band that tells when it leaves.
    """
    handle = curves.values["handle_x"]
    first = int(np.flatnonzero(np.isfinite(handle))[0])
    off = table.place[k] - handle[first : turns.index[k] + 1]
    near = max(_LEFT_BY * table.travel[k], 4.0 * turns.noise_px)
    stayed = table.leave[k] - curves.t_s[first]
    return bool(len(off) > 0 and np.nanmax(off) <= near and stayed >= _STAY_S)
