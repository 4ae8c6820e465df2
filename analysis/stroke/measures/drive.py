"""Sequence of the drive: legs, then body, then arms, and the handle going with the seat."""

from __future__ import annotations

import numpy as np

from analysis.stroke.measures.measure import NOTHING, Reading, measure
from analysis.stroke.progress import first_time, rest_place
from analysis.stroke.view import StrokeView

#: The back is open when it has made this share of its swing.
OPEN_SHARE = 0.2

#: The arms bend when the elbow has closed by this from its straightest, degrees.
BEND_DEG = 15.0

#: The seat's lead is read where it rests within this share of its largest.
LEAD_REST_SHARE = 0.2


@measure("share", "drive")
def legs_at_back_open(view: StrokeView) -> Reading:
    """Legs' progress when the back has made the first 20 % of its swing."""
    at = view.back.reaches(OPEN_SHARE)
    return Reading(view.legs.at(at), at)


@measure("share", "drive")
def legs_at_arm_bend(view: StrokeView) -> Reading:
    """Legs' progress when the elbow has closed 15° from its straightest in the first tenth."""
    if np.isnan(view.arms.done).any():
        return NOTHING
    t_s, elbow = view.span("elbow_deg", view.drive_start_s, view.times.release)
    tenth = view.drive_start_s + (view.times.release - view.drive_start_s) / 10
    early = elbow[t_s <= tenth]
    straight = rest_place(early, int(np.argmax(early)), 3.0)
    at = first_time(t_s, -elbow, BEND_DEG - straight)
    return Reading(view.legs.at(at), at)


@measure("share", "full compression to half the slide")
def seat_slip_share(view: StrokeView) -> Reading:
    """Largest lead of the seat over the handle in the first half of the slide ÷ the seat's travel,
    both counted from the seat's own turn; 0 when the handle goes with it.
    """  # noqa: D205
    if not view.slides or np.isnan(view.legs.done).any():
        return NOTHING
    start = view.times.compression
    t_s, seat = view.span("seat_x", start, view.times.release)
    _, handle = view.span("handle_x", start, view.times.release)
    gone = seat[0] - seat
    whole = float(np.max(gone))
    half = first_time(t_s, gone, whole / 2)
    lead = np.where(t_s <= half, gone - (handle[0] - handle), -np.inf)
    if np.isnan(lead).any():
        return NOTHING
    at = int(np.argmax(lead))
    largest = rest_place(lead, at, LEAD_REST_SHARE * float(lead[at]))
    return Reading(largest / whole, float(t_s[at]))
