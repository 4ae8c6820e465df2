"""How rounded the back is: the athlete's own back line out of what the outline shows of it.

The back angle is defined by two straight-line fits along the back's skin, from seat contact to the
neck's base by arc length: upper tangent (65–90 %) minus lower tangent (10–35 %), + rounded. The
silhouette shows clothes and muscle, not the line of the spine, and often more than the athlete: a
neighbour's legs, a hand, a machine. But a back keeps its shape through a clip: at each height its
distance behind the trunk's axis changes little, and evenly with the trunk's lean. So the athlete's
own line is found first, what is far from it is left out, and the angle is a weighted sum of what is
left, with weights learned from bodies whose back is known (``tests/accuracy/learn_back.py``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray
from analysis.motion.back_line import LEVELS
from analysis.motion.filters import median_of_known

#: Half-width of the running median that calms the edge, s.
MEDIAN_S = 0.3

#: An edge further from usual backs than this many of their standard deviations, and as many trunk
#: lengths, is no back.
_USUAL_SES = 3.0
_USUAL_SHARE = 0.08

#: An edge further from the athlete's own line than this many of its standard deviations is
#: somebody else's, but never one nearer than the second number, share of the trunk's length.
_OWN_SES = 3.0
_OWN_SHARE = 0.03

#: How much a back's distances change with lean from athlete to athlete, share per ``LEAN_DEG``.
_LEAN_SPREAD = 0.015

#: Samples that count as one: an edge that is off stays so for some frames.
_ALIKE = 5.0

#: Hip and shoulder may be placed this far off together, share of the trunk's length.
_SHIFT_SHARE = 0.08

#: Heights that count for whether enough is seen, and the share of them that must be.
_COUNTED = (LEVELS > -0.12) & (LEVELS < 1.02)
_SEEN_NEEDED = 0.5

#: Lean of the trunk that counts as one in lines and weights, degrees.
LEAN_DEG = 20.0

#: Where less of the edge than the first is the athlete's own, the back is less certain, as many
#: times as the second says: learn_back.py prints what was left over in both kinds of clips.
OWN_USUALLY = 0.9
_SPOILED = 2.5

_ROUNDS, _STEPS = 2, 12


@dataclass(frozen=True)
class UsualBack:
    """What backs usually look like from the side, and what their line tells of rounding.

    Attributes
    ----------
    line : array [shape=(2, L)]
        Distance of the rear edge behind the trunk's axis at each of ``back_line.LEVELS`` when the
        trunk is upright, and what ``LEAN_DEG`` of forward lean add; share of the trunk's length.
    spread : array [shape=(L,)]
        Standard deviation of the first from athlete to athlete.
    weights : array [shape=(2 + L,)]
        Back angle, degrees, as a weighted sum of one, the lean, and the line: :func:`terms_of`.
    """

    line: FloatArray
    spread: FloatArray
    weights: FloatArray


@dataclass(frozen=True)
class OwnBack:
    """The athlete's own back line over a clip.

    Attributes
    ----------
    line : array [shape=(2, L)]
        As that of :class:`UsualBack`, but this athlete's.
    off : array [shape=(T, L)]
        How far the edge lies behind it, share of the trunk's length; NaN where the edge is hidden
        or somebody else's.
    share : float
        Share of what is seen of the edge that is the athlete's own; NaN where none is seen.
    looked : array [shape=(T,)] of bool
        Frames in which an edge was looked for.
    """

    line: FloatArray
    off: FloatArray
    share: float
    looked: BoolArray

    @property
    def less_certain(self) -> float:
        """How many times less certain the back angle is than where the edge is the athlete's."""
        return _SPOILED if self.share < OWN_USUALLY else 1.0


def own_back(
    edge: FloatArray, trunk_deg: FloatArray, usual: UsualBack, outlined: IntArray | None = None
) -> OwnBack:
    """Find the athlete's own line in the rear edge [shape=(T, L)] (back_line.find_back_line).

    `outlined` are the frames in which an edge was looked for, all when left out. Those in which hip
    and shoulder are placed too far back or forward together are put right by what most of the edge
    says.
    """
    lean, shift = _lean_terms(trunk_deg), np.zeros(len(edge))
    for _ in range(_ROUNDS):
        off = edge - shift[:, None] - lean @ usual.line
        usable = _like_a_back(off, usual)
        own, se = robust_line(np.where(usable, off, np.nan), lean, usual.spread)
        off = off - lean @ own
        usable &= np.abs(off) <= np.maximum(_OWN_SES * se, _OWN_SHARE)
        most = np.nan_to_num(median_of_known(off[:, _COUNTED].T))
        shift = np.clip(shift + most, -_SHIFT_SHARE, _SHIFT_SHARE)
    seen = np.isfinite(off[:, _COUNTED]).sum()
    share = float(usable[:, _COUNTED].sum() / seen) if seen else float("nan")
    looked = np.zeros(len(edge), bool)
    looked[slice(None) if outlined is None else outlined] = True
    return OwnBack(usual.line + own, np.where(usable, off, np.nan), share, looked)


def without_others(edge: FloatArray, trunk_deg: FloatArray, usual: UsualBack) -> FloatArray:
    """Return the edge [shape=(T, L)] with NaN where no back is so far behind or before the axis.

    For single frames, without what the rest of the clip says.
    """
    off = edge - _lean_terms(trunk_deg) @ usual.line
    return np.asarray(np.where(_like_a_back(off, usual), edge, np.nan))


def terms_of(own: OwnBack, t_s: FloatArray, trunk_deg: FloatArray) -> FloatArray:
    """Return what the back angle is a weighted sum of [shape=(T, 2 + L)].

    One, the trunk's lean in units of ``LEAN_DEG``, and the back's distances at the edge's levels,
    as running median over ``MEDIAN_S`` on either side, because the edge trembles from frame to
    frame and the back does not. What is hidden here and there is as in the rest of the clip; a
    frame of which too little is known is NaN.
    """
    lean = _lean_terms(trunk_deg)
    off = _running_median(t_s, own.off, own.looked)
    told = np.isfinite(off[:, _COUNTED]).mean(axis=1) >= _SEEN_NEEDED
    line = lean @ own.line + np.nan_to_num(off)
    return np.column_stack([lean, np.where(told[:, None], line, np.nan)])


def back_rounding_deg(
    own: OwnBack, t_s: FloatArray, trunk_deg: FloatArray, usual: UsualBack
) -> FloatArray:
    """Return the back's raw angle [shape=(T,), deg], + rounded; NaN where it cannot be told."""
    return np.asarray(terms_of(own, t_s, trunk_deg) @ usual.weights)


def _like_a_back(off: FloatArray, usual: UsualBack) -> BoolArray:
    return np.asarray(np.abs(off) < _USUAL_SES * usual.spread + _USUAL_SHARE)


def _lean_terms(trunk_deg: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(trunk_deg)), trunk_deg / LEAN_DEG])


def robust_line(
    off: FloatArray, lean: FloatArray, spread: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return one line in the lean for each level [shape=(2, L)] and the scatter about it.

    Iteratively reweighted least squares (weights of Geman and McClure: what is far off hardly
    counts), held to 0 as strongly as athletes are alike: `spread` [shape=(L,)] at an upright trunk.
    """
    known = np.isfinite(off) & np.isfinite(lean[:, 1:])
    values, terms = np.where(known, off, 0.0), np.nan_to_num(lean)
    line = np.zeros((2, off.shape[1]))
    pairs = (terms[:, :, None] * terms[:, None, :]).reshape(len(terms), 4)
    for _ in range(_STEPS):
        left = np.where(known, values - terms @ line, np.nan)
        se = 1.4826 * np.nan_to_num(median_of_known(np.abs(left)))  # of what scatters about 0
        se = np.maximum(se, _OWN_SHARE / 3.0)
        weight = np.where(known, 1.0 / (1.0 + (left / (2.0 * se)) ** 2) ** 2, 0.0)
        held = _ALIKE * se**2 / np.stack([spread**2, np.full(len(spread), _LEAN_SPREAD**2)])
        left_side = (weight.T @ pairs).reshape(-1, 2, 2) + held.T[:, :, None] * np.eye(2)
        right_side = (weight * values).T @ terms
        line = np.linalg.solve(left_side, right_side[:, :, None])[:, :, 0].T
    return line, se


def _running_median(t_s: FloatArray, values: FloatArray, looked: BoolArray) -> FloatArray:
    """Median of what is known within ``MEDIAN_S``; NaN where that is less than half of what could.

    `looked` [shape=(T,)] tells the rows that could.
    """
    before = np.append(0, np.cumsum(looked))
    first = np.searchsorted(t_s, t_s - MEDIAN_S)
    last = np.searchsorted(t_s, t_s + MEDIAN_S, side="right")
    out = np.full_like(values, np.nan)
    for frame, (a, b) in enumerate(zip(first, last, strict=True)):
        near = values[a:b]
        enough = 2 * np.isfinite(near).sum(axis=0) >= max(before[b] - before[a], 1)
        out[frame, enough] = median_of_known(near)[enough]
    return out
