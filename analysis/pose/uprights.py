"""How far the camera is rolled, told by the room's upright edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.lasting import LASTS_SHARE, lasting
from analysis.pose.straight_edges import Edges

#: Edges within this of the picture's vertical may be uprights of the room.
MAX_LEAN_DEG = 12.0
#: Shortest edge that counts, share of the picture's height.
MIN_LENGTH_SHARE = 0.06
#: Edges within this of a line agree with it.
AGREE_DEG = 1.0
#: Together the agreeing edges must be this long, in picture heights, and this share of all.
MIN_TOTAL_HEIGHTS = 0.5
MIN_AGREEING_SHARE = 0.4
#: Where that is not so, the same total of edges that last, which tell the room from whoever moves
#: in front of it. So few may be parts of machines, which do not stand as true: no phone that
#: somebody means to hold level is rolled by more than this.
MIN_LASTING_HEIGHTS, LASTING_TRUE_DEG, MOST_LASTING_DEG = 0.25, 1.0, 6.0
#: How true things that stand upright are, and how well the ends of an edge are placed.
TRUE_DEG, END_PX = 0.5, 0.3
#: Seen from above, uprights converge: their lean changes across the picture, by about
#: pitch × (width ÷ focal length). Phones are held a little above the athlete's middle; this is what
#: is expected of that, and its SD, degrees a width.
CONVERGENCE_DEG, CONVERGENCE_SD_DEG = 3.0, 5.0
#: SD of the roll of phones that are meant to be level, degrees (common practice: rarely beyond 6):
#: posts of machines lean by 11 all alike, and may be longer than all uprights of a bare room.
ROLL_SD_DEG = 8.0
#: Walls themselves are this true, and lens distortion bends them by as much.
FLOOR_SE_DEG = 0.3


@dataclass(frozen=True)
class Lean:
    """Lean of upright edges, degrees, + top to the right; NaN = none.

    Attributes
    ----------
    tilt_deg, se_deg : float
        At the athlete's place.
    converge_deg, converge_se_deg : float
        How much more they lean to the right at the picture's right edge than at its left.
    """

    tilt_deg: float
    se_deg: float
    converge_deg: float
    converge_se_deg: float


NO_WITNESS = Lean(*[float("nan")] * 4)


def upright_lean(edges: Edges, at_x_share: float) -> Lean:
    """Combine the upright ones of straight edges into one lean.

    Parameters
    ----------
    edges : Edges
        Of a camera that does not move. Several pictures of one room are to show that many times
        as much edge, and tell no more than one.
    at_x_share : float
        The athlete's place across the picture, 0…1: seen from above or below, uprights converge,
        and the lean is told for that place.
    """
    ends, (width, height) = edges.ends_px, edges.size_px
    lean, length = _leans(ends)
    use = (np.abs(lean) <= MAX_LEAN_DEG) & (length >= MIN_LENGTH_SHARE * height)
    across = (ends[:, 0] + ends[:, 2]) / 2 / width - at_x_share
    told = _Uprights(lean[use], length[use], across[use], edges.pictures)
    found = _agreed(told, MIN_TOTAL_HEIGHTS * height, TRUE_DEG)
    at_rest_px, picture = edges.at_rest_px, edges.picture
    if found is None and at_rest_px is not None and picture is not None:
        use &= np.abs(lean) <= MOST_LASTING_DEG
        use[use] = lasting(at_rest_px[use], picture[use], edges.pictures, LASTS_SHARE * width)
        told = _Uprights(lean[use], length[use], across[use], edges.pictures)
        found = _agreed(told, MIN_LASTING_HEIGHTS * height, LASTING_TRUE_DEG)
    return found or NO_WITNESS


@dataclass(frozen=True)
class _Uprights:
    """Lean, degrees, length, px, and place across, picture widths, of edges [each shape=(N,)]."""

    lean: FloatArray
    length: FloatArray
    across: FloatArray
    pictures: int


def _leans(ends: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the lean, degrees, and the length, px, of edges [shape=(N, 4)]."""
    dx, dy = ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]
    # Upwards along the edge: dy < 0 in the picture; the lean is its run to the right.
    lean = np.degrees(np.arctan2(np.where(dy > 0, -dx, dx), np.abs(dy)))
    return lean, np.hypot(dx, dy)


def _agreed(told: _Uprights, least_px: float, true_deg: float) -> Lean | None:
    """Return what edges of at least so much length in each picture agree on; else None."""
    lean, length, across = told.lean, told.length, told.across
    least = least_px * told.pictures
    if length.sum() < least:
        return None
    start, slope = _agreement(lean, length, across)
    agree = np.abs(lean - start - slope * across) <= AGREE_DEG
    total = length[agree].sum()
    if total < least or total < MIN_AGREEING_SHARE * length.sum():
        return None
    sd = np.hypot(true_deg, np.degrees(np.sqrt(2.0) * END_PX / length[agree]))
    return _fit(lean[agree], across[agree], sd * np.sqrt(told.pictures))


def _fit(lean: FloatArray, across: FloatArray, sd: FloatArray) -> Lean:
    """Straight line lean(across) with the expected convergence as prior; its value at 0."""
    design = np.column_stack([np.ones(len(lean)), across]) / sd[:, None]
    weight = 1.0 / CONVERGENCE_SD_DEG**2
    covariance = np.linalg.inv(design.T @ design + np.diag([0.0, weight]))
    fit = covariance @ (design.T @ (lean / sd) + [0.0, weight * CONVERGENCE_DEG])
    rest = lean / sd - design @ fit
    excess = max(1.0, float(rest @ rest) / max(len(lean) - 2, 1))
    start_se, slope_se = np.hypot(np.sqrt(np.diag(covariance) * excess), FLOOR_SE_DEG)
    return Lean(float(fit[0]), float(start_se), float(fit[1]), float(slope_se))


def _agreement(lean: FloatArray, length: FloatArray, across: FloatArray) -> tuple[float, float]:
    """Start and slope of the line lean(across) on which most edge length lies."""
    order = np.argsort(-length)[:40]
    best, line = -1.0, (0.0, 0.0)
    for i in order:
        for j in order:
            gap = across[j] - across[i]
            if i != j and gap < 0.15:
                continue
            slope = CONVERGENCE_DEG if i == j else float((lean[j] - lean[i]) / gap)
            start = float(lean[i] - slope * across[i])
            rest = (lean - start - slope * across) / AGREE_DEG
            held = float((length * np.maximum(0.0, 1.0 - rest**2)).sum())
            unusual = (slope - CONVERGENCE_DEG) / CONVERGENCE_SD_DEG
            held *= float(np.exp(-0.05 * unusual**2 - 0.5 * (start / ROLL_SD_DEG) ** 2))
            if held > best:
                best, line = held, (start, slope)
    return line
