"""Catches and releases, full compression, and when the handle comes and goes.

Catch: the last instant at which the handle is within 1 % of that stroke's handle travel of its
foremost place. Release: the first instant within 1 % of its place nearest to the body. Full
compression: the instant at which the seat is foremost. Where seat and handle disagree, the handle
defines the event.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.stroke.signals import Curves
from analysis.stroke.turns import Turns, turn_table

#: What events are read off.
SIGNALS_OF_EVENTS = ("handle_x", "seat_x")


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

    def shifted(self, catch_late_s: float, release_late_s: float) -> Events:
        """Return the same strokes with all catches and all releases later by so much, s."""
        front = np.where(self.compression_s == self.catch_s, catch_late_s, 0.0)
        next_front = np.where(self.next_compression_s == self.next_catch_s, catch_late_s, 0.0)
        return replace(
            self,
            compression_s=self.compression_s + front,
            next_compression_s=self.next_compression_s + next_front,
            catch_s=self.catch_s + catch_late_s,
            next_catch_s=self.next_catch_s + catch_late_s,
            release_s=self.release_s + release_late_s,
        )


def read_events(curves: Curves, turns: Turns, strokes: IntArray, slides: BoolArray) -> Events:
    """Read the events of the strokes that begin at `strokes` off the curves.

    Parameters
    ----------
    strokes : array [shape=(N,)] of int
        As :func:`whole_strokes` gave them.
    slides : array [shape=(N,)] of bool
        Whether the seat moves in that stroke; where it does not, full compression is the catch.
    """
    handle, seat = (curves.values[name] for name in SIGNALS_OF_EVENTS)
    table = turn_table(handle, curves.t_s, turns)
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
