"""From motion to strokes: events, phases, stage, and every measure with its uncertainty."""

from __future__ import annotations

import numpy as np

from analysis.coach_marks import CoachMarks
from analysis.errors import TooFewStrokesError
from analysis.motion.motion import Motion
from analysis.stroke.events import Events
from analysis.stroke.measures import MEASURES
from analysis.stroke.phases import phase_of_frames
from analysis.stroke.progress import span_of
from analysis.stroke.reading import find_rowing, read_measures
from analysis.stroke.signals import Curves
from analysis.stroke.stage import stage_of_clip, stage_of_stroke
from analysis.stroke.strokes import MeasureColumn, Stage, Strokes
from analysis.stroke.uncertainty import bias_se, noise_se
from analysis.stroke.view import Body, body_of


def analyse_strokes(
    motion: Motion,
    *,
    stage: Stage | None = None,
    neutral_raw_deg: float = float("nan"),
    stature_m: float | None = None,
    marks: CoachMarks | None = None,
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
    marks : CoachMarks or None
        What a coach put right by hand: catches, releases, strokes left out.

    Returns
    -------
    Strokes

    Raises
    ------
    TooFewStrokesError
        Fewer than two whole strokes, or fewer than two that were not left out.
    SettingsError
        When the marks do not fit what was found.

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
        raise TooFewStrokesError(_too_few(len(rowing.strokes)), len(rowing.strokes))
    if marks is not None:
        rowing = rowing.with_marks(signals.curves, marks)
        if len(rowing.strokes) < 2:
            raise TooFewStrokesError(_LEFT_OUT, len(rowing.strokes))
    events, values, moments = read_measures(signals.curves, rowing)
    stages = _stages(signals.curves, events, body)
    phase, stroke = phase_of_frames(motion.t_s, events)
    se, bias = noise_se(signals, rowing, values), bias_se(signals, rowing, values)
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


def _stages(curves: Curves, events: Events, body: Body) -> tuple[Stage, ...]:
    stages = []
    for k in range(events.count):
        start = min(events.catch_s[k], events.compression_s[k])
        seat = span_of(curves.span("seat_x", start, events.next_catch_s[k])[1])
        swing = span_of(curves.span("trunk_deg", start, events.release_s[k])[1])
        stages.append(stage_of_stroke(seat / body.full_slide_px, swing))
    return tuple(stages)


_LEFT_OUT = (
    "The corrections leave out so many strokes that fewer than two are left: keep at least two, "
    "or film more."
)


def _too_few(count: int) -> str:
    found = "No whole stroke was found" if count == 0 else "Only one whole stroke was found"
    return (
        f"{found}, and at least two are needed. Film ten strokes or so from the side, "
        "with hands, seat and feet in the picture from before the first catch until after the last."
    )
