"""The camera's roll, from the witnesses that the clip offers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray

#: A phone held level by hand rolls by about this much, degrees (common practice).
HELD_LEVEL_SE_DEG = 2.0

#: The hip's landmark drifts along the slide, rails are not laid with a level, and how square-on the
#: camera stands is known only roughly: as a witness of roll the seat's path is this good, degrees.
#: So it was on 120 rendered clips of known roll; more than 6° off on one.
SEAT_PATH_SE_DEG = 2.4

#: The seat's path contradicts the room when the two are apart by so many of their errors. At two,
#: it did on one clip in nine, and the room was right on every one of them.
_CONTRADICTS = 2.5

#: A seat that travels less than this stays where it is, trunk lengths: its landmark shows only
#: body and clothes moving, no rail. Slides in use travel by half a trunk and more.
LEAST_TRAVEL_TRUNKS = 0.2

#: A path steeper than this is no seat on its rail (the wrong person, or landmarks gone astray).
MOST_LEAN_DEG = 9.0


@dataclass(frozen=True)
class Tilt:
    """Camera roll: + when upright edges lean clockwise in the picture, degrees."""

    deg: float
    se_deg: float
    disagree: bool = False


def seat_path_lean_deg(hip_px: FloatArray, trunk_px: float) -> float:
    """Return the lean that the hip's path in the picture speaks for.

    Parameters
    ----------
    hip_px : array [shape=(T, 2), px, y down]
        Near hip of a still camera; NaN frames are left out.
    trunk_px : float
        Length of the trunk.

    Returns
    -------
    float
        Degrees, + clockwise; NaN when the seat hardly travels, or too steeply for a rail.
    """
    known = hip_px[np.all(np.isfinite(hip_px), axis=1)]
    if len(known) < 10:
        return math.nan
    x, y = known[:, 0], known[:, 1]
    low, high = np.percentile(x, [2, 98])
    travel = high - low
    if travel < max(10.0, LEAST_TRAVEL_TRUNKS * trunk_px):
        return math.nan
    if travel < 4.0 * np.percentile(np.abs(y - np.median(y)), 75):
        return math.nan
    slope = np.polyfit(x, y, 1)[0]
    lean = float(np.degrees(np.arctan(slope)))
    return lean if abs(lean) <= MOST_LEAN_DEG else math.nan


def rail_lean_deg(yaw_deg: float, camera_rise: float, facing: str) -> float:
    """Return how much a level rail slopes in the picture of a camera held level.

    Parameters
    ----------
    yaw_deg : float
        + the camera stands towards the feet.
    camera_rise : float
        Height of the camera above the rail ÷ its distance.
    facing : "left" or "right"

    Returns
    -------
    float
        Degrees, + falls to the right: the nearer end lies lower. NaN of an unknown yaw.
    """
    slope = math.degrees(math.atan(math.tan(math.radians(yaw_deg)) * camera_rise))
    return slope if facing == "right" else -slope


def camera_tilt(upright_deg: float, upright_se_deg: float, seat_path_deg: float) -> Tilt:
    """Combine the witnesses, each weighted by what is known of its error.

    Parameters
    ----------
    upright_deg, upright_se_deg : float
        From upright edges of the room; NaN when there are none.
    seat_path_deg : float
        From the seat's path; NaN when it says nothing (no slide, or a boat).

    Returns
    -------
    Tilt
        When the two witnesses disagree by more than their errors allow, the
        standard error is widened to half their difference and `disagree` says so.
    """
    values, spreads = [0.0], [HELD_LEVEL_SE_DEG]
    for value, spread in ((upright_deg, upright_se_deg), (seat_path_deg, SEAT_PATH_SE_DEG)):
        if math.isfinite(value) and math.isfinite(spread):
            values.append(value)
            spreads.append(max(spread, 0.1))
    weights = 1.0 / np.square(spreads)
    deg = float(np.average(values, weights=weights))
    se_deg = float(1.0 / np.sqrt(np.sum(weights)))
    disagree = False
    if math.isfinite(upright_deg) and math.isfinite(seat_path_deg):
        apart = abs(upright_deg - seat_path_deg)
        disagree = apart > _CONTRADICTS * math.hypot(upright_se_deg, SEAT_PATH_SE_DEG)
        if disagree:
            se_deg = max(se_deg, apart / 2.0)
    return Tilt(deg, se_deg, disagree)
