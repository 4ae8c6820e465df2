"""The back line: the silhouette's rear edge, from the seat to the base of the neck.

Where the arm passes behind the back its part of the edge is left out. What the edge tells of how
rounded the back is: :mod:`analysis.motion.back_rounding`.
"""

from __future__ import annotations

import numpy as np

from analysis.checks import BoolArray, FloatArray, require_shape

#: Heights of the edge's samples along the hip → shoulder axis, shares of its length.
LEVELS = np.linspace(-0.30, 1.10, 29)

#: Half thickness of arm and sleeve, share of the trunk's length.
_ARM_HALF = 0.11


def find_back_line(
    outline: FloatArray,
    hip: FloatArray,
    shoulder: FloatArray,
    elbow: FloatArray,
    wrist: FloatArray,
) -> FloatArray:
    """Follow the rear edge of the silhouette in every frame.

    Parameters
    ----------
    outline : array [shape=(T, P, 2)]
        Closed outline in the athlete's frame (x to the feet, y up); NaN where there is none.
    hip, shoulder, elbow, wrist : array [shape=(T, 2)]
        Joints in the same frame.

    Returns
    -------
    array [shape=(T, len(LEVELS))]
        Distance of the rear edge behind the hip → shoulder axis at each of ``LEVELS``, share of
        the trunk's length; NaN where it is hidden.
    """
    frames = len(outline)
    for name, joint in (("hip", hip), ("shoulder", shoulder), ("elbow", elbow), ("wrist", wrist)):
        require_shape(name, joint, (frames, 2))
    edge = np.full((frames, len(LEVELS)), np.nan)
    for frame in range(frames):
        joints = np.stack([hip[frame], shoulder[frame], elbow[frame], wrist[frame]])
        if np.isfinite(outline[frame]).all() and np.isfinite(joints[:2]).all():
            edge[frame] = _rear_edge(outline[frame], joints)
    return edge


def _rear_edge(outline: FloatArray, joints: FloatArray) -> FloatArray:
    """Distance of the rearmost outline behind the trunk's axis at each of ``LEVELS``."""
    hip, shoulder = joints[0], joints[1]
    length = float(np.linalg.norm(shoulder - hip))
    up = (shoulder - hip) / length
    rear = np.array([-up[1], up[0]])
    closed = np.concatenate([outline, outline[:1]])
    along = (closed - hip) @ up / length
    behind = (closed - hip) @ rear / length
    # Where each side of the outline's polygon crosses each level.
    a, b = along[:-1, None], along[1:, None]
    crosses = (np.minimum(a, b) <= LEVELS) & (np.maximum(a, b) > LEVELS)
    side, level = np.nonzero(crosses)
    share = (LEVELS[level] - along[side]) / (along[side + 1] - along[side])
    rearmost = np.full(len(LEVELS), -np.inf)
    np.maximum.at(rearmost, level, behind[side] + share * (behind[side + 1] - behind[side]))
    edge = np.where(np.isfinite(rearmost), rearmost, np.nan)
    points = hip + length * (LEVELS[:, None] * up + np.nan_to_num(edge)[:, None] * rear)
    return np.asarray(np.where(_on_arm(points, joints, length), np.nan, edge))


def _on_arm(points: FloatArray, joints: FloatArray, length: float) -> BoolArray:
    """Whether edge points [shape=(L, 2)] belong to the arm rather than to the back."""
    shoulder, elbow, wrist = joints[1], joints[2], joints[3]
    if not np.isfinite(joints).all():
        return np.zeros(len(points), dtype=bool)
    # The arm's first part lies on the shoulder itself, whose edge is the back's.
    start = shoulder + 0.25 * (elbow - shoulder)
    near = np.minimum(_distance(points, start, elbow), _distance(points, elbow, wrist))
    return np.asarray(near < _ARM_HALF * length)


def _distance(points: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    line = b - a
    share = np.clip((points - a) @ line / max(float(line @ line), 1e-9), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - (a + share[:, None] * line), axis=1))
