"""The back line: from the silhouette's rear edge to how rounded the back is.

The rear edge of the silhouette is followed from the seat contact to the base of the neck and
measured by arc length. Lower tangent: straight-line fit over 10–35 % of it; upper tangent: over
65–90 %. Where the arm passes behind the back its part of the edge is left out; where too little
of either stretch is left, nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray, require_shape

#: Heights of the edge's samples along the hip → shoulder axis, shares of its length.
LEVELS = np.linspace(-0.30, 1.10, 57)

#: Stretches of the arc over which the two tangents are fitted.
LOWER_STRETCH = (0.10, 0.35)
UPPER_STRETCH = (0.65, 0.90)

#: Half thickness of arm and sleeve, share of the trunk's length.
_ARM_HALF = 0.11

#: The seat contact lies this far below the hip joint, share of the trunk's length.
_SEAT_BELOW_HIP = 0.19

#: The base of the neck lies at this height of the hip → shoulder axis.
_NECK_LEVEL = 1.06

#: Share of a stretch that must be seen for its tangent to be trusted.
_SEEN_NEEDED = 0.5


@dataclass(frozen=True)
class BackLine:
    """Rear edge of the trunk over a clip.

    Attributes
    ----------
    edge : array [shape=(T, len(LEVELS))]
        Distance of the rear edge behind the hip → shoulder axis at each of ``LEVELS``, share of
        the trunk's length; NaN where it is hidden.
    raw_deg : array [shape=(T,)]
        How much further the upper tangent leans to the feet than the lower, + rounded; NaN
        where it cannot be told.
    lower_deg, upper_deg : array [shape=(T,)]
        The tangents' lean against the trunk's axis, + towards the feet.
    """

    edge: FloatArray
    raw_deg: FloatArray
    lower_deg: FloatArray
    upper_deg: FloatArray


def find_back_line(
    outline: FloatArray,
    hip: FloatArray,
    shoulder: FloatArray,
    elbow: FloatArray,
    wrist: FloatArray,
) -> BackLine:
    """Follow the rear edge of the silhouette in every frame.

    Parameters
    ----------
    outline : array [shape=(T, P, 2)]
        Closed outline in the athlete's frame (x to the feet, y up); NaN where there is none.
    hip, shoulder, elbow, wrist : array [shape=(T, 2)]
        Joints in the same frame.

    Returns
    -------
    BackLine
    """
    frames = len(outline)
    for name, joint in (("hip", hip), ("shoulder", shoulder), ("elbow", elbow), ("wrist", wrist)):
        require_shape(name, joint, (frames, 2))
    edge = np.full((frames, len(LEVELS)), np.nan)
    angles = np.full((frames, 2), np.nan)
    for frame in range(frames):
        joints = np.stack([hip[frame], shoulder[frame], elbow[frame], wrist[frame]])
        if np.isfinite(outline[frame]).all() and np.isfinite(joints[:2]).all():
            edge[frame] = _rear_edge(outline[frame], joints)
            angles[frame] = _tangents(edge[frame], joints)
    return BackLine(edge, angles[:, 1] - angles[:, 0], angles[:, 0], angles[:, 1])


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
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(crosses, (LEVELS - a) / (b - a), np.nan)
    place = behind[:-1, None] + share * (behind[1:, None] - behind[:-1, None])
    rearmost = np.max(np.where(crosses, place, -np.inf), axis=0)
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


def _tangents(edge: FloatArray, joints: FloatArray) -> FloatArray:
    """Lean of the lower and the upper tangent against the trunk's axis, degrees."""
    seat_level = -_SEAT_BELOW_HIP
    inside = (seat_level <= LEVELS) & (_NECK_LEVEL >= LEVELS)
    level, behind = LEVELS[inside], edge[inside]
    seen = np.isfinite(behind)
    if seen.sum() < 8:
        return np.full(2, np.nan)
    bridged = np.interp(level, level[seen], behind[seen])
    steps = np.hypot(np.diff(level), np.diff(bridged))
    arc = np.concatenate([[0.0], np.cumsum(steps)])
    arc /= arc[-1]
    out = np.full(2, np.nan)
    for index, (low, high) in enumerate((LOWER_STRETCH, UPPER_STRETCH)):
        stretch = (arc >= low) & (arc <= high)
        used = stretch & seen
        if used.sum() >= max(3, _SEEN_NEEDED * stretch.sum()):
            # Rear distance falling with height = leaning towards the feet.
            out[index] = -np.degrees(np.arctan(np.polyfit(level[used], behind[used], 1)[0]))
    return out
