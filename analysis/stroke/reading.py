"""The whole strokes of a motion, and every measure read on its curves."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.coach_marks import CoachMarks
from analysis.motion.motion import Motion, TurnError
from analysis.stroke.corrected import Fixed, take_up
from analysis.stroke.events import SIGNALS_OF_EVENTS, Events, read_events
from analysis.stroke.measures import MEASURES
from analysis.stroke.progress import LEAST_SLIDE_SHARE, span_of
from analysis.stroke.signals import Curves, Signals, signals_of
from analysis.stroke.turns import Turns, find_turns, quickness_of_turns
from analysis.stroke.view import Body, StrokeTimes, StrokeView
from analysis.stroke.whole import whole_strokes


@dataclass(frozen=True)
class Rowing:
    """What is found once, and read again on every changed copy of the curves.

    Attributes
    ----------
    turns : Turns
    strokes : array [shape=(N,)] of int
        Turns that begin a whole stroke.
    slides : array [shape=(N,)] of bool
        Whether the seat moves in it.
    body : Body
    late : TurnError
        What is known of the error of the handle's turns in time.
    fixed : Fixed or None
        Times that a coach put right by hand.
    """

    turns: Turns
    strokes: IntArray
    slides: BoolArray
    body: Body
    late: TurnError
    fixed: Fixed | None = None

    def with_marks(self, curves: Curves, marks: CoachMarks) -> Rowing:
        """Return the rowing with a coach's marks taken up; ``SettingsError`` if they do not fit."""
        events = _events(curves, self)
        kept, fixed = take_up(events, marks)
        return replace(
            self, strokes=self.strokes[kept], slides=self.slides[kept], fixed=fixed.of(kept)
        )


def find_rowing(motion: Motion, body: Body) -> tuple[Signals, Rowing]:
    """Return the signals, with windows fit for the clip's rhythm, and the whole strokes in them."""
    signals = signals_of(motion)
    handle = signals.only("handle_x").curves
    turns = find_turns(handle.values["handle_x"], body.arm_px)
    turn_s, quickness_s = quickness_of_turns(handle, turns)
    if len(turn_s):
        signals = signals.fitted_to(turn_s, quickness_s)
    if len(turns.index):
        turns = replace(turns, noise_px=signals.curve_noise("handle_x"))
    rhythm_only = not np.isfinite(motion.angles_deg).any()
    strokes = whole_strokes(signals.curves, turns, roughly=rhythm_only)
    slides = np.array([
        span_of(signals.curves.values["seat_x"][turns.index[k] : turns.index[k + 2]])
        >= LEAST_SLIDE_SHARE * body.full_slide_px
        for k in strokes
    ], dtype=bool)  # fmt: skip
    return signals, Rowing(turns, strokes, slides, body, motion.turns)


def read_measures(
    curves: Curves,
    rowing: Rowing,
    *,
    catch_late_s: float = 0.0,
    release_late_s: float = 0.0,
    only: Collection[int] | None = None,
) -> tuple[Events, FloatArray, FloatArray]:
    """Read every measure on one copy of the curves.

    Parameters
    ----------
    curves : Curves
    rowing : Rowing
    catch_late_s, release_late_s : float
        Shift all catches, all releases, by so much more, s: to see what that would do.
    only : collection of int, optional
        Places in ``MEASURES`` of those that are read; the others are left NaN.

    Returns
    -------
    events : Events
    values, moments : array [shape=(N, measures)]
        In the order of ``MEASURES``; NaN where a measure cannot be told.
    """
    events = _fixed_events(curves, rowing).shifted(catch_late_s, release_late_s)
    values = np.full((events.count, len(MEASURES)), np.nan)
    moments = np.full_like(values, np.nan)
    for k in range(events.count):
        view = _view(curves, events, rowing, k)
        for i, m in enumerate(MEASURES):
            if only is None or i in only:
                values[k, i], moments[k, i] = m.read(view)
    moments[np.isnan(values)] = np.nan
    return events, values, moments


def measures_that_read(curves: Curves, rowing: Rowing) -> dict[str, set[int]]:
    """Return, by signal, the places in ``MEASURES`` of those that look at it in any stroke.

    As long as the others stay, a change of one signal cannot reach any other measure.
    """
    events = _fixed_events(curves, rowing)
    every = set(range(len(MEASURES)))
    readers = {name: set(every) if name in SIGNALS_OF_EVENTS else set() for name in curves.values}
    for i, m in enumerate(MEASURES):
        noting = _Noting(curves.t_s, curves.values)
        for k in range(events.count):
            m.read(_view(noting, events, rowing, k))
        for name in noting.asked:
            readers[name].add(i)
    return readers


@dataclass(frozen=True)
class _Noting(Curves):
    """Curves that note which of them were asked for."""

    asked: set[str] = field(default_factory=set)

    def at(self, name: str, time_s: float) -> float:
        self.asked.add(name)
        return super().at(name, time_s)

    def span(self, name: str, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
        self.asked.add(name)
        return super().span(name, start_s, end_s)


def _view(curves: Curves, events: Events, rowing: Rowing, k: int) -> StrokeView:
    times = StrokeTimes(
        catch=float(events.catch_s[k]),
        release=float(events.release_s[k]),
        away=float(events.away_s[k]),
        arrival=float(events.arrival_s[k]),
        next_catch=float(events.next_catch_s[k]),
        compression=float(events.compression_s[k]),
        next_compression=float(events.next_compression_s[k]),
    )
    slides = bool(rowing.slides[k])
    return StrokeView(curves, times, float(events.travel_px[k]), rowing.body, slides)


def _fixed_events(curves: Curves, rowing: Rowing) -> Events:
    events = _events(curves, rowing)
    return events if rowing.fixed is None else rowing.fixed.over(events)


def _events(curves: Curves, rowing: Rowing) -> Events:
    """Read the events, with what they are known to be late by taken out."""
    events = read_events(curves, rowing.turns, rowing.strokes, rowing.slides)
    return events.shifted(-rowing.late.catch_late_s, -rowing.late.release_late_s)
