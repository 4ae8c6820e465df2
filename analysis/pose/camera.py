"""What the background tells of the camera: its movement, and how the picture is held."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray

Luma = NDArray[np.uint8]

#: Width at which movement is followed.
SMALL_PX = 320
#: A camera in the hand sways by at most this share of the picture's width; more is panning.
HELD_SHARE = 0.08

#: A camera whose picture strays further than this share of its width moves.
MOVES_SHARE = 0.006
#: Background corners followed, how many must agree, and which share of them.
_CORNERS, _LEAST_CORNERS, _MAJORITY = 160, 10, 0.5
#: Without a majority the largest share that moves as one will do, if it is as large as this: from
#: a launch, bank, water and hull each go their own way.
_LEAST_SHARE = 0.2
_AGREE_PX = 1.0


class BackgroundShift:
    """Follows the background from frame to frame, people masked out.

    Corners are tracked from a key picture for as long as enough of them agree, so a still camera
    gathers no drift. Only the movement across the picture is told, not turning or zooming.
    """

    def __init__(self, scale: float) -> None:
        """Make one; `scale` is full-size px per px of the small pictures."""
        self._scale = scale
        self._key: Luma | None = None
        self._corners: Any = None
        self._key_shift = np.zeros(2)
        self._shift = np.zeros(2)
        self._last: Luma | None = None

    def add(self, small: Luma, boxes_px: Sequence[FloatArray]) -> FloatArray:
        """Return the background's shift since the first picture [shape=(2,), full-size px].

        Parameters
        ----------
        small : array [shape=(h, w), uint8]
            Luma of the frame at `SMALL_PX` width.
        boxes_px : sequence of array [shape=(4,)]
            Where people are, full-size px; kept out.
        """
        moved = None if self._key is None else self._follow(self._key, small)
        if moved is None and self._last is not None:
            # Too little of the key picture is left: go on from the last frame instead.
            self._set_key(self._last, boxes_px)
            moved = self._follow(self._last, small)
        if self._key is None:
            self._set_key(small, boxes_px)
        if moved is not None:
            self._shift = self._key_shift + moved
        self._last = small
        return self._shift * self._scale

    def _set_key(self, small: Luma, boxes_px: Sequence[FloatArray]) -> None:
        import cv2

        mask = np.full(small.shape, 255, np.uint8)
        for box in boxes_px:
            x0, y0, x1, y1 = box / self._scale
            room_x, room_y = 0.2 * (x1 - x0) + 2, 0.15 * (y1 - y0) + 2
            top, left = max(int(y0 - room_y), 0), max(int(x0 - room_x), 0)
            mask[top : max(int(y1 + room_y), 0), left : max(int(x1 + room_x), 0)] = 0
        self._key = small
        self._key_shift = self._shift.copy()
        self._corners = cv2.goodFeaturesToTrack(small, _CORNERS, 0.01, 8, mask=mask)

    def _follow(self, key: Luma, small: Luma) -> FloatArray | None:
        import cv2

        if self._corners is None or len(self._corners) < _LEAST_CORNERS:
            return None
        guess = self._corners + (self._shift - self._key_shift).astype(np.float32)
        found, status, _ = cv2.calcOpticalFlowPyrLK(
            key,
            small,
            self._corners,
            guess,
            winSize=(15, 15),
            maxLevel=2,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )
        good = status.ravel() == 1
        moved = (found - self._corners).reshape(-1, 2)[good].astype(np.float64)
        if len(moved) < _LEAST_CORNERS:
            return None
        count = len(self._corners)
        agree = np.linalg.norm(moved - np.median(moved, axis=0), axis=1) < _AGREE_PX
        if agree.sum() < max(_LEAST_CORNERS, _MAJORITY * count):
            near = np.linalg.norm(moved[:, None] - moved[None], axis=2) < _AGREE_PX
            agree = near[int(np.argmax(near.sum(axis=1)))]
        if agree.sum() < max(_LEAST_CORNERS, _LEAST_SHARE * count):
            return None
        return np.asarray(moved[agree].mean(axis=0))


def moves(shift_px: FloatArray, width_px: int) -> bool:
    """Tell whether a camera moves, from its background's shift [shape=(T, 2), px]."""
    away = np.linalg.norm(shift_px - np.median(shift_px, axis=0), axis=1)
    return bool(np.percentile(away, 95) > MOVES_SHARE * width_px)


def blur_px(luma: Luma) -> float:
    """Estimate the blur of the sharpest edges in a picture, as the SD of a Gaussian, px.

    Parameters
    ----------
    luma : array [shape=(h, w), uint8]

    Returns
    -------
    float
        NaN when the picture has no edge.

    Notes
    -----
    A step edge blurred by σ has slope ∝ 1/σ; blurred once more by σ₀ it has ∝ 1/√(σ² + σ₀²). The
    ratio R of the two slopes gives σ = σ₀ / √(R² − 1): exact for a lone step edge.
    """
    import cv2

    again = 1.5
    # Double: in single precision the sums depend on where the picture lies in memory.
    picture = luma.astype(np.float64)
    slopes = _slope(picture)
    blurred = _slope(np.asarray(cv2.GaussianBlur(picture, (0, 0), again), np.float64))
    # The steepest place of an edge, not its flanks: there the ratio means something.
    crest = (slopes >= cv2.dilate(slopes, np.ones((3, 3), np.uint8)) - 1e-6) & (blurred > 1e-3)
    strong = crest & (slopes > max(8.0, float(np.percentile(slopes, 90))))
    if strong.sum() < 20:
        return float("nan")
    ratio = np.maximum(slopes[strong] / blurred[strong], 1.0 + 1e-3)
    return float(np.median(again / np.sqrt(ratio**2 - 1.0)))


def _slope(picture: FloatArray) -> FloatArray:
    import cv2

    across = cv2.Sobel(picture, cv2.CV_64F, 1, 0, scale=0.125)
    down = cv2.Sobel(picture, cv2.CV_64F, 0, 1, scale=0.125)
    return np.asarray(cv2.magnitude(across, down))


def held(shift_px: FloatArray, width_px: int) -> bool:
    """Tell whether a camera at most sways in the hand, so that the room's uprights stay in view.

    ``shift_px`` [shape=(T, 2), px] is its background's shift.
    """
    return bool(np.ptp(shift_px, axis=0).max() <= HELD_SHARE * width_px)
