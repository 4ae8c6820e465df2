"""From landmarks and outline to the planar rower: the motion stage from end to end."""

from __future__ import annotations

import math

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion import angles, uncertainty
from analysis.motion.back_line import find_back_line
from analysis.motion.evidence import Evidence, near_side_evidence
from analysis.motion.filters import bridge_gaps, smooth
from analysis.motion.fit import FITTED, FittedRower, fit_rower
from analysis.motion.motion import ANGLES, JOINTS, Motion, Setting
from analysis.motion.plane import to_picture, to_place
from analysis.motion.tilt import Tilt, camera_tilt, seat_path_lean_deg
from analysis.pose.track import PoseTrack

_FITTED_AT = [JOINTS.index(name) for name in FITTED]


def reconstruct_motion(pose: PoseTrack, *, setting: Setting | None = None) -> Motion:
    """Fit the planar rower to one athlete's clip.

    Parameters
    ----------
    pose : PoseTrack
    setting : "erg", "boat" or None
        ``None`` takes a moving camera for a boat.

    Returns
    -------
    Motion
    """
    where: Setting = setting or ("boat" if pose.camera_moves else "erg")
    evidence = near_side_evidence(pose)
    tilt = _tilt(pose, evidence, where)
    origin = _foot_px(pose, evidence)
    seen = to_place(evidence.xy_px, origin[:, None, :], tilt.deg, pose.facing)
    spread = uncertainty.witness_spread_px(seen, evidence.score)
    rower = fit_rower(
        pose.t_s,
        seen[:, :, _FITTED_AT],
        spread[:, :, _FITTED_AT],
        on_rail=where == "erg",
    )
    place, filled = _all_joints(pose.t_s, rower, seen, spread)
    outline = to_place(pose.outline_px, origin[:, None, :], tilt.deg, pose.facing)
    back = find_back_line(
        outline, *(place[:, JOINTS.index(n)] for n in ("hip", "shoulder", "elbow", "wrist"))
    )
    rounding = smooth(pose.t_s, bridge_gaps(pose.t_s, back.raw_deg)[0])
    angle_values = _angles(place, rounding)
    bias_se = uncertainty.angle_bias_se_deg(angle_values, tilt)
    noise_se = uncertainty.angle_noise_se_deg(rower)
    return Motion(
        t_s=pose.t_s,
        joints_px=to_picture(place, origin[:, None, :], tilt.deg, pose.facing),
        place_px=place,
        place_se_px=uncertainty.place_se_px(rower),
        place_bias_se_px=uncertainty.place_bias_se_px(rower),
        filled=filled,
        angles_deg=angle_values,
        angle_se_deg=np.hypot(bias_se, noise_se),
        angle_bias_se_deg=bias_se,
        belly_x_px=_belly_x(outline, place),
        segments_px=rower.segments_px,
        facing=pose.facing,
        setting=where,
        tilt_deg=tilt.deg,
        tilt_se_deg=tilt.se_deg,
    )


def _tilt(pose: PoseTrack, evidence: Evidence, where: Setting) -> Tilt:
    seat_path = math.nan
    if where == "erg" and not pose.camera_moves:
        hip = _mean_of_seen(evidence.xy_px[:, :, JOINTS.index("hip")])
        seat_path = seat_path_lean_deg(hip)
    return camera_tilt(pose.upright_tilt_deg, pose.upright_tilt_se_deg, seat_path)


def _foot_px(pose: PoseTrack, evidence: Evidence) -> FloatArray:
    """Origin of the athlete's frame: the ankle's mean place, moved with the background."""
    ankle = evidence.xy_px[:, :, JOINTS.index("ankle")]
    still = ankle - pose.camera_shift_px[None]
    known = still[np.isfinite(still).all(axis=-1)]
    if not pose.camera_moves:
        return np.broadcast_to(np.median(known, axis=0), (len(pose.t_s), 2)).copy()
    # A boat moves against its background too: follow the ankles themselves, slowly.
    middle = _mean_of_seen(ankle)
    out: FloatArray = np.empty_like(middle)
    for axis in (0, 1):
        known_at = np.isfinite(middle[:, axis])
        whole = np.interp(pose.t_s, pose.t_s[known_at], middle[known_at, axis])
        out[:, axis] = smooth(pose.t_s, whole, cut_off_hz=1.0)
    return out


def _mean_of_seen(xy: FloatArray) -> FloatArray:
    """Mean over witnesses [shape=(W, T, 2)] of those that saw the joint; NaN where none did."""
    seen = np.isfinite(xy)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.sum(np.where(seen, xy, 0.0), axis=0) / seen.sum(axis=0))


def _all_joints(
    t_s: FloatArray, rower: FittedRower, seen: FloatArray, spread: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Fitted joints, and ear, heel and toe by weighted mean and smoothing."""
    place = np.full((len(t_s), len(JOINTS), 2), np.nan)
    filled = np.zeros((len(t_s), len(JOINTS)), dtype=bool)
    place[:, _FITTED_AT] = rower.place_px
    anyone = np.asarray(np.isfinite(seen[..., 0]).any(axis=0))
    filled[:, _FITTED_AT] = ~anyone[:, _FITTED_AT]
    weight = np.where(np.isfinite(seen[..., 0]), 1.0 / spread**2, 0.0)[..., None]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.sum(np.nan_to_num(seen) * weight, axis=0) / weight.sum(axis=0)
    for joint in set(range(len(JOINTS))) - set(_FITTED_AT):
        for axis in (0, 1):
            values, bridged = bridge_gaps(t_s, mean[:, joint, axis])
            place[:, joint, axis] = smooth(t_s, values)
            filled[:, joint] |= bridged
    return place, filled


def _angles(place: FloatArray, rounding: FloatArray) -> FloatArray:
    """All angles in the order of ``ANGLES`` [shape=(T, A)]."""
    ear, shoulder, elbow, wrist, hip, knee, ankle = (place[:, j] for j in range(7))
    values = {
        "trunk_deg": angles.trunk_deg(hip, shoulder),
        "shin_deg": angles.shin_deg(ankle, knee),
        "knee_deg": angles.knee_deg(hip, knee, ankle),
        "hip_deg": angles.hip_deg(shoulder, hip, knee),
        "elbow_deg": angles.elbow_deg(shoulder, elbow, wrist),
        "forearm_deg": angles.forearm_deg(elbow, wrist),
        "head_deg": angles.head_deg(ear, shoulder, hip),
        "back_rounding_deg": rounding,
    }
    return np.column_stack([values[name] for name in ANGLES])


def _belly_x(outline: FloatArray, place: FloatArray) -> FloatArray:
    """Front of the torso at the wrist's height, where the arm does not hide it."""
    return np.full(len(outline), np.nan)
