"""Posture at the release."""

from __future__ import annotations

from analysis.stroke.measures.measure import Reading, measure
from analysis.stroke.view import StrokeView


@measure("deg", "release")
def knee_release_deg(view: StrokeView) -> Reading:
    """Knee at the release, 180 straight: legs down."""
    return Reading(view.at("knee_deg", view.times.release), view.times.release)


@measure("deg", "release")
def layback_deg(view: StrokeView) -> Reading:
    """Trunk's lean back from vertical at the release, + back."""
    return Reading(-view.at("trunk_deg", view.times.release), view.times.release)


@measure("share", "release")
def hand_height_share(view: StrokeView) -> Reading:
    """(Wrist above hip) ÷ (shoulder above hip) at the release."""
    at = view.times.release
    hip = view.at("hip_y", at)
    value = (view.at("handle_y", at) - hip) / (view.at("shoulder_y", at) - hip)
    return Reading(value, at)


@measure("deg", "release")
def forearm_release_deg(view: StrokeView) -> Reading:
    """Forearm against horizontal at the release, + wrist above elbow."""
    return Reading(view.at("forearm_deg", view.times.release), view.times.release)


@measure("share", "release")
def hand_gap_share(view: StrokeView) -> Reading:
    """Horizontal gap from the front of the torso to the wrist at the release ÷ forearm; negative
    when the wrist is beside or past the front.
    """  # noqa: D205
    at = view.times.release
    gap = view.at("handle_x", at) - view.at("belly_x", at)
    return Reading(gap / view.body.forearm_px, at)
