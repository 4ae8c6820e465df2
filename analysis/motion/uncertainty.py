"""How far off joints and angles may be: spread of the witnesses, standard errors of the angles."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.fit import FittedRower
from analysis.motion.motion import ANGLES, JOINTS
from analysis.motion.tilt import Tilt

#: Spread of a well-scored landmark, share of the trunk's length: the models' own scatter.
_LANDMARK_SHARE = 0.035

#: Systematic error of each angle that is left after the fit, degrees.
_LEFT_OVER_DEG = {
    "trunk_deg": 2.2,
    "shin_deg": 2.0,
    "knee_deg": 2.6,
    "hip_deg": 3.0,
    "elbow_deg": 3.0,
    "forearm_deg": 3.0,
    "head_deg": 6.0,
    "back_rounding_deg": 4.0,
}

#: Angles against vertical, which carry the camera's tilt whole.
_AGAINST_VERTICAL = ("trunk_deg", "shin_deg", "forearm_deg")


def witness_spread_px(seen: FloatArray, score: FloatArray) -> FloatArray:
    """Return how far each landmark is believed to be off, one coordinate [shape=(W, T, J), px].

    Parameters
    ----------
    seen : array [shape=(W, T, J, 2)]
        Landmarks in the athlete's frame, px.
    score : array [shape=(W, T, J)]
        A landmark scored at 1 has the models' usual scatter; at 0.25 twice that.
    """
    hip, shoulder = JOINTS.index("hip"), JOINTS.index("shoulder")
    trunk = np.linalg.norm(seen[:, :, shoulder] - seen[:, :, hip], axis=-1)
    unit = float(np.nanmedian(trunk))
    return np.asarray(_LANDMARK_SHARE * unit / np.sqrt(np.clip(score, 0.04, 1.0)))


def place_se_px(rower: FittedRower) -> float:
    """Return the frame-to-frame standard error of one fitted coordinate, px.

    The fit averages witnesses over neighbouring frames, which leaves about a third of their
    scatter.
    """
    return float(np.nanmedian(rower.scatter_px)) / 3.0


def place_bias_se_px(rower: FittedRower) -> float:
    """Return the lasting part of a fitted coordinate's standard error, px."""
    return 0.02 * rower.segments_px["trunk"]


def angle_bias_se_deg(angle_values: FloatArray, tilt: Tilt) -> FloatArray:
    """Return the systematic standard error of every angle [shape=(T, A), deg]; NaN with it."""
    left = np.array([_LEFT_OVER_DEG[name] for name in ANGLES])
    tilted = np.array([tilt.se_deg if name in _AGAINST_VERTICAL else 0.0 for name in ANGLES])
    return np.asarray(np.where(np.isfinite(angle_values), np.hypot(left, tilted), np.nan))


def angle_noise_se_deg(rower: FittedRower) -> FloatArray:
    """Return the frame-to-frame standard error of every angle [shape=(A,), deg].

    A segment of length L whose ends scatter by σ turns by √2·σ/L (exact for small σ).
    """
    sigma = place_se_px(rower)
    lengths = rower.segments_px
    turn = {name: np.degrees(np.sqrt(2.0) * sigma / px) for name, px in lengths.items()}
    noise = {
        "trunk_deg": turn["trunk"],
        "shin_deg": turn["shank"],
        "knee_deg": np.hypot(turn["thigh"], turn["shank"]),
        "hip_deg": np.hypot(turn["trunk"], turn["thigh"]),
        "elbow_deg": np.hypot(turn["upper_arm"], turn["forearm"]),
        "forearm_deg": turn["forearm"],
        "head_deg": 2.0 * turn["trunk"],
        "back_rounding_deg": 2.0 * turn["trunk"],
    }
    return np.array([noise[name] for name in ANGLES])
