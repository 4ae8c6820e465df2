"""The whole strokes of a motion, and every measure read on its curves."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.coach_marks import CoachMarks
from analysis.motion.motion import Motion, TurnError
from analysis.stroke.corrected import Fixed, take_up
from analysis.stroke.events import Events, read_events
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
    curves: Curves, rowing: Rowing, *, catch_late_s: float = 0.0, release_late_s: float = 0.0
) -> tuple[Events, FloatArray, FloatArray]:
    """Read every measure on one copy of the curves.

    Parameters
    ----------
    curves : Curves
    rowing : Rowing
    catch_late_s, release_late_s : float
        Shift all catches, all releases, by so much more, s: to see what that would do.

    Returns
    -------
    events : Events
    values, moments : array [shape=(N, measures)]
        In the order of ``MEASURES``; NaN where a measure cannot be told.
    """
    events = _events(curves, rowing)
    if rowing.fixed is not None:
        events = rowing.fixed.over(events)
    events = events.shifted(catch_late_s, release_late_s)
    values = np.full((events.count, len(MEASURES)), np.nan)
    moments = np.full_like(values, np.nan)
    for k in range(events.count):
        view = StrokeView(
            curves,
            StrokeTimes(
                catch=float(events.catch_s[k]),
                release=float(events.release_s[k]),
                away=float(events.away_s[k]),
                arrival=float(events.arrival_s[k]),
                next_catch=float(events.next_catch_s[k]),
                compression=float(events.compression_s[k]),
                next_compression=float(events.next_compression_s[k]),
            ),
            float(events.travel_px[k]),
            rowing.body,
            bool(rowing.slides[k]),
        )
        for i, m in enumerate(MEASURES):
            values[k, i], moments[k, i] = m.read(view)
    moments[np.isnan(values)] = np.nan
    return events, values, moments


def _events(curves: Curves, rowing: Rowing) -> Events:
    """Read the events, with what they are known to be late by taken out."""
    events = read_events(curves, rowing.turns, rowing.strokes, rowing.slides)
    return events.shifted(-rowing.late.catch_late_s, -rowing.late.release_late_s)
