"""Which way limbs lie by their own edges, all pictures of a clip taken together.

Landmarks miss a limb's direction by one or two degrees throughout a clip, each person's otherwise:
nothing that follows them from frame to frame can tell. The limb's edges tell, but not in one frame,
where sleeves, the other limb and the room have edges too. Laid over each other along the fitted
limb, a clip's pictures leave what goes along with it. How edges run beside the joints no mechanics
says: that is learned (``tests/accuracy/learn_edges.py``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from analysis.checks import FloatArray, require_shape
from analysis.motion.angles import included_deg
from analysis.motion.bends import GROUPS, PART_OF, Alike, alike, turned_between
from analysis.motion.laid_limbs import ACROSS, ALONG, between, contrast, laid_along
from analysis.pose.track import LIMBS, PoseTrack

#: Straight edges that are tried: where they cross the limb's middle, lengths, and how they run
#: there, radians.
_PLACES, _SLOPES = np.arange(-0.5, 0.501, 0.01), np.arange(-0.3, 0.3001, 0.0125)
#: An edge stronger than this many times the strongest tenth is not believed the more.
_STRONGEST = 2.0
#: How much stronger an edge must be to be believed e times as much, by itself and as one of two.
_BETTER, _BETTER_BOTH = 0.03, 0.04
#: How much edges slope at most, usually; pairs of them also lie off the limb so far; radians and
#: lengths.
_SLOPE, _PAIR_SLOPE, _PAIR_OFF = 0.2, 0.07, 0.05
#: Where pairs are tried to lie, and how they slope.
_PAIR_OFFS, _PAIR_SLOPES = np.arange(-0.12, 0.121, 0.01), np.arange(-0.2, 0.2001, 0.0125)


@dataclass(frozen=True)
class _Shape:
    """What a limb looks like, in its own length.

    Its edges are looked for `part` of the way along, at `beside` from the middle; its half width
    is about `half` ± `within`, and narrows along it by one of `taper` of that.
    """

    part: tuple[float, float]
    beside: tuple[float, float]
    half: float
    within: float
    taper: tuple[float, ...]


#: The upper arm has none: shirt and trunk hide it, and its edges told nothing in rendered clips.
_SHAPES = {
    "forearm": _Shape((0.3, 0.95), (0.06, 0.3), 0.15, 0.05, (0.2, 0.4, 0.6)),
    "thigh": _Shape((0.3, 0.9), (0.1, 0.4), 0.19, 0.06, (0.2, 0.4, 0.6)),
    "shank": _Shape((0.15, 0.9), (0.05, 0.3), 0.15, 0.05, (0.2, 0.4, 0.6)),
}

#: What edges tell of a limb: slope and place of the upper and of the lower one, slope, place and
#: half width of both as a pair; degrees, and hundredths of its length.
TOLD = 7

#: Limb → weights [shape=(GROUPS, 1 + TOLD)]: by how much it is to be turned, in each group of
#: frames alike (:mod:`bends`).
EdgeWeights = Mapping[str, FloatArray]


@dataclass(frozen=True)
class Told:
    """What a limb's edges tell [shape=(TOLD,)] by all pictures of one group."""

    group: Alike
    told: FloatArray


def bend_deg(ends: FloatArray) -> dict[str, FloatArray]:
    """Return the angle of elbow ("arm") and knee ("leg") [shape=(T,) each].

    Of both ends of each of ``LIMBS`` [shape=(T, N, 2, 2)], in any unit.
    """
    at = {name: ends[:, index] for index, name in enumerate(LIMBS)}
    return {
        "arm": included_deg(at["upper_arm"][:, 0], at["forearm"][:, 0], at["forearm"][:, 1]),
        "leg": included_deg(at["thigh"][:, 0], at["thigh"][:, 1], at["shank"][:, 1]),
    }


def off_edges_deg(
    pose: PoseTrack, ends: FloatArray, ends_px: FloatArray, weights: EdgeWeights
) -> FloatArray:
    """Return how far limbs lie off the fit by their edges.

    Parameters
    ----------
    pose : PoseTrack
    ends : array [shape=(T, N, 2, 2)]
        Both fitted ends of each of ``LIMBS`` in the athlete's frame.
    ends_px : array [shape=(T, N, 2, 2)]
        The same in the picture, px.
    weights : mapping of str to array [shape=(GROUPS, 1 + TOLD)]
        By limb; one without is not turned.

    Returns
    -------
    array [shape=(T, N)]
        Degrees by which the limb is to be turned, + clockwise in the picture; 0 where nobody knows.
    """
    off = np.zeros(ends.shape[:2])
    for limb, name in enumerate(LIMBS):
        found = edges_told(pose, ends, ends_px, limb) if name in weights else []
        if not found:
            continue
        require_shape(f"weights of {name}", weights[name], (GROUPS, 1 + TOLD))
        turn = [weights[name][each.group.group] @ np.append(1.0, each.told) for each in found]
        off[:, limb] = turned_between(_bend_of(name, ends), [e.group for e in found], turn)
    return off if pose.facing == "right" else -off


def edges_told(pose: PoseTrack, ends: FloatArray, ends_px: FloatArray, limb: int) -> list[Told]:
    """Return what a limb's edges tell, for each group of frames alike that has enough pictures.

    Of who faces left as if facing right. `ends` and `ends_px` as in `off_edges_deg`.
    """
    name, frames = list(LIMBS)[limb], pose.pictured_frames
    if name not in _SHAPES or not len(frames):
        return []
    laid, known = laid_along(pose, limb, ends_px[frames, limb])
    return [
        Told(group, _told(contrast(laid[group.frames]), _SHAPES[name]))
        for group in alike(name, _bend_of(name, ends)[frames], known)
    ]


def _bend_of(limb: str, ends: FloatArray) -> FloatArray:
    return bend_deg(ends)[PART_OF[limb]]


def _told(seen: FloatArray, shape: _Shape) -> FloatArray:
    """Return what edges in a limb's contrast [shape=(R, C)] tell [shape=(TOLD,)]."""
    strength = _strength(seen, shape.part)
    told = [*_edge(strength, shape, -1.0), *_edge(strength, shape, 1.0), *_pair(strength, shape)]
    slopes = np.array([True, False, True, False, True, False, False])
    return np.where(slopes, np.degrees(told), 100.0 * np.array(told))


def _strength(seen: FloatArray, part: tuple[float, float]) -> FloatArray:
    """Return how strong straight edges are [shape=(places, slopes)], within part of the limb."""
    step = ALONG[1] - ALONG[0]
    chosen = np.abs(ALONG - sum(part) / 2.0) < (part[1] - part[0] + step) / 2.0
    seen, along = seen[:, chosen], ALONG[chosen] - sum(part) / 2.0
    seen = np.minimum(seen / (np.percentile(seen, 90) + 1e-3), _STRONGEST)
    across = _PLACES[:, None, None] + _SLOPES[:, None] * along
    row, below = between(across, ACROSS)
    column = np.arange(len(along))
    return np.asarray((seen[row, column] * (1 - below) + seen[row + 1, column] * below).mean(-1))


def _edge(strength: FloatArray, shape: _Shape, side: float) -> tuple[float, float]:
    """Return slope and place of the edge on one side of the limb, each place believed a little."""
    least, most = shape.beside
    beside = side * _PLACES
    there = np.exp(-0.5 * ((beside - (least + most) / 2.0) / (most - least)) ** 2)
    there[(beside < least) | (beside > most)] = 0.0
    score = strength * there[:, None] * np.exp(-0.5 * (_SLOPES / _SLOPE) ** 2)
    belief = np.exp((score - score.max()) / _BETTER) * (there > 0)[:, None]
    belief /= belief.sum()
    return float((belief * _SLOPES).sum()), float((belief * _PLACES[:, None]).sum())


def _pair(strength: FloatArray, shape: _Shape) -> tuple[float, float, float]:
    """Return slope, place and half width of the two edges that are most like the limb's."""
    tried = _pairs_of(shape)
    score = (tried.upper(strength) + tried.lower(strength)) / _BETTER_BOTH + tried.usual
    belief = np.exp(score - score.max())
    belief /= belief.sum()
    found = [float((belief * value).sum()) for value in (tried.slope, tried.off, tried.half)]
    return found[0], found[1], found[2]


class _Edges:
    """Edges that are tried: where they stand between those of which the strength is known."""

    def __init__(self, place: FloatArray, slope: FloatArray) -> None:
        (row, below), (column, right) = between(place, _PLACES), between(slope, _SLOPES)
        # Places are those of the table but for rounding.
        self._first = (row + np.rint(below).astype(int)) * len(_SLOPES) + column
        self._right = right

    def __call__(self, strength: FloatArray) -> FloatArray:
        """Return how strong each is."""
        left, right = strength.ravel()[self._first], strength.ravel()[self._first + 1]
        return np.asarray(left + (right - left) * self._right)


@dataclass(frozen=True)
class _Pairs:
    """Pairs of edges that are tried, and how usual each is, a logarithm [shape=(P,) each]."""

    slope: FloatArray
    off: FloatArray
    half: FloatArray
    usual: FloatArray
    upper: _Edges
    lower: _Edges


@cache
def _pairs_of(shape: _Shape) -> _Pairs:
    half_of = np.arange(shape.half - 2 * shape.within, shape.half + 2 * shape.within + 1e-6, 0.01)
    grid = np.meshgrid(_PAIR_OFFS, _PAIR_SLOPES, half_of, shape.taper, indexing="ij")
    off, slope, half, taper = (values.ravel() for values in grid)
    unusual = (off / _PAIR_OFF) ** 2 + (slope / _PAIR_SLOPE) ** 2
    unusual += ((half - shape.half) / shape.within) ** 2
    upper, lower = (
        _Edges(off - half, slope + half * taper),
        _Edges(off + half, slope - half * taper),
    )
    return _Pairs(slope, off, half, -0.5 * unusual, upper, lower)
