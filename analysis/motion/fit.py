"""The planar rower fitted to a whole clip at once.

Unknown are the places of six joints in every frame, the five segment lengths, the line that the
hip keeps to on the seat, the ankle's resting place, and how deep hip and elbow lie under the skin.
Evidence pulls on them like springs of known stiffness: what each witness saw, segments that keep
their length, the seat on its rail, feet held by the footboard, skin that stays where it is on the
body, limbs that cannot jerk, and, once a first fit is there to tell, the way in which limbs and
trunk point by their own picture and the athlete's build (:mod:`rules`, :mod:`edges`, :mod:`ways`).
Gauss–Newton on the sparse
normal equations finds the places that satisfy all best; witnesses far off are believed less
(Student's t, by iterated re-weighting).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray, require_increasing, require_shape
from analysis.motion.edges import Depth, Silhouette, add_edges
from analysis.motion.motion import SEGMENTS
from analysis.motion.rows import Rows, Unknowns
from analysis.motion.rules import (
    ENDS,
    FITTED,
    Shortening,
    Stiffness,
    add_foot,
    add_seat,
    add_segments,
    add_smoothness,
    add_ways,
    add_witnesses,
)

#: A fit whose joints move less in a round, trunk lengths, is done.
_AT_REST = 2e-4
#: One in which a joint still moves further is not, however many rounds it should take: a knee that
#: a witness placed beyond the other leg is on its way back. So many rounds are enough for all.
_ASTRAY, _MOST_ROUNDS = 0.02, 24


@dataclass(frozen=True)
class FittedRower:
    """Result of the fit.

    Attributes
    ----------
    place_px : array [shape=(T, 6, 2)]
        Joints of ``FITTED`` in the athlete's frame, px.
    segments_px : mapping of str to float
    seat_height_px, seat_slope : float
        Hip's path: y = height + slope · x.
    rest_px : array [shape=(2,)]
        The ankle's resting place.
    deeper : array [shape=(E,)]
        How much deeper than usual the joints lie under each edge, trunk lengths.
    scatter_px : array [shape=(W, 6)]
        Robust spread of each witness about the fit, one coordinate, px; NaN without witness.
    rounds : int
        Gauss–Newton rounds taken.
    """

    place_px: FloatArray
    segments_px: dict[str, float]
    seat_height_px: float
    seat_slope: float
    rest_px: FloatArray
    deeper: FloatArray
    scatter_px: FloatArray
    rounds: int


def fit_rower(
    t_s: FloatArray,
    seen_px: FloatArray,
    spread_px: FloatArray,
    *,
    stiffness: Stiffness | None = None,
    shortening: Shortening | None = None,
    silhouette: Silhouette | None = None,
    depths: Mapping[str, Depth] | None = None,
    on_rail: bool = True,
    ways: FloatArray | None = None,
    start: FittedRower | None = None,
    most_rounds: int = 12,
) -> FittedRower:
    """Fit the rower to what the witnesses saw.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    seen_px : array [shape=(W, T, 6, 2)]
        Each witness's joints (``FITTED``) in the athlete's frame, px; NaN where it saw none.
    spread_px : array [shape=(W, T, 6)]
        How far each is believed to be off, one coordinate, px.
    stiffness : Stiffness, optional
    shortening : mapping of str to (angles, shares), optional
        How much of a segment's length shows, by the angle of the joint that it bends at: knees
        part at full compression and elbows flare, so that limbs leave the plane.
    silhouette : Silhouette, optional
        The outline as a witness of its own, with `depths`.
    depths : mapping of str to Depth, optional
        How deep joints usually lie under it, by name in ``edges.EDGES``.
    on_rail : bool
        Whether the hip keeps to a line (a machine, or a boat seen steadily).
    ways : array [shape=(T, S, 2)], optional
        Unit vectors in which ``SEGMENTS`` point by other evidence (:mod:`ways`); NaN where there is
        none.
    start : FittedRower, optional
        An earlier fit to the same evidence, to begin from.
    most_rounds : int
        More are made where a joint is still moved far: one that a witness led astray.

    Returns
    -------
    FittedRower

    Raises
    ------
    ValueError
        When a shape is wrong or a joint was never seen.
    """
    require_increasing("t_s", t_s)
    frames = len(t_s)
    require_shape("seen_px", seen_px, (None, frames, len(FITTED), 2))
    require_shape("spread_px", spread_px, (len(seen_px), frames, len(FITTED)))
    rules = stiffness or Stiffness()
    usual = depths if depths is not None and silhouette is not None else {}
    first = start or _first_guess(t_s, seen_px, spread_px, len(usual))
    place, rest, deeper = first.place_px, first.rest_px, first.deeper
    lengths = np.array([first.segments_px[name] for name in SEGMENTS])
    line = np.array([first.seat_height_px, first.seat_slope])
    unknowns = Unknowns(frames, len(usual))

    rounds = 0
    moved = math.inf
    while moved >= _AT_REST:
        if rounds >= (max(most_rounds, _MOST_ROUNDS) if moved > _ASTRAY else most_rounds):
            break
        rounds += 1
        rows = Rows(unknowns)
        unit = float(lengths[list(SEGMENTS).index("trunk")])
        add_witnesses(rows, place, seen_px, spread_px, rules)
        add_segments(rows, place, lengths, rules, shortening or {})
        add_foot(rows, place, rest, unit, rules)
        add_smoothness(rows, t_s, place, unit, rules)
        if silhouette is not None:
            add_edges(rows, place, deeper, unit, silhouette, usual)
        if ways is not None:
            add_ways(rows, place, ways, lengths, rules)
        if on_rail:
            add_seat(rows, place, line, unit, rules)
        else:
            column = unknowns.line.start
            rows.add(np.zeros(2), np.array([[column], [column + 1]]), np.ones((2, 1)))
        step = rows.solve()
        del rows  # before the next round makes its own
        place = place + step[: unknowns.joints].reshape(place.shape)
        lengths = lengths + step[unknowns.lengths]
        line = line + step[unknowns.line]
        rest = rest + step[unknowns.rest]
        deeper = deeper + step[unknowns.depths]
        moved = float(np.max(np.abs(step[: unknowns.joints]))) / unit
    return _rower(place, lengths, line, rest, deeper, _scatter(place, seen_px), rounds)


def _rower(
    place: FloatArray,
    lengths: FloatArray,
    line: FloatArray,
    rest: FloatArray,
    deeper: FloatArray,
    scatter: FloatArray,
    rounds: int,
) -> FittedRower:
    segments = dict(zip(SEGMENTS, (float(n) for n in lengths), strict=True))
    height, slope = (float(value) for value in line)
    return FittedRower(place, segments, height, slope, rest, deeper, scatter, rounds)


def _first_guess(t_s: FloatArray, seen: FloatArray, spread: FloatArray, edges: int) -> FittedRower:
    """Weighted mean of the witnesses, gaps bridged however long: the fit will judge them."""
    weight = np.where(np.isfinite(seen[..., 0]), 1.0 / spread**2, 0.0)[..., None]
    total = weight.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.sum(np.nan_to_num(seen) * weight, axis=0) / total
    for joint, name in enumerate(FITTED):
        known = np.isfinite(mean[:, joint, 0])
        if not known.any():
            raise ValueError(f"seen_px: expected {name} in at least one frame, got none")
        for axis in (0, 1):
            mean[:, joint, axis] = np.interp(t_s, t_s[known], mean[known, joint, axis])
    lengths = np.array(
        [np.median(np.linalg.norm(mean[:, a] - mean[:, b], axis=-1)) for a, b in ENDS]
    )
    line = np.array([float(np.median(mean[:, FITTED.index("hip"), 1])), 0.0])
    rest = np.median(mean[:, FITTED.index("ankle")], axis=0)
    return _rower(mean, lengths, line, rest, np.zeros(edges), _scatter(mean, seen), 0)


def _scatter(place: FloatArray, seen: FloatArray) -> FloatArray:
    """Spread of each witness about the fit: 1.4826 × median absolute departure."""
    off = np.abs(seen - place[None])
    out = np.full((len(seen), len(FITTED)), np.nan)
    for witness in range(len(seen)):
        for joint in range(len(FITTED)):
            known = off[witness, :, joint][np.isfinite(off[witness, :, joint])]
            if len(known):
                out[witness, joint] = 1.4826 * float(np.median(known))
    return out
