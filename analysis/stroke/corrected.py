"""Events that a coach put right by hand, and strokes left out, before anything is measured."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.coach_marks import LEAST_S, MATCH_S, CoachMarks
from analysis.errors import SettingsError
from analysis.stroke.events import Events


@dataclass(frozen=True)
class Fixed:
    """Times that a coach gave [each shape=(N,), s]; NaN where an event stays as it was found."""

    catch_s: FloatArray
    release_s: FloatArray
    next_catch_s: FloatArray

    def over(self, events: Events) -> Events:
        """Return `events` with the fixed times in the place of what was found.

        What hangs on an event goes with it: full compression where the seat does not slide, and
        the times at which the handle came and went.
        """
        catch = _or(self.catch_s, events.catch_s)
        release = _or(self.release_s, events.release_s)
        after = _or(self.next_catch_s, events.next_catch_s)
        still = events.compression_s == events.catch_s
        next_still = events.next_compression_s == events.next_catch_s
        return replace(
            events,
            catch_s=catch,
            release_s=release,
            next_catch_s=after,
            away_s=np.maximum(events.away_s, _or(self.release_s, events.away_s)),
            arrival_s=np.minimum(events.arrival_s, _or(self.next_catch_s, events.arrival_s)),
            compression_s=np.where(still, catch, events.compression_s),
            next_compression_s=np.where(next_still, after, events.next_compression_s),
        )

    def of(self, kept: BoolArray) -> Fixed:
        """Return the same for the strokes that are kept [shape=(N,)]."""
        return Fixed(self.catch_s[kept], self.release_s[kept], self.next_catch_s[kept])


def take_up(events: Events, marks: CoachMarks) -> tuple[BoolArray, Fixed]:
    """Find the events and strokes that a coach's marks mean.

    Parameters
    ----------
    events : Events
        As they were found.
    marks : CoachMarks

    Returns
    -------
    kept : array [shape=(N,)] of bool
        False for strokes left out.
    fixed : Fixed
        For all N strokes.

    Raises
    ------
    SettingsError
        When there is no such event or stroke, or the times are out of order.
    """
    count = events.count
    catch, release, after = (np.full(count, np.nan) for _ in range(3))
    for moved in marks.moved:
        found = events.catch_s if moved.event == "catch" else events.release_s
        k = _nearest(found, moved.was_s, moved.event, marks)
        if moved.event == "release":
            release[k] = moved.at_s
        else:
            catch[k] = moved.at_s
            after[np.abs(events.next_catch_s - found[k]) < 1e-6] = moved.at_s
    kept = np.ones(count, dtype=np.bool_)
    for time in marks.left_out:
        kept[_nearest(events.catch_s, time, "catch", marks)] = False
    fixed = Fixed(catch, release, after)
    _check_order(fixed.over(events), kept, marks)
    return kept, fixed


def _nearest(found: FloatArray, time: float, event: str, marks: CoachMarks) -> int:
    away = np.abs(found - time)
    if not len(away) or not np.nanmin(away) <= MATCH_S:
        raise SettingsError(
            f"{marks.source} means a {event} at {time:.2f} s, and none was found there: make the "
            "corrections again on a page of this clip without any."
        )
    return int(np.nanargmin(away))


def _check_order(events: Events, kept: BoolArray, marks: CoachMarks) -> None:
    """Raise where a kept stroke's catch, release and next catch are not in order."""
    drive = events.release_s - events.catch_s
    back = events.next_catch_s - events.release_s
    wrong = kept & ~((drive >= LEAST_S) & (back >= LEAST_S))
    if wrong.any():
        at = float(events.catch_s[int(np.argmax(wrong))])
        raise SettingsError(
            f"{marks.source} leaves less than {LEAST_S} s between a catch and a release of the "
            f"stroke that begins at {at:.2f} s: move them the other way or leave the stroke out."
        )


def _or(given: FloatArray, found: FloatArray) -> FloatArray:
    return np.where(np.isfinite(given), given, found)
