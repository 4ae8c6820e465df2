"""What witnesses saw, in the athlete's frame: camera and known errors taken out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import FloatArray
from analysis.errors import NoRowerError
from analysis.motion import angles
from analysis.motion.camera import find_camera
from analysis.motion.corrections import corrected
from analysis.motion.evidence import (
    MODELS,
    Evidence,
    apart,
    far_side_evidence,
    mean_of_seen,
    near_side_evidence,
    trunk_px,
    without_strays,
)
from analysis.motion.hull import hull_path, legs_end
from analysis.motion.in_plane import Camera
from analysis.motion.learned import Learned
from analysis.motion.motion import JOINTS, Setting
from analysis.motion.near_and_far import gaps, off_by
from analysis.motion.plane import to_place, turn_matrix
from analysis.motion.rules import FITTED
from analysis.motion.uncertainty import witness_spread_px
from analysis.motion.view import stands_out, to_middle_plane
from analysis.motion.whole_legs import with_whole_legs
from analysis.pose.track import PoseTrack


@dataclass(frozen=True)
class Seen:
    """Near joints as each witness saw them.

    Attributes
    ----------
    near : Evidence
        In pictures turned level and square on.
    place : array [shape=(W, T, J, 2)]
        In the athlete's frame, px; NaN where not seen.
    spread : array [shape=(W, T, J)]
        How far off each may be, px.
    out : array [shape=(T, J)]
        How far each stands out of the middle plane, trunk lengths.
    camera : Camera
    """

    near: Evidence
    place: FloatArray
    spread: FloatArray
    out: FloatArray
    camera: Camera


def seen_by_witnesses(pose: PoseTrack, where: Setting, numbers: Learned) -> Seen:
    """Collect the near side's landmarks and bring them into the athlete's frame.

    Raises
    ------
    NoRowerError
        When a joint that everything hangs on was hardly ever seen.
    """
    near = near_side_evidence(pose)
    _require_seen(near)
    unit = trunk_px(near)
    far = far_side_evidence(pose)
    near = without_strays(with_whole_legs(near, far), pose.t_s, unit)
    tilt, view, square = find_camera(pose, near, far, where, unit, numbers)
    near, far = (replace(side, xy_px=square.put(side.xy_px)) for side in (near, far))
    unit = trunk_px(near)
    out = stands_out(*_bends_deg(near, turn_matrix(tilt.deg, pose.facing)), where)
    middle = to_middle_plane(near.xy_px, out, view)
    origin = _foot_px(pose, middle, where, unit)
    camera = Camera(square, tilt, view, origin, pose.facing)
    place = to_place(middle, origin[:, None, :], tilt.deg, pose.facing)
    added = np.broadcast_to(numbers.by_setting[where][:, None], place.shape)
    if where == "erg":
        added = added - _off_aside(near, far, camera, unit, numbers)
    for witness, model in enumerate(MODELS):
        place[witness] = corrected(place[witness], model, unit, numbers.offsets, numbers.postures)
        place[witness] += unit * added[witness]
    torn = apart(near, pose.t_s, unit)
    spread = witness_spread_px(near.score, near.stands_for, torn, unit, numbers)
    return Seen(near, place, spread, out, camera)


def _require_seen(near: Evidence) -> None:
    share = near.seen[:, [JOINTS.index(name) for name in FITTED]].mean(axis=0)
    if share.min() < 0.2:
        name = FITTED[int(np.argmin(share))]
        raise NoRowerError(
            f"The athlete's {name} is hardly ever in view: film from the side with the whole"
            " athlete in the picture."
        )


def _off_aside(
    near: Evidence, far: Evidence, camera: Camera, unit: float, numbers: Learned
) -> FloatArray:
    """Return what near joints are off by for where the camera stands [shape=(W, T, J, 2)].

    Both sides as they are seen level and square on.
    """
    turn = turn_matrix(camera.tilt.deg, camera.facing)
    gap = gaps(near.xy_px @ turn.T, far.xy_px @ turn.T, unit)
    return off_by(camera.view.yaw_deg, gap, numbers.aside)


def _bends_deg(near: Evidence, turn: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rough angles of elbow and knee, for how far they stand out [shape=(T,) each]."""
    at = dict(zip(JOINTS, np.moveaxis(mean_of_seen(near.xy_px) @ turn.T, 1, 0), strict=True))
    elbow = angles.elbow_deg(at["shoulder"], at["elbow"], at["wrist"])
    return elbow, angles.knee_deg(at["hip"], at["knee"], at["ankle"])


def _foot_px(pose: PoseTrack, middle: FloatArray, where: Setting, unit: float) -> FloatArray:
    """Origin of the athlete's frame: the ankle's mean place, moved with the background."""
    ankle = middle[:, :, JOINTS.index("ankle")]
    if where == "erg":
        still = ankle - pose.camera_shift_px
        known = still[np.isfinite(still).all(axis=-1)]
        return np.asarray(np.median(known, axis=0) + pose.camera_shift_px)
    seen = mean_of_seen(middle)
    hip, knee, mean, shoulder = (
        seen[:, JOINTS.index(name)] for name in ("hip", "knee", "ankle", "shoulder")
    )
    ends = legs_end(hip, knee, unit, pose.facing)
    torso = (hip + shoulder) / 2.0
    return hull_path(pose.t_s, mean, pose.camera_shift_px, unit, ends, torso)
