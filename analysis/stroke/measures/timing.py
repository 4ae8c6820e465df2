"""Rhythm: rate, drive and recovery, the slide's share, dwell at the front, stroke length."""

from __future__ import annotations

import numpy as np

from analysis.stroke.measures.measure import NOTHING, Reading, measure
from analysis.stroke.view import REACH_OF_STATURE, StrokeView


@measure("1/min", "catch, next catch")
def rate_spm(view: StrokeView) -> Reading:
    """Strokes a minute: 60 ÷ (next catch − catch)."""
    return Reading(60.0 / (view.times.next_catch - view.times.catch), view.times.catch)


@measure("s", "catch, release")
def drive_s(view: StrokeView) -> Reading:
    """Catch to release."""
    return Reading(view.times.release - view.times.catch, view.times.release)


@measure("s", "release, next catch")
def recovery_s(view: StrokeView) -> Reading:
    """Release to next catch."""
    return Reading(view.times.next_catch - view.times.release, view.times.next_catch)


@measure("share", "catch, release, next catch")
def ratio(view: StrokeView) -> Reading:
    """Recovery ÷ drive; above 1 the recovery takes longer."""
    times = view.times
    value = (times.next_catch - times.release) / (times.release - times.catch)
    return Reading(value, (times.release + times.next_catch) / 2)


@measure("share", "recovery")
def slide_time_share(view: StrokeView) -> Reading:
    """Slide time (2 % of the seat's way forward → full compression) ÷ recovery time."""
    start = view.slide_time(0.02)
    slide = view.times.next_compression - start
    return Reading(slide / (view.times.next_catch - view.times.release), start)


@measure("share", "recovery")
def front_speed_share(view: StrokeView) -> Reading:
    """Mean seat speed over the last quarter of the slide's way ÷ over the whole slide; above 1 the
    seat speeds up into the catch.
    """  # noqa: D205
    start, late, end = view.slide_time(0.02), view.slide_time(0.75), view.times.next_compression
    if not start < late < end:
        return NOTHING
    return Reading(0.25 / (end - late) * (end - start) / 0.98, (late + end) / 2)


@measure("s", "arrival at the front, next catch")
def catch_dwell_s(view: StrokeView) -> Reading:
    """How long the handle stays within 1 % of its foremost place before the next drive."""
    dwell = view.times.next_catch - view.times.arrival
    return Reading(dwell, (view.times.arrival + view.times.next_catch) / 2)


@measure("share", "drive")
def stroke_length_share(view: StrokeView) -> Reading:
    """Handle travel ÷ (upper arm + forearm + trunk + thigh)."""
    return Reading(view.travel_px / view.body.reach_px, view.times.catch)


@measure("m", "drive")
def stroke_length_m(view: StrokeView) -> Reading:
    """Handle travel in metres, scaled by the athlete's stature; only when stature is known."""
    share = view.travel_px / view.body.reach_px
    return Reading(share * REACH_OF_STATURE * view.body.stature_m, view.times.catch)


def _peak_pct(view: StrokeView, name: str, done_known: bool) -> Reading:
    """When a signal falls fastest, % of the drive from its start to the release."""
    if not done_known:
        return NOTHING
    start, release = view.drive_start_s, view.times.release
    t_s, x = view.span(name, start, release)
    inner = slice(1, -1)  # the ends are not evenly spaced
    speed = -np.gradient(x[inner], t_s[inner])
    at = float(t_s[inner][int(np.argmax(speed))])
    return Reading(100.0 * (at - start) / (release - start), at)


@measure("pct", "drive")
def legs_peak_pct(view: StrokeView) -> Reading:
    """When the seat moves back fastest, % of the drive."""
    return _peak_pct(view, "seat_x", bool(np.isfinite(view.legs.done).all()) and view.slides)


@measure("pct", "drive")
def back_peak_pct(view: StrokeView) -> Reading:
    """When the trunk opens fastest, % of the drive."""
    return _peak_pct(view, "trunk_deg", bool(np.isfinite(view.back.done).all()))


@measure("pct", "drive")
def arms_peak_pct(view: StrokeView) -> Reading:
    """When the elbow closes fastest, % of the drive."""
    return _peak_pct(view, "elbow_deg", bool(np.isfinite(view.arms.done).all()))
