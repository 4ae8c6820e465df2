"""The back line: from the silhouette's rear edge to how rounded the back is.

The rear edge of the silhouette is followed from the seat to the base of the neck. The back angle
is defined by two straight-line fits along the back's skin, from seat contact to the neck's base by
arc length: upper tangent (65–90 %) minus lower tangent (10–35 %), + rounded. Where the arm passes
behind the back its part of the edge is left out; where too little of either stretch is left,
nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray, require_shape

#: Heights of the edge's samples along the hip → shoulder axis, shares of its length.
LEVELS = np.linspace(-0.30, 1.10, 57)

#: Stretches of the edge over which tangents are fitted: about the arc's 10–35 %, what lies
#: between, and its 65–90 %, from the seat contact to the base of the neck.
STRETCHES = ((-0.08, 0.26), (0.26, 0.62), (0.62, 0.94))

#: Number of values that :func:`terms_of` gives a frame.
BACK_TERMS = 5

#: Half-width of the running median that calms the edge, s.
MEDIAN_S = 0.3

#: Half thickness of arm and sleeve, share of the trunk's length.
_ARM_HALF = 0.11

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
    lean_deg : array [shape=(T, 3)]
        Lean of the edge against the trunk's axis over each of ``STRETCHES``, + towards the feet;
        NaN where too little of a stretch is seen.
    """

    edge: FloatArray
    lean_deg: FloatArray


def terms_of(back: BackLine, t_s: FloatArray, trunk_deg: FloatArray) -> FloatArray:
    """Return what the back angle is a weighted sum of [shape=(T, BACK_TERMS)].

    One; the lean of each stretch, as running median over ``MEDIAN_S`` on either side, because the
    edge trembles from frame to frame and the back does not; and the trunk's lean in units of 20°,
    with which clothes and muscle shift. The middle stretch is bridged by its neighbours' mean
    where the elbow hides it. NaN where the lower or the upper stretch cannot be told.
    """
    lower, middle, upper = (_running_median(t_s, lean) for lean in back.lean_deg.T)
    bridged = np.where(np.isfinite(middle), middle, (lower + upper) / 2.0)
    return np.column_stack([np.ones(len(lower)), lower, bridged, upper, trunk_deg / 20.0])


def back_angle_deg(terms: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the back's raw angle [shape=(T,), deg], + rounded; NaN where it cannot be told.

    The silhouette shows clothes and muscle, not the line of the spine: `weights`
    [shape=(BACK_TERMS,)] of :func:`terms_of` are learned from bodies whose back is known.
    """
    return np.asarray(terms @ weights)


def _running_median(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """Median of what is known within ``MEDIAN_S``; NaN where that is less than a third."""
    first = np.searchsorted(t_s, t_s - MEDIAN_S)
    last = np.searchsorted(t_s, t_s + MEDIAN_S, side="right")
    out = np.full(len(values), np.nan)
    for frame, (a, b) in enumerate(zip(first, last, strict=True)):
        known = values[a:b][np.isfinite(values[a:b])]
        if len(known) * 3 >= b - a:
            out[frame] = np.median(known)
    return out


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
    lean = np.full((frames, len(STRETCHES)), np.nan)
    for frame in range(frames):
        joints = np.stack([hip[frame], shoulder[frame], elbow[frame], wrist[frame]])
        if np.isfinite(outline[frame]).all() and np.isfinite(joints[:2]).all():
            edge[frame] = _rear_edge(outline[frame], joints)
            lean[frame] = [_lean_over(edge[frame], *stretch) for stretch in STRETCHES]
    return BackLine(edge, lean)


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


def _lean_over(edge: FloatArray, low: float, high: float) -> float:
    """Lean of a straight line through the edge between two levels, degrees."""
    stretch = (low <= LEVELS) & (high >= LEVELS)
    used = stretch & np.isfinite(edge)
    if used.sum() < max(3, _SEEN_NEEDED * stretch.sum()):
        return float("nan")
    # Distance behind the axis that falls with height leans towards the feet.
    return -float(np.degrees(np.arctan(np.polyfit(LEVELS[used], edge[used], 1)[0])))
