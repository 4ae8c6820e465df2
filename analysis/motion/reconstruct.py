"""From landmarks and outline to the planar rower: the motion stage from end to end."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion import angles, uncertainty
from analysis.motion.back_line import find_back_line
from analysis.motion.back_rounding import OWN_USUALLY, back_rounding_deg, own_back
from analysis.motion.belly import front_at_wrist
from analysis.motion.edges import Silhouette
from analysis.motion.filters import bridge_gaps, long_gaps, smooth
from analysis.motion.fit import FittedRower, fit_rower
from analysis.motion.handle import grip, handle_path
from analysis.motion.in_plane import Camera, in_picture, outlines_in_plane, spread_out
from analysis.motion.learned import Learned, shipped
from analysis.motion.motion import ANGLES, JOINTS, Motion, Setting
from analysis.motion.rules import FITTED
from analysis.motion.seen import Seen, seen_by_witnesses
from analysis.motion.ways import segment_ways
from analysis.pose.camera import held
from analysis.pose.track import PoseTrack

_FITTED_AT = [JOINTS.index(name) for name in FITTED]

#: Rounds of the second fit, which begins where the first ended.
_SECOND_ROUNDS = 5

#: The back bends slowly: its angle is smoothed harder than the limbs, Hz.
_BACK_CUT_OFF_HZ = 3.0


@dataclass(frozen=True)
class FittedPose:
    """The fitted rower with what it was made from.

    `place` [shape=(T, J, 2)] and `belly_x_px` [shape=(T,)], the front of the torso where it shows,
    are in the athlete's frame, px; `back` is that of :func:`back_line.find_back_line`.
    """

    rower: FittedRower
    place: FloatArray
    filled: BoolArray
    belly_x_px: FloatArray
    back: FloatArray
    camera: Camera
    out: FloatArray
    setting: Setting


def reconstruct_motion(
    pose: PoseTrack, *, setting: Setting | None = None, numbers: Learned | None = None
) -> Motion:
    """Fit the planar rower to one athlete's clip.

    Parameters
    ----------
    pose : PoseTrack
    setting : "erg", "boat" or None
        ``None`` takes it for a boat when the camera goes along, more than hands sway.
    numbers : Learned, optional
        The shipped ones when left out.

    Returns
    -------
    Motion

    Raises
    ------
    NoRowerError
        When a joint that everything hangs on was hardly ever seen.
    """
    learned = numbers or shipped()
    fitted = fit_pose(pose, setting=setting, numbers=learned)
    lean_deg = trunk_deg(fitted)
    back = own_back(fitted.back, lean_deg, learned.back, pose.outlined)
    raw = back_rounding_deg(back, pose.t_s, lean_deg, learned.back)
    rounding = smooth(pose.t_s, bridge_gaps(pose.t_s, raw)[0], _BACK_CUT_OFF_HZ)
    values = _angles(fitted.place, rounding)
    se, bias_se = uncertainty.angle_se_deg(
        values, fitted.filled, fitted.camera.tilt, fitted.rower, back.less_certain, learned
    )
    joints_px = in_picture(fitted.place, fitted.out, fitted.camera)
    return Motion(
        t_s=pose.t_s,
        joints_px=joints_px,
        place_px=fitted.place,
        handle_px=_handle(fitted, pose, joints_px),
        place_se_px=uncertainty.place_se_px(fitted.rower),
        place_bias_se_px=uncertainty.place_bias_se_px(fitted.rower, learned),
        filled=fitted.filled,
        angles_deg=values,
        angle_se_deg=se,
        angle_bias_se_deg=bias_se,
        belly_x_px=bridge_gaps(pose.t_s, fitted.belly_x_px)[0],
        segments_px=fitted.rower.segments_px,
        facing=pose.facing,
        setting=fitted.setting,
        tilt_deg=fitted.camera.tilt.deg,
        tilt_se_deg=fitted.camera.tilt.se_deg,
        yaw_deg=fitted.camera.view.yaw_deg,
        turns=learned.turns,
        notes=_notes(fitted, back.share),
    )


def _handle(fitted: FittedPose, pose: PoseTrack, joints_px: FloatArray) -> FloatArray:
    """Return the handle's path [shape=(T, 2)] in the athlete's frame."""
    at = [JOINTS.index("wrist")]
    wrist, out = fitted.place[:, at], fitted.out[:, at]
    stepped = [in_picture(wrist + step, out, fitted.camera) for step in np.eye(2)]
    return handle_path(
        pose.t_s,
        grip(fitted.place),
        grip(joints_px),
        (np.stack(stepped, axis=-1) - joints_px[:, at, :, None])[:, 0],
        pose.hand_moved,
        pose.camera_shift_px,
        fitted.rower.segments_px["forearm"],
    )


def trunk_deg(fitted: FittedPose) -> FloatArray:
    """Return the trunk's lean in every frame [shape=(T,)]."""
    hip, shoulder = (fitted.place[:, JOINTS.index(n)] for n in ("hip", "shoulder"))
    return angles.trunk_deg(hip, shoulder)


def fit_pose(pose: PoseTrack, *, setting: Setting | None, numbers: Learned) -> FittedPose:
    """Weigh the witnesses, take out camera and known errors, and fit; see `reconstruct_motion`."""
    where: Setting = setting or ("erg" if _camera_held(pose) else "boat")
    seen = seen_by_witnesses(pose, where, numbers)
    camera, out = seen.camera, seen.out
    silhouette = outlines_in_plane(pose.outline_px, pose.outlined, out[:, _FITTED_AT], camera)
    fit = partial(
        fit_rower,
        pose.t_s,
        seen.place[:, :, _FITTED_AT],
        seen.spread[:, :, _FITTED_AT],
        shortening=numbers.shortening,
        silhouette=silhouette,
        depths=numbers.depths,
        on_rail=where == "erg",
    )
    rower = fit()
    place_px = in_picture(rower.place_px, out[:, _FITTED_AT], camera)
    ways = segment_ways(pose, rower, place_px, silhouette, where, numbers)
    if np.isfinite(ways).any():
        rower = fit(ways=ways, start=rower, most_rounds=_SECOND_ROUNDS)
    place, filled = _all_joints(pose.t_s, rower, seen)
    back, belly = _seen_on_outline(silhouette, place)
    return FittedPose(rower, place, filled, belly, back, camera, out, where)


def _seen_on_outline(silhouette: Silhouette, place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return back line and belly in every frame; NaN in those without an outline."""
    outline, frames = silhouette.seen_px, silhouette.frames
    joints = (place[frames, JOINTS.index(n)] for n in ("hip", "shoulder", "elbow", "wrist"))
    count = len(place)
    return (
        spread_out(find_back_line(outline, *joints), frames, count),
        spread_out(front_at_wrist(outline, place[frames]), frames, count),
    )


def _camera_held(pose: PoseTrack) -> bool:
    """Tell a phone held in the hands from one that goes along with a boat.

    Of rendered clips hand-held phones sway by 0.034 of the picture's width at most; 21 of 23 boats
    leave more than ``camera.HELD_SHARE`` behind.
    """
    return held(pose.camera_shift_px, pose.clip.width_px)


def _all_joints(t_s: FloatArray, rower: FittedRower, seen: Seen) -> tuple[FloatArray, BoolArray]:
    """Fitted joints, and ear, heel and toe by weighted mean and smoothing; which are filled."""
    anyone = seen.near.seen
    place = np.full((len(t_s), len(JOINTS), 2), np.nan)
    filled = np.zeros((len(t_s), len(JOINTS)), dtype=bool)
    place[:, _FITTED_AT] = rower.place_px
    filled[:, _FITTED_AT] = ~anyone[:, _FITTED_AT]
    for joint in _FITTED_AT:
        # The mechanics bridge a short gap; over a long one they would only invent.
        place[long_gaps(t_s, anyone[:, joint]), joint] = np.nan
    filled &= np.isfinite(place[..., 0])
    weight = np.where(np.isfinite(seen.place[..., 0]), 1.0 / seen.spread**2, 0.0)[..., None]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.sum(np.nan_to_num(seen.place) * weight, axis=0) / weight.sum(axis=0)
    for joint in set(range(len(JOINTS))) - set(_FITTED_AT):
        for axis in (0, 1):
            values, bridged = bridge_gaps(t_s, mean[:, joint, axis])
            place[:, joint, axis] = smooth(t_s, values)
            filled[:, joint] |= bridged & ~anyone[:, joint]
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


def _notes(fitted: FittedPose, own_share: float) -> tuple[str, ...]:
    notes = []
    if fitted.camera.tilt.disagree:
        notes.append(
            "Upright edges and the seat's path do not agree on how level the camera was held; the"
            " angles against vertical are less certain."
        )
    if math.isnan(fitted.camera.view.yaw_deg):
        notes.append("How square-on the camera stood cannot be told.")
    if own_share < OWN_USUALLY:
        notes.append(
            "Something right behind the athlete, most often a neighbour, spoils part of the back's"
            " edge; how rounded the back is is less certain."
        )
    return tuple(notes)
