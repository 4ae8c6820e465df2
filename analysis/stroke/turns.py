"""Where the handle turns, and when it comes to and leaves each turn, sub-frame.

Turns are found first, roughly, as reversals of the handle that are large against the arm: pauses do
not reverse it, and jitter does not reverse it far. The instants are then read off the smooth curve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.stroke.progress import rest_place
from analysis.stroke.signals import GRID_S, Curves

#: Share of the handle's travel that counts as "at" its foremost or rearmost place.
BAND_SHARE = 0.01

#: Where hands that rest at a turn seem to creep away from it, the event is where they really go: a
#: handle slower than this share of the swing's mean speed rests, no further than this share of the
#: travel from its place, and this long after it left the band, s. Movements that begin as the
#: fourth power of time are faster when they leave the band.
_RESTS_AT_SPEED, _RESTS_WITHIN, _RESTS_AFTER_S = 0.1, 0.06, 0.06

#: A reversal counts when it is this share of the arm, and of the usual swing of the clip.
_LEAST_OF_ARM = 0.2
_LEAST_OF_SWING = 0.2


@dataclass(frozen=True)
class Turns:
    """Rough turns of the handle: indices into the curves, alternating front and back.

    Attributes
    ----------
    index : array [shape=(K,)] of int
    front : array [shape=(K,)] of bool
        True where the handle is foremost, False where it is nearest to the body.
    arm_px : float
        Upper arm and forearm together.
    noise_px : float
        SD of the handle curve's noise: no shorter band than twice this can be told apart.
    """

    index: IntArray
    front: BoolArray
    arm_px: float
    noise_px: float = 0.0


@dataclass(frozen=True)
class TurnTable:
    """What is read at each of K turns.

    Attributes
    ----------
    arrive, leave : array [shape=(K,)]
        First and last instant within the band of the place, s; NaN where not seen.
    place, travel : array [shape=(K,)]
        Where the handle rests, and the travel that the band is a share of, px.
    """

    arrive: FloatArray
    leave: FloatArray
    place: FloatArray
    travel: FloatArray


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
    index, front = reversals(handle, least)
    swings = np.abs(np.diff(handle[index]))
    if len(swings):
        usual = float(np.median(swings[swings >= np.median(swings)]))
        if _LEAST_OF_SWING * usual > least:
            index, front = reversals(handle, _LEAST_OF_SWING * usual)
    return Turns(index, front, arm_px)


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
    near = turn_table(handle, curves.t_s, turns)
    far = turn_table(handle, curves.t_s, turns, 0.08)
    spent = np.where(turns.front, far.leave - near.leave, near.arrive - far.arrive)
    quickness = spent / (np.sqrt(0.08) - np.sqrt(BAND_SHARE))
    told = np.isfinite(quickness) & (quickness > 0)
    return curves.t_s[turns.index[told]], quickness[told]


def turn_table(
    handle: FloatArray, t_s: FloatArray, turns: Turns, band_share: float = BAND_SHARE
) -> TurnTable:
    """Refine every turn on the smooth curve and read when the handle comes and goes.

    Parameters
    ----------
    handle, t_s : array [shape=(M,)]
        Handle curve, px, and its times, s.
    turns : Turns
    band_share : float
        What counts as being at a turn, as a share of the travel.
    """
    count = len(turns.index)
    sign = np.where(turns.front, 1.0, -1.0)
    best = np.array([_refine(handle, turns, k) for k in range(count)], dtype=np.int64)
    travel = _travels(handle[best], turns.front)
    place = np.array(
        [
            _place(handle, best, k, sign[k], max(BAND_SHARE * travel[k], 2.0 * turns.noise_px))
            for k in range(count)
        ]
    )
    travel = _travels(place, turns.front)
    arrive, leave = np.full(count, np.nan), np.full(count, np.nan)
    for k in range(count):
        lower = best[k - 1] if k > 0 else 0
        upper = best[k + 1] if k + 1 < count else len(handle) - 1
        depth = sign[k] * (place[k] - handle)  # ≥ 0 around the turn
        arrive[k], leave[k] = _band(depth, t_s, lower, best[k], upper, band_share * travel[k])
        # The drive's ends are events; hands that creep away in the recovery are on their way.
        drive = _drive_of(turns.front, k)
        speed = travel[k] / (t_s[best[drive + 1]] - t_s[best[drive]]) if drive >= 0 else np.nan
        if turns.front[k]:
            way = slice(best[k], upper + 1)
            leave[k] = _off_for_good(depth[way], t_s[way], leave[k], travel[k], speed)
        else:
            way = slice(lower, best[k] + 1)
            back, back_s = depth[way][::-1], -t_s[way][::-1]
            arrive[k] = -_off_for_good(back, back_s, -arrive[k], travel[k], speed)
    return TurnTable(arrive, leave, place, travel)


def reversals(x: FloatArray, least: float) -> tuple[IntArray, BoolArray]:
    """Return alternating extremes of a curve.

    Parameters
    ----------
    x : array [shape=(M,)]
        NaN where not known.
    least : float
        Smallest difference between neighbouring extremes that counts, in the unit of `x`.

    Returns
    -------
    index : array [shape=(K,)] of int
    front : array [shape=(K,)] of bool
        True for a maximum.
    """
    index, front = [], []
    seen = np.flatnonzero(np.isfinite(x))
    if len(seen) == 0:
        return np.array([], dtype=np.int64), np.array([], dtype=bool)
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
    return np.array(index, dtype=np.int64), np.array(front, dtype=bool)


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
    # Noise can leave even the turn itself outside a narrow band: the turn is then what is within.
    band = float(np.fmax(band, depth[at]))
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


def _drive_of(front: BoolArray, k: int) -> int:
    """Return the turn that begins the whole drive which turn `k` is judged by; negative: none."""
    first = k if front[k] else k - 1
    if first < 0:
        first += 2
    if first + 1 >= len(front):
        first -= 2
    return first


def _off_for_good(
    depth: FloatArray, t_s: FloatArray, leave_s: float, travel: float, mean_speed: float
) -> float:
    """Return when the handle leaves a turn, also where it rests once more on the way, s.

    `depth` [shape=(m,)] is how far it is from its place from there on, at `t_s`; `mean_speed` that
    of a whole drive.
    """
    if not np.isfinite([leave_s, mean_speed]).all():
        return leave_s
    first = int(np.searchsorted(t_s, leave_s))
    beyond = np.flatnonzero(~(depth[first:] <= _RESTS_WITHIN * travel))
    end = first + (int(beyond[0]) if len(beyond) else 0)
    speed = np.diff(depth[first : end + 1]) / GRID_S
    resting = np.flatnonzero(speed < _RESTS_AT_SPEED * mean_speed)
    if not len(resting) or resting[-1] * GRID_S < _RESTS_AFTER_S:
        return leave_s
    rest = first + int(resting[-1])
    band = depth[rest] + BAND_SHARE * travel
    gone = rest + int(np.argmax(~(depth[rest:] <= band)))
    if gone == rest or np.isnan(depth[gone]):
        return leave_s
    return float(t_s[gone - 1] + GRID_S * _share(depth[gone - 1], depth[gone], band))


def _share(inside: float, outside: float, band: float) -> float:
    return (band - inside) / (outside - inside)
