"""What an athlete's build tells of how the fitted limbs and trunk lie.

Landmarks miss throughout a clip, each body's otherwise, and following tells nothing of it. But a
hip that was placed too deep leaves a trunk too long for its thighs, and a thigh that lies askew
lies nearer to the one side of its outline than thighs do. So proportions, and how far the outline
is from each segment's axis, tell by how much segments are to be turned. How bodies are built no
mechanics says: that is learned (``tests/accuracy/learn_build.py``), at machines.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from analysis.at_most import at_most
from analysis.checks import BoolArray, FloatArray, IntArray, require_shape
from analysis.motion.angles import included_deg, lean_deg
from analysis.motion.bends import FINER, PART_OF, alike, turned_between
from analysis.motion.edges import Silhouette, depth_px
from analysis.motion.motion import SEGMENTS
from analysis.motion.rules import FITTED
from analysis.pose.track import Facing

#: Outlines that are looked at, in each posture: more tell no more of a body.
_MOST_OUTLINES = 60
#: Fewer tell nothing.
_LEAST_OUTLINES = 4
#: What is further from usual than this counts as this far, usual scatters.
_FAR = 3.0


@dataclass(frozen=True)
class _Beside:
    """Where the outline's distance is taken, on both sides.

    At `shares` of the way along `segment`, from its first joint, in frames of the `posture`, where
    the outline is no further away than `most`, trunk lengths.
    """

    segment: tuple[str, str]
    shares: tuple[float, ...]
    posture: str
    most: float


#: By angle of elbow and knee, degrees.
_POSTURES: dict[str, Callable[[FloatArray, FloatArray], BoolArray]] = {
    # Neither elbows nor thighs in front of the rump, or behind it.
    "reaching": lambda elbow, knee: (elbow > 140.0) & (knee > 100.0),
    "arms straight": lambda elbow, knee: elbow > 150.0,
    "legs straight": lambda elbow, knee: knee > 140.0,
    "legs folded": lambda elbow, knee: knee < 90.0,
}

_BESIDE = (
    _Beside(("hip", "shoulder"), (0.1, 0.2), "reaching", 0.6),
    _Beside(("elbow", "wrist"), (0.3, 0.6), "arms straight", 0.3),
    _Beside(("shoulder", "elbow"), (0.6, 0.9), "arms straight", 0.3),
    _Beside(("hip", "knee"), (0.5, 0.7), "legs straight", 0.4),
    _Beside(("hip", "knee"), (0.5, 0.7), "legs folded", 0.4),
    _Beside(("ankle", "knee"), (0.5, 0.7), "legs straight", 0.4),
    _Beside(("ankle", "knee"), (0.5, 0.7), "legs folded", 0.4),
)

#: What is told: lengths of segments by the trunk's, and at each place of ``_BESIDE`` how far the
#: outline is on the left and on the right of the way from the first joint, trunk lengths.
TOLD = len(SEGMENTS) - 1 + 2 * sum(len(beside.shares) for beside in _BESIDE)


@dataclass(frozen=True)
class BuildWeights:
    """What was learned of builds.

    ``usual``, ``scatter`` [shape=(TOLD,)]: of what is told. ``turn``: segment → weights
    [shape=(G, 1 + TOLD)], by how much it is to be turned in each of its G groups of ``FINER``,
    degrees clockwise of who faces right, for 1 and each departure from usual in usual scatters.
    """

    usual: FloatArray
    scatter: FloatArray
    turn: Mapping[str, FloatArray]


def build_told(
    place: FloatArray, segments_px: Mapping[str, float], silhouette: Silhouette
) -> FloatArray:
    """Return what a clip tells of a build [shape=(TOLD,)]; NaN where the outline does not show it.

    Parameters
    ----------
    place : array [shape=(T, 6, 2)]
        Fitted joints in the athlete's frame, px.
    segments_px : mapping of str to float
        Fitted lengths.
    silhouette : Silhouette
    """
    unit = segments_px["trunk"]
    bends = bends_deg(place[silhouette.frames])
    told = [length / unit for name, length in segments_px.items() if name != "trunk"]
    for beside in _BESIDE:
        chosen = np.flatnonzero(_POSTURES[beside.posture](bends["arm"], bends["leg"]))
        for share in beside.shares:
            told += _either_side(
                place, silhouette, at_most(_MOST_OUTLINES, chosen), beside, share, unit
            )
    return np.array(told)


def standing_out(told: FloatArray, usual: FloatArray, scatter: FloatArray) -> FloatArray:
    """Return how unusual what is told is, usual scatters; 0 where it is not told."""
    return np.nan_to_num(np.clip((told - usual) / scatter, -_FAR, _FAR))


def off_build_deg(
    place: FloatArray, told: FloatArray, weights: BuildWeights, facing: Facing
) -> FloatArray:
    """Return by how much segments are to be turned, as the build tells.

    Parameters
    ----------
    place : array [shape=(T, 6, 2)]
        Fitted joints in the athlete's frame.
    told : array [shape=(TOLD,)]
        Of :func:`build_told`.
    weights : BuildWeights
    facing : "left" or "right"

    Returns
    -------
    array [shape=(T, S)]
        Degrees for each of ``SEGMENTS``, + clockwise in the picture; NaN of one without weights,
        and of a clip too short to tell.
    """
    require_shape("told", told, (TOLD,))
    terms = np.append(1.0, standing_out(told, weights.usual, weights.scatter))
    bends = bends_deg(place)
    off = np.full((len(place), len(SEGMENTS)), np.nan)
    for index, name in enumerate(SEGMENTS):
        if name not in weights.turn:
            continue
        part = PART_OF[name]
        require_shape(f"weights of {name}", weights.turn[name], (len(FINER[part]), 1 + TOLD))
        bend = bends[part]
        groups = list(alike(name, bend, bends=FINER))
        if groups:
            turn = [float(weights.turn[name][each.group] @ terms) for each in groups]
            off[:, index] = turned_between(bend, groups, turn)
    return off if facing == "right" else -off


def bends_deg(place: FloatArray) -> dict[str, FloatArray]:
    """Return what frames are alike in, by part of ``bends.BENDS`` [shape=(T,) each]."""
    at = dict(zip(FITTED, np.moveaxis(place, 1, 0), strict=True))
    return {
        "arm": included_deg(at["shoulder"], at["elbow"], at["wrist"]),
        "leg": included_deg(at["hip"], at["knee"], at["ankle"]),
        "trunk": lean_deg(at["hip"], at["shoulder"]),
    }


def _either_side(
    place: FloatArray,
    silhouette: Silhouette,
    chosen: IntArray,
    beside: _Beside,
    share: float,
    unit: float,
) -> Iterator[float]:
    """Yield the outline's distance to the left and to the right, trunk lengths, NaN if hidden."""
    frames = silhouette.frames[chosen]
    low, high = (place[frames, FITTED.index(joint)] for joint in beside.segment)
    way = high - low
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
    left = np.stack([-way[:, 1], way[:, 0]], axis=1)
    nearer_by = silhouette.share[frames, FITTED.index(beside.segment[0])]
    nearer = 1.0 / (1.0 - nearer_by)
    point = low + share * (high - low)
    point = nearer[:, None] * (point - nearer_by[:, None] * silhouette.side_px[frames])
    for side in (left, -left):
        far, _ = depth_px(silhouette.seen_px[chosen], point, side, beside.most * unit, unit)
        seen = (far / nearer)[np.isfinite(far)]
        yield float(np.median(seen)) / unit if len(seen) >= _LEAST_OUTLINES else np.nan
