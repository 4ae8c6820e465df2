"""Sequence of the recovery: hands away, body over, then the slide."""

from __future__ import annotations

import numpy as np

from analysis.stroke.measures.measure import Reading, measure
from analysis.stroke.progress import first_time
from analysis.stroke.view import StrokeView

#: Without a slide, "arms away" is asked for when the trunk has come so far forward, degrees.
BODY_COMES_DEG = 5.0


@measure("share", "release to knees rising")
def body_over_share(view: StrokeView) -> Reading:
    """Share of the trunk's swing forward done when the knees start to rise."""
    at = view.knees_rise_s
    return Reading(view.body_over.at(at), at)


@measure("share", "release to knees rising; to trunk 5° forward where the seat stays")
def arms_away_share(view: StrokeView) -> Reading:
    """Share of the arms' straightening done when the knees start to rise, or where the seat stays,
    when the trunk comes 5° forward of vertical.
    """  # noqa: D205
    at = view.knees_rise_s if view.slides else _trunk_comes_s(view)
    return Reading(view.arms_away.at(at), at)


def _trunk_comes_s(view: StrokeView) -> float:
    """When the trunk passes 5° forward in the recovery; NaN when it hardly swings."""
    if np.isnan(view.body_over.done).any():
        return float("nan")
    t_s, trunk = view.span("trunk_deg", view.times.release, view.times.next_compression)
    return first_time(t_s, trunk, BODY_COMES_DEG)


@measure("deg", "last quarter of the slide")
def lunge_deg(view: StrokeView) -> Reading:
    """Trunk at full compression − trunk with a quarter of the slide to go, + reaching forward."""
    end = view.times.next_compression
    late = view.slide_time(0.75)
    return Reading(view.at("trunk_deg", end) - view.at("trunk_deg", late), end)
