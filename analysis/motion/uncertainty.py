"""How far off joints and angles may be: spread of the witnesses, standard errors of the angles."""

from __future__ import annotations

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion.evidence import MODELS
from analysis.motion.fit import FittedRower
from analysis.motion.learned import Learned
from analysis.motion.motion import ANGLES, JOINTS
from analysis.motion.rules import FITTED
from analysis.motion.tilt import Tilt

#: Spread of a landmark for which nothing was learned, share of the trunk's length.
_USUAL_SHARE = 0.06

#: A model cannot place a joint better than this in the picture, px: it counts on small athletes.
_PIXEL_FLOOR = 0.8

#: Where the models see different bodies, it is mostly MediaPipe that went over to a neighbour
#: (knees 0.3 trunks apart: Thunder right in 82 %, MediaPipe in 3 % of 368 frames of rendered
#: clips): its landmarks then count as this much further off.
_GONE_OVER = 3.0

#: Angles against vertical, which carry the camera's tilt whole.
_AGAINST_VERTICAL = ("trunk_deg", "shin_deg", "forearm_deg")

#: Frames that no model saw are bridged by the mechanics: their errors are this much larger.
_BRIDGED = 2.0

#: Joints that each angle is made of.
_MADE_OF = {
    "trunk_deg": ("hip", "shoulder"),
    "shin_deg": ("ankle", "knee"),
    "knee_deg": ("hip", "knee", "ankle"),
    "hip_deg": ("shoulder", "hip", "knee"),
    "elbow_deg": ("shoulder", "elbow", "wrist"),
    "forearm_deg": ("elbow", "wrist"),
    "head_deg": ("ear", "shoulder", "hip"),
    "back_rounding_deg": ("hip", "shoulder"),
}


def witness_spread_px(
    score: FloatArray, stands_for: FloatArray, torn: BoolArray, unit_px: float, numbers: Learned
) -> FloatArray:
    """Return how far each landmark is believed to be off, one coordinate [shape=(W, T, J), px].

    Parameters
    ----------
    score : array [shape=(W, T, J)]
        A landmark scored at 0.7 or more has the scatter that was learned; a worse one more.
    stands_for : array [shape=(W, T)]
        How many frames each look stands for (:class:`evidence.Evidence`): a model's errors last for
        longer than a few, so that it has the say of as many.
    torn : array [shape=(T, J)] of bool
        Joints that the models do not see in the same place (:func:`evidence.apart`).
    unit_px : float
        Length of the trunk, px.
    numbers : Learned
    """
    share = np.where(np.isfinite(numbers.spread), numbers.spread, _USUAL_SHARE)
    spread = np.hypot(share * unit_px, _PIXEL_FLOOR)[:, None, :]
    spread = spread / np.sqrt(stands_for[:, :, None] * np.clip(score / 0.7, 0.1, 1.0))
    spread[MODELS.index("mediapipe")][torn] *= _GONE_OVER
    return np.asarray(spread)


def disagreement(rower: FittedRower, unit_px: float, numbers: Learned) -> float:
    """Return how much more than usual the witnesses scatter about the fit: 1 as usual, at most 3.

    Where nothing was learned for a joint it says nothing.
    """
    at = [JOINTS.index(name) for name in FITTED]
    usual = np.hypot(numbers.spread[:, at] * unit_px, _PIXEL_FLOOR)
    ratio = rower.scatter_px / usual
    told = ratio[np.isfinite(ratio)]
    return float(np.clip(np.sqrt(np.mean(told**2)), 1.0, 3.0)) if len(told) else 1.0


def angle_se_deg(
    angle_values: FloatArray,
    filled: BoolArray,
    tilt: Tilt,
    rower: FittedRower,
    back_less_certain: float,
    numbers: Learned,
) -> tuple[FloatArray, FloatArray]:
    """Return the standard error of every angle, and the systematic part of it.

    Parameters
    ----------
    angle_values : array [shape=(T, A)]
        Angles, degrees; NaN gives NaN.
    filled : array [shape=(T, J)] of bool
        Joints that were bridged instead of seen.
    tilt : Tilt
    rower : FittedRower
    back_less_certain : float
        How many times less certain the back is than usual (:class:`back_rounding.OwnBack`).
    numbers : Learned
        Errors on clips not learned from, by the angle's own value.

    Returns
    -------
    total, systematic : array [shape=(T, A)], deg
    """
    unit = rower.segments_px["trunk"]
    worse = disagreement(rower, unit, numbers)
    more_tilt = max(0.0, tilt.se_deg**2 - numbers.tilt_se_deg**2)
    pixel = np.degrees(np.sqrt(2.0) * _PIXEL_FLOOR / unit)
    total = np.full_like(angle_values, np.nan)
    systematic = np.full_like(angle_values, np.nan)
    for column, name in enumerate(ANGLES):
        left = numbers.left_over[name]
        value = angle_values[:, column]
        known = np.interp(np.nan_to_num(value), left.at_deg, left.se_deg) * worse
        if name == "back_rounding_deg":
            known = known * back_less_certain
        bridged = filled[:, [JOINTS.index(j) for j in _MADE_OF[name]]].any(axis=1)
        known = np.where(bridged, _BRIDGED * known, known)
        squares = known**2 + (more_tilt if name in _AGAINST_VERTICAL else 0.0)
        noise = np.hypot(left.noise_deg * worse, pixel / 3.0)
        total[:, column] = np.sqrt(squares + pixel**2 / 9.0)
        # The systematic part is what is left of the whole when its noise is taken out.
        systematic[:, column] = np.sqrt(np.maximum(squares - noise**2, 0.25 * squares))
    missing = ~np.isfinite(angle_values)
    total[missing] = np.nan
    systematic[missing] = np.nan
    return total, systematic


def place_se_px(rower: FittedRower) -> float:
    """Return the frame-to-frame standard error of one fitted coordinate, px.

    The fit averages witnesses over neighbouring frames, which leaves about a quarter of their
    scatter, most of which lasts longer than a frame anyway.
    """
    return float(np.nanmedian(rower.scatter_px)) / 4.0


def place_bias_se_px(rower: FittedRower, numbers: Learned) -> float:
    """Return the lasting part of a fitted coordinate's standard error, px."""
    return 0.6 * float(np.nanmedian(numbers.spread)) * rower.segments_px["trunk"]
