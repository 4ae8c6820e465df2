"""How deep joints lie under the skin: the silhouette as a witness of its own.

A hip lies as deep under the seat of the trousers at full compression as at the release, and an
elbow as deep under the outline wherever it shows there, while landmarks of both wander with the
posture. So where the outline shows a joint's skin, the joint is held to keep its depth. How deep
that is differs from body to body and is an unknown of the clip, near what is usual.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray, IntArray
from analysis.motion.angles import included_deg
from analysis.motion.rows import Rows
from analysis.motion.rules import FITTED

#: Joints by name, array [shape=(T, 2)] each, in the athlete's frame.
Joints = Mapping[str, FloatArray]

#: Frames worked on at once: a clip may be long.
_BLOCK = 500
#: The outline may lie inside the joint by this, trunk lengths, before it is no skin of this joint.
_INSIDE = 0.05
#: An outline that runs nearly along the line of sight to it tells little: least sine.
_GRAZING = 0.35
#: Errors of the outline last over several frames: together they count as if each were this much
#: larger than it is.
_LASTING = 2.5
#: A depth holds this far beyond the bends that it was learned at, degrees.
_BEYOND_DEG = 25.0
#: Degrees of freedom of Student's t for the outline, which may be a sleeve's or a neighbour's.
_TAIL = 4.0


@dataclass(frozen=True)
class Edge:
    """Where a joint's skin shows.

    Attributes
    ----------
    joint : str
    towards : callable
        Joints → unit vectors [shape=(T, 2)] along which the depth is taken.
    bend : callable
        Joints → the angle that it varies with, degrees [shape=(T,)].
    at_deg : tuple of float
        Bends at which its depth is learned; further off than ``_BEYOND_DEG`` it says nothing.
    most : float
        Skin further away, trunk lengths, is not this joint's.
    own_depth : float
        How far the depth may depart from what is usual, as a share of how bodies differ.
    """

    joint: str
    towards: Callable[[Joints], FloatArray]
    bend: Callable[[Joints], FloatArray]
    at_deg: tuple[float, ...]
    most: float
    own_depth: float


@dataclass(frozen=True)
class Depth:
    """What was learned of one edge, trunk lengths.

    ``at_deg`` and ``depth`` [shape=(B,)]: usual depth by the joint's bend; ``within`` its spread
    from frame to frame, ``between`` from body to body.
    """

    at_deg: FloatArray
    depth: FloatArray
    within: float
    between: float


@dataclass(frozen=True)
class Silhouette:
    """The outline in the athlete's frame, and how joints are seen against it.

    Attributes
    ----------
    frames : array [shape=(F,)]
        Frames with an outline.
    seen_px : array [shape=(F, P, 2)]
        Their outlines.
    share : array [shape=(T, 6)]
        How much nearer than the middle plane each joint of ``FITTED`` is: it is seen magnified by
        1 / (1 − share) about `side_px`.
    side_px : array [shape=(T, 2)]
    """

    frames: IntArray
    seen_px: FloatArray
    share: FloatArray
    side_px: FloatArray


def _unit(vector: FloatArray) -> FloatArray:
    length = np.linalg.norm(vector, axis=-1, keepdims=True)
    return np.asarray(vector / np.maximum(length, 1e-9))


def _across(vector: FloatArray) -> FloatArray:
    """Turn unit vectors a quarter to the left."""
    return np.stack([-vector[:, 1], vector[:, 0]], axis=1)


def _up_the_trunk(at: Joints) -> FloatArray:
    return _unit(at["shoulder"] - at["hip"])


def _up(at: Joints) -> FloatArray:
    return np.tile([0.0, 1.0], (len(at["elbow"]), 1))


def _knee_deg(at: Joints) -> FloatArray:
    return included_deg(at["hip"], at["knee"], at["ankle"])


def _elbow_deg(at: Joints) -> FloatArray:
    return included_deg(at["shoulder"], at["elbow"], at["wrist"])


_KNEE, _ELBOW = (50.0, 75.0, 105.0, 140.0, 170.0), (60.0, 90.0, 120.0, 150.0, 170.0)

#: All that are used. Knees and shoulders show skin too, but bodies differ there more than
#: landmarks err.
EDGES = {
    "hip to the rear": Edge(
        "hip", lambda at: _across(_up_the_trunk(at)), _knee_deg, _KNEE, 0.45, 3
    ),
    "hip to the seat": Edge("hip", lambda at: -_up_the_trunk(at), _knee_deg, _KNEE, 0.45, 3),
    "elbow down": Edge("elbow", lambda at: -_up(at), _elbow_deg, _ELBOW, 0.16, 8),
    "elbow up": Edge("elbow", _up, _elbow_deg, _ELBOW, 0.16, 8),
    "elbow on from the shoulder": Edge(
        "elbow", lambda at: _unit(at["elbow"] - at["shoulder"]), _elbow_deg, _ELBOW[:3], 0.16, 8
    ),
    "elbow on from the wrist": Edge(
        "elbow", lambda at: _unit(at["elbow"] - at["wrist"]), _elbow_deg, _ELBOW[:3], 0.16, 8
    ),
}


def depth_px(
    outline_px: FloatArray, point_px: FloatArray, towards: FloatArray, most_px: float, unit: float
) -> tuple[FloatArray, FloatArray]:
    """Return how far the outline is from points along directions, and how that changes with them.

    Parameters
    ----------
    outline_px : array [shape=(T, P, 2)]
        Closed; NaN where there is none.
    point_px, towards : array [shape=(T, 2)]
        Points, and unit vectors.
    most_px : float
        Crossings further away do not count.
    unit : float
        Length of the trunk, px.

    Returns
    -------
    depth_px : array [shape=(T,)]
        To the nearest crossing that counts; NaN without one, or where the outline runs nearly
        along the direction.
    slope : array [shape=(T, 2)]
        Its change per change of the point; 0 where the depth is NaN.
    """
    depth, slope = np.full(len(point_px), np.nan), np.zeros((len(point_px), 2))
    for start in range(0, len(point_px), _BLOCK):
        part = slice(start, start + _BLOCK)
        depth[part], slope[part] = _of_block(
            outline_px[part], point_px[part], towards[part], -_INSIDE * unit, most_px
        )
    return depth, slope


def _of_block(
    outline: FloatArray, point: FloatArray, towards: FloatArray, least: float, most: float
) -> tuple[FloatArray, FloatArray]:
    x, y = (np.hstack([outline[..., k], outline[:, :1, k]]) - point[:, k : k + 1] for k in (0, 1))
    along, across = towards.T, _across(towards).T
    off = x * across[0, :, None] + y * across[1, :, None]
    before = off <= 0
    # Few of an outline's sides cross the line: only those are looked at.
    frame, side = np.nonzero(before[:, :-1] != before[:, 1:])
    ends = [(frame, side), (frame, side + 1)]
    first, last = (x[end] * along[0, frame] + y[end] * along[1, frame] for end in ends)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = off[ends[0]] / (off[ends[0]] - off[ends[1]])
    crossing = first + share * (last - first)
    counts = (crossing > least) & (crossing < most)
    at = np.full(outline.shape[:2], np.inf)
    at[frame[counts], side[counts]] = crossing[counts]
    frames, side = np.arange(len(point)), at.argmin(axis=1)
    normal = _across(np.column_stack([v[frames, side + 1] - v[frames, side] for v in (x, y)]))
    faces = np.sum(normal * towards, axis=1)
    told = np.isfinite(at[frames, side])
    told &= np.abs(faces) > _GRAZING * np.linalg.norm(normal, axis=1)
    slope = np.zeros((len(point), 2))
    slope[told] = -normal[told] / faces[told, None]
    return np.where(told, at[frames, side], np.nan), slope


def add_edges(
    rows: Rows,
    place: FloatArray,
    depths: FloatArray,
    unit: float,
    silhouette: Silhouette,
    learned: Mapping[str, Depth],
) -> None:
    """Joints keep their depth under the skin.

    Parameters
    ----------
    rows : Rows
    place : array [shape=(T, 6, 2)]
    depths : array [shape=(E,)]
        How much deeper than usual each edge of `learned` is held to be in this clip, trunks.
    unit : float
        Length of the trunk, px.
    silhouette : Silhouette
    learned : mapping of str to Depth
        By name in ``EDGES``.
    """
    frames, outline = silhouette.frames, silhouette.seen_px
    at = {name: place[frames, index] for index, name in enumerate(FITTED)}
    for number, (name, usual) in enumerate(learned.items()):
        edge = EDGES[name]
        column = rows.unknowns.depths.start + number
        # All frames together say of the depth what one body says among many, no less and no more.
        prior = edge.own_depth * usual.between / np.sqrt(max(len(place), 1))
        rows.add(
            np.array([depths[number] / prior]), np.array([[column]]), np.array([[1.0 / prior]])
        )
        joint = FITTED.index(edge.joint)
        share = silhouette.share[frames, joint]
        nearer = 1.0 / (1.0 - share)
        point = nearer[:, None] * (at[edge.joint] - share[:, None] * silhouette.side_px[frames])
        found, slope = depth_px(
            outline, point, edge.towards(at), edge.most * unit * nearer.max(initial=1.0), unit
        )
        found /= nearer
        bend = edge.bend(at)
        wanted = unit * (np.interp(bend, usual.at_deg, usual.depth) + depths[number])
        told = np.isfinite(found) & (bend > usual.at_deg[0] - _BEYOND_DEG)
        told &= bend < usual.at_deg[-1] + _BEYOND_DEG
        give = _LASTING * usual.within * unit
        off = (found - wanted)[told] / give
        trust = np.sqrt((_TAIL + 1.0) / (_TAIL + off**2))
        columns = np.column_stack(
            [
                rows.unknowns.joint(frames[told], joint, 0),
                rows.unknowns.joint(frames[told], joint, 1),
                np.full(int(told.sum()), column),
            ]
        )
        slopes = np.column_stack([slope[told] / give, np.full(int(told.sum()), -unit / give)])
        rows.add(trust * off, columns, trust[:, None] * slopes)
