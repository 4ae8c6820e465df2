"""Shape of the back and place of the head."""

from __future__ import annotations

import numpy as np

from analysis.stroke.measures.measure import NOTHING, Reading, measure
from analysis.stroke.progress import rest_place
from analysis.stroke.view import StrokeView

#: The largest rounding is read where it rests within this of its peak, degrees.
REST_DEG = 0.5


def _over_neutral(view: StrokeView, raw: Reading) -> Reading:
    return Reading(raw.value - view.body.neutral_deg, raw.moment_s)


@measure("deg", "full compression")
def rounding_catch_raw_deg(view: StrokeView) -> Reading:
    """Back rounding at full compression, + rounded, as measured."""
    return Reading(view.at("back_rounding_deg", view.times.compression), view.times.compression)


@measure("deg", "drive")
def rounding_drive_raw_deg(view: StrokeView) -> Reading:
    """Largest back rounding in the drive, + rounded, as measured."""
    t_s, rounding = view.span("back_rounding_deg", view.drive_start_s, view.times.release)
    if np.isnan(rounding).any():
        return NOTHING
    at = int(np.argmax(rounding))
    return Reading(rest_place(rounding, at, REST_DEG), float(t_s[at]))


@measure("deg", "release")
def rounding_release_raw_deg(view: StrokeView) -> Reading:
    """Back rounding at the release, + rounded, as measured."""
    return Reading(view.at("back_rounding_deg", view.times.release), view.times.release)


@measure("deg", "full compression")
def rounding_catch_deg(view: StrokeView) -> Reading:
    """Back rounding at full compression over the athlete's neutral, + rounded."""
    return _over_neutral(view, rounding_catch_raw_deg.read(view))


@measure("deg", "drive")
def rounding_drive_deg(view: StrokeView) -> Reading:
    """Largest back rounding in the drive over the athlete's neutral, + rounded."""
    return _over_neutral(view, rounding_drive_raw_deg.read(view))


@measure("deg", "release")
def rounding_release_deg(view: StrokeView) -> Reading:
    """Back rounding at the release over the athlete's neutral, + rounded."""
    return _over_neutral(view, rounding_release_raw_deg.read(view))


@measure("deg", "whole stroke")
def head_deg(view: StrokeView) -> Reading:
    """Ear − shoulder line against the trunk, median over the stroke, + head forward."""
    t_s, head = view.span("head_deg", view.times.catch, view.times.next_catch)
    seen = np.isfinite(head)
    if seen.mean() < 0.5:
        return NOTHING
    value = float(np.median(head[seen]))
    furthest = int(np.argmax(np.where(seen, np.sign(value) * head, -np.inf)))
    return Reading(value, float(t_s[furthest]))
