"""How far the camera is rolled, told by the room's upright edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray

#: Edges within this of the picture's vertical may be uprights of the room.
MAX_LEAN_DEG = 12.0
#: Shortest edge that counts, share of the picture's height.
MIN_LENGTH_SHARE = 0.06
#: Edges within this of each other agree.
AGREE_DEG = 1.0
#: Together the agreeing edges must be this long, in picture heights, and this share of all.
MIN_TOTAL_HEIGHTS = 0.5
MIN_AGREEING_SHARE = 0.4
#: Doors and walls themselves are this true, and lens distortion bends them by as much.
FLOOR_SE_DEG = 0.3


@dataclass(frozen=True)
class Lean:
    """Lean of upright edges at the athlete's place, degrees, + top to the right; NaN = none."""

    tilt_deg: float
    se_deg: float


NO_WITNESS = Lean(float("nan"), float("nan"))


def upright_lean(
    pictures: Sequence[NDArray[np.uint8]], boxes: Sequence[FloatArray], at_x_share: float
) -> Lean:
    """Find the lean of upright edges in the still background of several frames.

    Parameters
    ----------
    pictures : sequence of array [shape=(h, w), uint8]
        Luma of frames of a still camera, spread over the clip.
    boxes : sequence of array [shape=(4,)]
        Where people were, px of `pictures`: edges there are bodies, not walls.
    at_x_share : float
        The athlete's place across the picture, 0…1: seen from above or below, uprights converge,
        and the lean is told for that place.
    """
    import cv2

    if not pictures:
        return NO_WITNESS
    # The median over time takes passers-by and noise out of the background.
    still = np.median(np.stack(pictures), axis=0).astype(np.uint8)
    height, width = still.shape
    found = cv2.createLineSegmentDetector().detect(still)[0]
    if found is None:
        return NO_WITNESS
    ends = found.reshape(-1, 4).astype(np.float64)
    ends = ends[np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]) >= 1.0]
    middle = (ends[:, :2] + ends[:, 2:]) / 2
    for box in boxes:
        inside = np.all((middle >= box[:2]) & (middle <= box[2:]), axis=1)
        ends, middle = ends[~inside], middle[~inside]
    return lean_of_edges(ends, width, height, at_x_share)


def lean_of_edges(ends: FloatArray, width: int, height: int, at_x_share: float) -> Lean:
    """Combine edges [shape=(N, 4): x0, y0, x1, y1, px] into one lean; see `upright_lean`."""
    dx, dy = ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]
    length = np.hypot(dx, dy)
    # Upwards along the edge: dy < 0 in the picture; the lean is its run to the right.
    lean = np.degrees(np.arctan2(-dx * np.sign(dy), np.abs(dy)))
    use = (np.abs(lean) <= MAX_LEAN_DEG) & (length >= MIN_LENGTH_SHARE * height)
    lean, length = lean[use], length[use]
    across = ((ends[:, 0] + ends[:, 2]) / 2 / width)[use] - at_x_share
    if length.sum() < MIN_TOTAL_HEIGHTS * height:
        return NO_WITNESS
    slope, start = _agreement(lean, length, across)
    rest = lean - start - slope * across
    agree = np.abs(rest) <= AGREE_DEG
    total = length[agree].sum()
    if total < MIN_TOTAL_HEIGHTS * height or total < MIN_AGREEING_SHARE * length.sum():
        return NO_WITNESS
    weight = length[agree] / total
    design = np.column_stack([np.ones(agree.sum()), across[agree]])
    if slope == 0.0:
        design = design[:, :1]
    root = np.sqrt(weight)
    fit = np.linalg.lstsq(design * root[:, None], lean[agree] * root, rcond=None)[0]
    spread = np.sqrt(np.sum(weight * (lean[agree] - design @ fit) ** 2))
    inverse = np.linalg.pinv(design.T @ (design * weight[:, None]))
    effective = 1.0 / np.sum(weight**2)
    se = spread * np.sqrt(inverse[0, 0] / max(effective - design.shape[1], 1.0))
    return Lean(float(fit[0]), float(np.hypot(se, FLOOR_SE_DEG)))


def _agreement(lean: FloatArray, length: FloatArray, across: FloatArray) -> tuple[float, float]:
    """Slope and start of the line lean(across) on which most edge length lies.

    A slope is allowed only when edges far apart ask for it: it must win over none by a tenth.
    """
    score = [(length * (np.abs(lean - s) <= AGREE_DEG)).sum() for s in lean]
    best = int(np.argmax(score))
    flat, most, line = float(score[best]), float(score[best]) * 1.1, (0.0, float(lean[best]))
    order = np.argsort(-length)[:40]
    for i in order:
        for j in order:
            if across[j] - across[i] < 0.25:
                continue
            slope = float((lean[j] - lean[i]) / (across[j] - across[i]))
            start = float(lean[i] - slope * across[i])
            held = float((length * (np.abs(lean - start - slope * across) <= AGREE_DEG)).sum())
            if held > most and held > flat:
                most, line = held, (slope, start)
    return line
