"""The athlete's strokes laid over each other: every curve on one axis from catch to catch.

0 is the catch, 1 the next catch, and the release lies where it lies on average, so that drives
and recoveries of different length fall onto each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import ANGLES
from analysis.result import Review
from analysis.stroke.progress import (
    LEAST_ELBOW_DEG,
    LEAST_SLIDE_SHARE,
    LEAST_TRUNK_DEG,
    progress,
)
from analysis.stroke.view import body_of

#: Points of a curve from catch to next catch.
POINTS = 101


@dataclass(frozen=True)
class Gate:
    """What the standard asks for at one instant of the stroke.

    ``along`` is where, 0…1; `low` and `high` are in the curve's own unit, ``None`` when open.
    ``passed`` tells whether the athlete's median lies inside.
    """

    along: float
    low: float | None
    high: float | None
    measure: str
    passed: bool


@dataclass(frozen=True)
class Curve:
    """One quantity over the stroke.

    Attributes
    ----------
    name : str
    mean, sd : array [shape=(POINTS,)]
        Over the strokes; NaN where fewer than one (mean) or two (sd) strokes show it.
    each : array [shape=(N, POINTS)]
    gates : tuple of Gate
    """

    name: str
    mean: FloatArray
    sd: FloatArray
    each: FloatArray
    gates: tuple[Gate, ...] = ()


def release_along(review: Review) -> float:
    """Return where the release lies on the common axis: the mean share of the drive."""
    strokes = review.strokes
    share = (strokes.release_s - strokes.catch_s) / (strokes.next_catch_s - strokes.catch_s)
    return float(np.mean(share)) if len(share) else math.nan


def times_along(review: Review) -> FloatArray:
    """Return the clip times of the common axis for each stroke [shape=(N, POINTS), s]."""
    strokes = review.strokes
    knots = [0.0, release_along(review), 1.0]
    events = np.stack([strokes.catch_s, strokes.release_s, strokes.next_catch_s], axis=1)
    axis = np.linspace(0.0, 1.0, POINTS)
    rows = [np.interp(axis, knots, own) for own in events]
    return np.array(rows).reshape(len(events), POINTS)


def lay_over(review: Review, values: FloatArray) -> FloatArray:
    """Return a per-frame quantity [shape=(T,)] for each stroke on the axis [shape=(N, POINTS)].

    Frames are joined by straight lines; a gap of missing frames stays missing.
    """
    return values_at(review.motion.t_s, values, times_along(review))


def values_at(t_s: FloatArray, values: FloatArray, times: FloatArray) -> FloatArray:
    """Return a per-frame quantity [shape=(T,)] at `times` [any shape, s], of the same shape.

    Frames are joined by straight lines; NaN in a gap of missing frames and outside the clip.
    """
    known = np.isfinite(values)
    if known.sum() < 2:
        return np.full(times.shape, np.nan)
    laid = np.interp(times, t_s[known], values[known])
    missing = np.interp(times, t_s, (~known).astype(np.float64)) >= 0.5
    outside = (times < t_s[known][0]) | (times > t_s[known][-1])
    return np.where(missing | outside, np.nan, laid)


def curve(review: Review, name: str, values: FloatArray, gates: tuple[Gate, ...] = ()) -> Curve:
    """Return the mean and spread of a per-frame quantity over the strokes."""
    each = lay_over(review, values)
    count = np.sum(np.isfinite(each), axis=0)
    filled = np.where(np.isfinite(each), each, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(count > 0, filled.sum(axis=0) / count, np.nan)
        off = np.where(np.isfinite(each), each - mean, 0.0)
        sd = np.where(count > 1, np.sqrt((off**2).sum(axis=0) / (count - 1)), np.nan)
    return Curve(name, mean, sd, each, gates)


def angle_curve(review: Review, name: str, gates: tuple[Gate, ...] = ()) -> Curve:
    """Return the curve of one of the motion stage's angles."""
    return curve(review, name, review.motion.angles_deg[:, ANGLES.index(name)], gates)


def front_along(review: Review) -> float:
    """Return where full compression lies on the axis: ends of the range when it is the catch."""
    strokes = review.strokes
    whole = strokes.next_catch_s - strokes.catch_s
    share = (strokes.full_compression_s - strokes.catch_s) / whole
    known = share[np.isfinite(share)]
    return float(np.clip(np.median(known), 0.0, 1.0)) if len(known) else 0.0


def gate(
    review: Review, measure: str, along: float, shift: float = 0.0, sign: float = 1.0
) -> tuple[Gate, ...]:
    """Return the gate of a judged measure, none when the standard does not judge it here.

    The curve's value is ``sign × measure + shift`` (layback is minus the trunk's lean, rounding
    is counted from neutral).
    """
    found = next((f for f in review.findings.findings if f.measure == measure), None)
    if found is None or found.level == "not applicable" or not math.isfinite(along):
        return ()
    ends = [None if v is None else sign * v + shift for v in (found.low, found.high)]
    low, high = ends if sign > 0 else ends[::-1]
    return (Gate(along, low, high, measure, found.level in ("steady", "cannot tell")),)


def drive_progress(review: Review) -> dict[str, FloatArray]:
    """Return the progress of legs, body and arms over the drive, each [shape=(N, POINTS)], 0…1.

    The drive starts at the earlier of catch and full compression. NaN for a stroke in which the
    part hardly moves or is not seen throughout.
    """
    motion, strokes = review.motion, review.strokes
    slide = body_of(motion, math.nan, math.nan).full_slide_px
    parts = {
        "legs": (motion.seat_px, LEAST_SLIDE_SHARE * slide),
        "body": (motion.angle("trunk_deg"), LEAST_TRUNK_DEG),
        "arms": (motion.angle("elbow_deg"), LEAST_ELBOW_DEG),
    }
    start_s = np.fmin(strokes.catch_s, strokes.full_compression_s)
    times = [
        np.linspace(start, end, POINTS)
        for start, end in zip(start_s, strokes.release_s, strict=True)
    ]
    return {
        name: np.array([progress(-np.interp(own, motion.t_s, values), least) for own in times])
        for name, (values, least) in parts.items()
    }


def slide_pct(review: Review) -> FloatArray:
    """Return the seat's place over time [shape=(T,)], 0 rearmost … 100 foremost in this clip."""
    seat = review.motion.seat_px
    if not np.isfinite(seat).any():
        return np.full(len(seat), np.nan)
    low, high = np.nanpercentile(seat, [1.0, 99.0])
    return np.asarray(100.0 * (seat - low) / max(float(high - low), 1e-9))


def neutral_rounding_deg(review: Review) -> float:
    """Return the neutral back angle that rounding was counted from; 0 when it is not known."""
    raw = review.strokes.measures.get("rounding_catch_raw_deg")
    over = review.strokes.measures.get("rounding_catch_deg")
    if raw is None or over is None:
        return 0.0
    gap = raw.values - over.values
    known = gap[np.isfinite(gap)]
    return float(np.median(known)) if len(known) else 0.0
