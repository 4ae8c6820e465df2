"""Where the camera stood and how it was held, from the room, the seat and the body itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analysis.motion.evidence import Evidence, mean_of_seen
from analysis.motion.learned import Learned
from analysis.motion.level import Level, level_by
from analysis.motion.lined_up import yaw_by_edges
from analysis.motion.motion import JOINTS, Setting
from analysis.motion.plane import turn_matrix
from analysis.motion.tilt import Tilt, camera_tilt, rail_lean_deg, seat_path_lean_deg
from analysis.motion.view import UNSEEN_YAW, View, Yaw, find_view
from analysis.pose.track import PoseTrack


def find_camera(
    pose: PoseTrack,
    near: Evidence,
    far: Evidence,
    where: Setting,
    unit: float,
    numbers: Learned,
) -> tuple[Tilt, View, Level]:
    """Return how the camera was held, and what turns its pictures level and square on.

    Parameters
    ----------
    pose : PoseTrack
    near, far : Evidence
        Joints in the picture, strays left out of the near ones.
    where : Setting
    unit : float
        Length of the trunk, px.
    numbers : Learned

    Returns
    -------
    tilt : Tilt
        The roll, which is still in the turned pictures.
    view : View
        Where the camera stands, in px of the turned pictures.
    square : Level
    """
    tilt = camera_tilt(*_roll_seen(pose, where), math.nan)
    view = _view(pose, near, far, tilt, unit, numbers)
    level = level_by(
        view.side_px,
        view.focal_px,
        (pose.clip.width_px, pose.clip.height_px),
        pose.upright_converge_deg,
        pose.upright_converge_se_deg,
    )
    hip_px = np.nanmedian(near.xy_px[:, :, JOINTS.index("hip")].reshape(-1, 2), axis=0)
    upright_deg = level.lean_deg(pose.upright_tilt_deg, hip_px)
    pose = replace(pose, upright_tilt_deg=upright_deg)
    near, far = (replace(seen, xy_px=level.put(seen.xy_px)) for seen in (near, far))
    tilt = camera_tilt(*_roll_seen(pose, where), math.nan)
    yaw = UNSEEN_YAW
    if where == "erg":
        hip_px = level.put(hip_px)
        yaw = yaw_by_edges(pose.level_edges_px, hip_px, unit, level, tilt, pose.facing)
    view = _view(pose, near, far, tilt, unit, numbers, yaw)
    if where == "erg":
        # How the rail should slope in the picture follows from where the camera stands.
        tilt = _tilt_by_seat(pose, near, view, unit)
        view = _view(pose, near, far, tilt, unit, numbers, yaw)
    square = level.square_on(view.side_px, tilt.deg)
    return tilt, replace(view, side_px=square.put(level.back(view.side_px))), square


def _view(
    pose: PoseTrack,
    near: Evidence,
    far: Evidence,
    tilt: Tilt,
    unit: float,
    numbers: Learned,
    yaw: Yaw = UNSEEN_YAW,
) -> View:
    return find_view(
        near.xy_px,
        far.xy_px,
        numbers.depth_cues,
        trunk_px=unit,
        size_px=(pose.clip.width_px, pose.clip.height_px),
        facing=pose.facing,
        turn=turn_matrix(tilt.deg, pose.facing),
        yaw=yaw,
    )


def _roll_seen(pose: PoseTrack, where: Setting) -> tuple[float, float]:
    """Return the lean, and its error, that the surroundings show, degrees."""
    if where == "boat" and math.isfinite(pose.shore_tilt_deg):
        return pose.shore_tilt_deg, pose.shore_tilt_se_deg
    return pose.upright_tilt_deg, pose.upright_tilt_se_deg


def _tilt_by_seat(pose: PoseTrack, near: Evidence, view: View, unit: float) -> Tilt:
    """Tilt with the seat's path as a further witness."""
    hip = mean_of_seen(near.xy_px)[:, JOINTS.index("hip")] - pose.camera_shift_px
    lean = seat_path_lean_deg(hip, unit)
    lean -= rail_lean_deg(view.yaw_deg, view.camera_rise, pose.facing)
    return camera_tilt(pose.upright_tilt_deg, pose.upright_tilt_se_deg, lean)
