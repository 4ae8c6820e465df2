"""Straight edges of the surroundings, in a few frames of a clip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray, IntArray

#: Frames looked at, at most.
MOST_PICTURES = 5
#: Least step of brightness across an edge; below it are the seams of compression blocks.
MIN_CONTRAST = 6.0
#: Haze over water leaves a shore fainter than that: darkest and brightest are drawn apart as far as
#: they go, but this many times at most.
MOST_STRETCH = 3.0
#: Edges this near to the picture's rim, share of its width, are the rim.
RIM_SHARE = 0.01


@dataclass(frozen=True)
class Edges:
    """Straight edges of several pictures of the same place.

    Attributes
    ----------
    ends_px : array [shape=(N, 4)]
        x0, y0, x1, y1 of each, px.
    size_px : (width, height)
    pictures : int
        How many pictures they are from: an edge of the room is there in each of them.
    picture : array [shape=(N,)], optional
        In which of them each was found.
    moved_px : array [shape=(pictures, 2)], optional
        How far the surroundings are shifted in each.
    """

    ends_px: FloatArray
    size_px: tuple[int, int]
    pictures: int = 1
    picture: IntArray | None = None
    moved_px: FloatArray | None = None

    @property
    def at_rest_px(self) -> FloatArray | None:
        """The ends as if the camera had not moved [shape=(N, 4)]; None where that is not known."""
        if self.picture is None or self.moved_px is None:
            return None
        return self.ends_px - np.tile(self.moved_px, 2)[self.picture]


def straight_edges(
    pictures: Sequence[NDArray[np.uint8]],
    moved_px: FloatArray | None = None,
    *,
    faint: bool = False,
) -> Edges:
    """Find straight edges in several frames.

    Bodies have edges too, but other ones in every frame, so that they agree on nothing. To leave
    out where people are would leave out the wall behind them, which is often all there is.

    Parameters
    ----------
    pictures : sequence of array [shape=(h, w), uint8]
        Luma of frames spread over the clip; none gives no edges.
    moved_px : array [shape=(pictures, 2)], optional
        How far the surroundings are shifted in each, px.
    faint : bool
        Look for faint ones too, as far off on water. Rooms have edges enough without, and some
        more wrong ones with them.
    """
    if not pictures:
        return Edges(np.empty((0, 4)), (1, 1))
    height, width = pictures[0].shape
    spread = np.unique(np.linspace(0, len(pictures) - 1, MOST_PICTURES).astype(int))
    looked_at = [stretched(pictures[n]) if faint else pictures[n] for n in spread]
    found = [_edges(picture) for picture in looked_at]
    picture = np.repeat(np.arange(len(found)), [len(ends) for ends in found])
    moved = None if moved_px is None else moved_px[spread]
    return Edges(np.concatenate(found), (width, height), len(spread), picture, moved)


def level_leans(ends: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far edges [shape=(N, 4), px] are off the picture's level, and their lengths.

    Returns
    -------
    lean_deg : array [shape=(N,)]
        + where it falls from left to right, as in a picture that is turned clockwise.
    length_px : array [shape=(N,)]
    """
    dx, dy = ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]
    return np.degrees(np.arctan2(np.where(dx < 0, -dy, dy), np.abs(dx))), np.hypot(dx, dy)


def stretched(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Draw the darkest and brightest hundredths of a picture apart, to black and white."""
    low, high = np.percentile(picture, [1, 99])
    more = min(255.0 / max(float(high - low), 1.0), MOST_STRETCH)
    return np.asarray(np.clip((picture - low) * more, 0.0, 255.0).astype(np.uint8))


def _edges(picture: NDArray[np.uint8]) -> FloatArray:
    """Straight edges of one picture [shape=(N, 4): x0, y0, x1, y1, px]."""
    import cv2

    found = cv2.createLineSegmentDetector().detect(picture)[0]
    if found is None:
        return np.empty((0, 4))
    ends = found.reshape(-1, 4).astype(np.float64)
    ends = ends[np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]) >= 1.0]
    width = picture.shape[1]
    off_rim = np.abs((ends[:, 0] + ends[:, 2]) / 2 - width / 2) <= (0.5 - RIM_SHARE) * width
    return np.asarray(ends[off_rim & (_contrast(picture, ends) >= MIN_CONTRAST)])


def _contrast(picture: NDArray[np.uint8], ends: FloatArray) -> FloatArray:
    """Step of mean brightness across each edge, 2 px to either side of it."""
    along = np.linspace(0.1, 0.9, 9)
    run = ends[:, 2:] - ends[:, :2]
    across = np.stack([-run[:, 1], run[:, 0]], axis=1)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    points = ends[:, None, :2] + along[None, :, None] * run[:, None]
    sides = []
    for step in (-2.0, 2.0):
        x, y = np.moveaxis(np.rint(points + step * across[:, None]).astype(int), 2, 0)
        inside = picture[np.clip(y, 0, picture.shape[0] - 1), np.clip(x, 0, picture.shape[1] - 1)]
        sides.append(inside.astype(np.float64).mean(axis=1))
    return np.asarray(np.abs(sides[1] - sides[0]))
