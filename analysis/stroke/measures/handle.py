"""The handle's path: level in the drive, low over the knees, no dip before the catch."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.stroke.measures.measure import NOTHING, Reading, measure
from analysis.stroke.progress import first_time, rest_place
from analysis.stroke.view import StrokeView

#: A height is read where the path rests within this share of its extreme (and of the forearm), not
#: at one wiggle.
REST_SHARE = 0.2
LEAST_REST_SHARE = 0.03

#: The dip is looked for in this last part of the handle's way forward.
LAST_SHARE = 0.15


def _above_line(view: StrokeView, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
    """Return times, and height above the straight line between the two places [px]."""
    t_s, x = view.span("handle_x", start_s, end_s)
    _, y = view.span("handle_y", start_s, end_s)
    way = (x - x[0]) / (x[-1] - x[0])
    return t_s, y - (y[0] + (y[-1] - y[0]) * way)


def _height(y: FloatArray, at: int, view: StrokeView) -> float:
    """Return the largest height, as it rests there."""
    band = max(REST_SHARE * abs(float(y[at])), LEAST_REST_SHARE * view.body.forearm_px)
    return rest_place(y, at, band)


@measure("share", "drive")
def handle_level_share(view: StrokeView) -> Reading:
    """Largest departure of the handle from the straight line catch → release ÷ forearm."""
    t_s, above = _above_line(view, view.times.catch, view.times.release)
    if np.isnan(above).any():
        return NOTHING
    at = int(np.argmax(np.abs(above)))
    return Reading(_height(np.abs(above), at, view) / view.body.forearm_px, float(t_s[at]))


@measure("share", "recovery")
def handle_loop_share(view: StrokeView) -> Reading:
    """Largest rise of the handle above the straight line release → catch ÷ forearm; 0 or more."""
    t_s, above = _above_line(view, view.times.release, view.times.next_catch)
    if np.isnan(above).any():
        return NOTHING
    at = int(np.argmax(above))
    height = max(_height(above, at, view), 0.0)
    return Reading(height / view.body.forearm_px, float(t_s[at]))


@measure("share", "last 15 % of the handle's way forward")
def handle_dip_share(view: StrokeView) -> Reading:
    """Drop of the handle in the last 15 % of its way forward ÷ forearm; 0 or more."""
    t_s, x = view.span("handle_x", view.times.release, view.times.next_catch)
    _, y = view.span("handle_y", view.times.release, view.times.next_catch)
    start = first_time(t_s, x, float(x[0] + (1.0 - LAST_SHARE) * (x[-1] - x[0])))
    late = t_s >= start
    if not late.any() or np.isnan(y[late]).any():
        return NOTHING
    drop = view.at("handle_y", start) - y[late]
    at = int(np.argmax(drop))
    deepest = max(_height(drop, at, view), 0.0)
    return Reading(deepest / view.body.forearm_px, float(t_s[late][at]))
