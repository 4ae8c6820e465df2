"""Joints, angles and the back line of a posed body: the definitions of truth."""

from __future__ import annotations

import numpy as np

from .body import BACK_POINTS, RIG_JOINT
from .rig import Pose

SKIN_ONLY = {"ear": "ear", "heel": "heel", "toe": "big_toe"}
JOINTS = ("ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe")
ANGLES = ("trunk_deg", "shin_deg", "knee_deg", "hip_deg", "elbow_deg", "forearm_deg", "head_deg")
LOWER_FIT, UPPER_FIT = (0.10, 0.35), (0.65, 0.90)
# Where the buttock meets the seat, as index into the tracked back points. Kept fixed on the skin:
# the very lowest point jumps along the nearly level skin there from frame to frame.
SEAT_CONTACT = 4


def rig_joints(pose: Pose, side: str) -> dict[str, np.ndarray]:
    """Centres of rotation, joint → (T, 3) m."""
    return {j: pose.at(f"{bone}.{side}") for j, bone in RIG_JOINT.items()}


def marked_joints(pose: Pose, side: str, skin: np.ndarray | None = None) -> dict[str, np.ndarray]:
    """Places that a person would mark on the skin's inside, joint → (T, 3) m."""
    skin = pose.tracked() if skin is None else skin
    names = {j: j for j in RIG_JOINT} | SKIN_ONLY
    return {j: skin[pose.body.tracked.index(f"{name}.{side}")] for j, name in names.items()}


def midway_joints(pose: Pose, side: str, skin: np.ndarray | None = None) -> dict[str, np.ndarray]:
    """Midway between the two definitions; ear, heel and toe have only the marked one."""
    marked, rig = marked_joints(pose, side, skin), rig_joints(pose, side)
    return {j: 0.5 * (m + rig[j]) if j in rig else m for j, m in marked.items()}


def _lean_deg(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Line from low to high against vertical in the sagittal plane, + towards the feet."""
    v = high - low
    return np.degrees(np.arctan2(v[..., 0], v[..., 2]))


def trunk_deg(joints: dict[str, np.ndarray]) -> np.ndarray:
    """Hip → shoulder line against vertical, (T,) deg, + forward."""
    return _lean_deg(joints["hip"], joints["shoulder"])


def included_deg(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    """Included angle at b in the sagittal plane, 0 … 180 deg."""
    u, v = (a - b)[..., [0, 2]], (c - b)[..., [0, 2]]
    cross = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    return np.degrees(np.abs(np.arctan2(cross, (u * v).sum(-1))))


def angles(joints: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Joint angles in the sagittal plane, name → (T,) deg.

    `head_deg` needs the ear: the shoulder → ear line against the trunk, + head forward.
    """
    j = joints
    wrist, elbow = j["wrist"], j["elbow"]
    # Level forearms point forwards; the sign of x is kept so that a wrist behind the elbow shows.
    forearm = np.degrees(np.arctan2(wrist[..., 2] - elbow[..., 2],
                                    np.abs(wrist[..., 0] - elbow[..., 0])))
    out = {
        "trunk_deg": trunk_deg(j),
        "shin_deg": _lean_deg(j["ankle"], j["knee"]),
        "knee_deg": included_deg(j["hip"], j["knee"], j["ankle"]),
        "hip_deg": included_deg(j["shoulder"], j["hip"], j["knee"]),
        "elbow_deg": included_deg(j["shoulder"], elbow, wrist),
        "forearm_deg": forearm,
    }
    if "ear" in j:
        out["head_deg"] = _lean_deg(j["shoulder"], j["ear"]) - out["trunk_deg"]
    return out


def back_rounding_deg(pose: Pose, skin: np.ndarray | None = None) -> np.ndarray:
    """Upper-back tangent against lower-back tangent of the skin, (T,) deg, + rounded.

    The line runs by arc length from where the buttock meets the seat to the neck's base; the
    tangents are straight-line fits over 10 … 35 % and 65 … 90 %.
    """
    skin = pose.tracked() if skin is None else skin
    first = pose.body.tracked.index("back00")
    line = skin[first:first + BACK_POINTS][..., [0, 2]]  # (N, T, 2)
    line = line[SEAT_CONTACT:]
    out = np.empty(line.shape[1])
    for t in range(line.shape[1]):
        xz = line[:, t]
        s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xz, axis=0), axis=1))])
        s /= s[-1]
        grid = np.linspace(0, 1, 201)
        fine = np.stack([np.interp(grid, s, xz[:, 0]), np.interp(grid, s, xz[:, 1])], 1)
        lean = []
        for a, b in (LOWER_FIT, UPPER_FIT):
            part = fine[(grid >= a) & (grid <= b)]
            # Principal direction, so that a steep back is fitted as well as a level one.
            direction = np.linalg.svd(part - part.mean(0))[2][0]
            if direction[1] < 0:
                direction = -direction
            lean.append(np.degrees(np.arctan2(direction[0], direction[1])))
        out[t] = lean[1] - lean[0]
    return out
