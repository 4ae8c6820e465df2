"""From motion to strokes: events, phases, stage, and every measure with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.errors import TooFewStrokesError
from analysis.motion.motion import Motion
from analysis.stroke.events import Events, read_events
from analysis.stroke.measures import MEASURES
from analysis.stroke.phases import phase_of_frames
from analysis.stroke.progress import LEAST_SLIDE_SHARE, span_of
from analysis.stroke.signals import Curves, Signals, signals_of
from analysis.stroke.stage import stage_of_clip, stage_of_stroke
from analysis.stroke.strokes import MeasureColumn, Stage, Strokes
from analysis.stroke.turns import Turns, find_turns, quickness_of_turns
from analysis.stroke.view import Body, StrokeTimes, StrokeView, body_of
from analysis.stroke.whole import whole_strokes

#: Draws of the frame-to-frame noise from which each value's standard error is taken. With 40 the
#: standard error is itself good to about 11 %.
DRAWS = 40
_SEED = 20_23


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
    """

    turns: Turns
    strokes: IntArray
    slides: BoolArray
    body: Body


def analyse_strokes(
    motion: Motion,
    *,
    stage: Stage | None = None,
    neutral_raw_deg: float = float("nan"),
    stature_m: float | None = None,
) -> Strokes:
    """Find the whole strokes of a clip and measure them.

    Parameters
    ----------
    motion : Motion
    stage : str or None
        The stage that the coach named; ``None`` to recognise it.
    neutral_raw_deg : float
        Raw back angle that counts as neutral where the clip does not show the athlete's own
        (``motion.neutral_rounding_deg``); NaN leaves the rounding over neutral empty.
    stature_m : float or None
        Body height; with it the stroke length is told in metres too.

    Returns
    -------
    Strokes

    Raises
    ------
    TooFewStrokesError
        Fewer than two whole strokes.

    Notes
    -----
    A value's ``se`` is its spread when the frame-to-frame noise of every signal is drawn again
    and events and measures are read again. Its ``bias_se`` adds up what a lasting error of each
    signal would do, one after the other, taken to differ between the front and the back of the
    stroke, as the pose models' errors do.
    """
    neutral = motion.neutral_rounding_deg
    body = body_of(
        motion,
        neutral if np.isfinite(neutral) else neutral_raw_deg,
        stature_m if stature_m else float("nan"),
    )
    signals, rowing = find_rowing(motion, body)
    if len(rowing.strokes) < 2:
        raise TooFewStrokesError(_too_few(len(rowing.strokes)))
    events, values, moments = read_measures(signals.curves, rowing)
    stages = _stages(signals.curves, events, body)
    phase, stroke = phase_of_frames(motion.t_s, events)
    se, bias = _noise_se(signals, rowing, values), _bias_se(signals, rowing, values)
    measures = {
        m.name: MeasureColumn(m.name, m.unit, values[:, i], se[:, i], float(bias[i]), moments[:, i])
        for i, m in enumerate(MEASURES)
        if m.name != "stroke_length_m" or stature_m
    }
    return Strokes(
        catch_s=events.catch_s,
        release_s=events.release_s,
        next_catch_s=events.next_catch_s,
        full_compression_s=events.compression_s,
        phase=phase,
        stroke=stroke,
        stage=stage or stage_of_clip(stages),
        stage_named=stage is not None,
        stage_of_stroke=stages,
        setting=motion.setting,
        measures=measures,
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
    strokes = whole_strokes(signals.curves, turns)
    slides = np.array([
        span_of(signals.curves.values["seat_x"][turns.index[k] : turns.index[k + 2]])
        >= LEAST_SLIDE_SHARE * body.full_slide_px
        for k in strokes
    ], dtype=bool)  # fmt: skip
    return signals, Rowing(turns, strokes, slides, body)


def read_measures(curves: Curves, rowing: Rowing) -> tuple[Events, FloatArray, FloatArray]:
    """Return events, values and moments [shape=(N, measures)] on one copy of the curves."""
    events = read_events(curves, rowing.turns, rowing.strokes, rowing.slides)
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


def _noise_se(signals: Signals, rowing: Rowing, values: FloatArray) -> FloatArray:
    """Return the standard error of every value from frame-to-frame noise [shape=(N, measures)].

    Half of what lies between the 16th and the 84th percentile of the draws: the curves hold one
    helping of noise already, and the second on top of it now and then crosses a threshold that
    no clip would, which must not count as the common case. Noise also moves the middle of a
    largest value or a clipped share; what it moves it by counts too.
    """
    rng = np.random.default_rng(_SEED)
    draws = np.array([read_measures(signals.shaken_curves(rng), rowing)[1] for _ in range(DRAWS)])
    told = np.sum(np.isfinite(draws), axis=0) >= DRAWS / 2
    se = np.full(values.shape, np.nan)
    low, middle, high = np.nanpercentile(draws[:, told], [15.87, 50.0, 84.13], axis=0)
    se[told] = np.hypot((high - low) / 2, np.nan_to_num(middle - values[told]))
    return se


def _bias_se(signals: Signals, rowing: Rowing, values: FloatArray) -> FloatArray:
    """Return the standard error of what all strokes share [shape=(measures,)]."""
    handle = signals.curves.values["handle_x"]
    places = handle[rowing.turns.index]
    front = float(np.nanmedian(places[rowing.turns.front]))
    back = float(np.nanmedian(places[~rowing.turns.front]))
    forward = np.clip(np.nan_to_num((handle - back) / (front - back)), 0.0, 1.0)
    square = np.zeros(values.shape[1])
    for name, signal in signals.by_name.items():
        if not np.any(signal.bias_se > 0):
            continue
        for share in (forward, 1.0 - forward):
            changed = read_measures(signals.bent_curves(name, share), rowing)[1]
            square += _shift(changed, values) ** 2
    lengths = float(np.max(signals.by_name["handle_x"].bias_se)) * np.sqrt(2.0)
    if lengths > 0:
        for name in ("forearm_px", "reach_px"):
            body = replace(rowing.body, **{name: getattr(rowing.body, name) + lengths})
            changed = read_measures(signals.curves, replace(rowing, body=body))[1]
            square += _shift(changed, values) ** 2
    return np.sqrt(square)


def _shift(changed: FloatArray, values: FloatArray) -> FloatArray:
    """Return the median change over the strokes [shape=(measures,)], 0 where nothing is told."""
    change = changed - values
    return np.array([np.nanmedian(c) if np.isfinite(c).any() else 0.0 for c in change.T])


def _stages(curves: Curves, events: Events, body: Body) -> tuple[Stage, ...]:
    stages = []
    for k in range(events.count):
        start = min(events.catch_s[k], events.compression_s[k])
        seat = span_of(curves.span("seat_x", start, events.next_catch_s[k])[1])
        swing = span_of(curves.span("trunk_deg", start, events.release_s[k])[1])
        stages.append(stage_of_stroke(seat / body.full_slide_px, swing))
    return tuple(stages)


def _too_few(count: int) -> str:
    found = "No whole stroke was found" if count == 0 else "Only one whole stroke was found"
    return (
        f"{found}, and at least two are needed. Film ten strokes or so from the side, "
        "with hands, seat and feet in the picture from before the first catch until after the last."
    )
