"""Posture at the front, read at full compression, before the drive."""

from __future__ import annotations

from analysis.stroke.measures.measure import Reading, measure
from analysis.stroke.view import StrokeView


def _at_front(view: StrokeView, name: str) -> Reading:
    return Reading(view.at(name, view.times.compression), view.times.compression)


@measure("deg", "full compression")
def catch_trunk_deg(view: StrokeView) -> Reading:
    """Trunk against vertical at full compression, + forward: the reach from the hips."""
    return _at_front(view, "trunk_deg")


@measure("deg", "full compression")
def shin_catch_deg(view: StrokeView) -> Reading:
    """Shin against vertical at full compression, + knee beyond the ankle."""
    return _at_front(view, "shin_deg")


@measure("deg", "full compression")
def knee_catch_deg(view: StrokeView) -> Reading:
    """Knee at full compression, 180 straight."""
    return _at_front(view, "knee_deg")


@measure("deg", "full compression")
def elbow_catch_deg(view: StrokeView) -> Reading:
    """Elbow at full compression, 180 straight."""
    return _at_front(view, "elbow_deg")
