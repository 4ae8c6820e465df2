"""How the hand moves from one frame to the next, followed in the picture itself.

A landmark is found anew in every frame and wanders by a centimetre within a few of them; near the
catch the hand itself moves by less. But its picture goes along with it, and two frames laid over
each other tell a tenth of a pixel. Both hands hold the same handle, so a model that takes the far
one for the near one does no harm.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.pose.last_frame import LastFrame, Picture
from analysis.pose.track import HAND_POINTS

#: Where points are laid on the hand: on from the wrist, and across, in forearms.
_ALONG = np.linspace(0.0, 0.5, 6)
_ACROSS = np.linspace(-0.12, 0.12, 4)
#: Side of what is compared around a point, in forearms, and its bounds, px.
_SIDE, _LEAST_PX, _MOST_PX = 0.3, 7, 31
#: Room around the points for what moves, in forearms: a quick hand goes this far in a 25th of a
#: second.
_ROOM = 0.7
#: A point that comes back elsewhere when it is followed back was not followed, px.
_BACK_PX = 0.3
#: Rounds and the step that ends them [px], and how much a point's surroundings must differ.
_UNTIL = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 20, 0.01)
_LEAST_TEXTURE = 1e-3


class HandFollower:
    """Follows the near hand through one section of a clip, frame by frame.

    Parameters
    ----------
    scale : float
        Its pictures are so many times as large as the clip's.
    """

    def __init__(self, scale: float) -> None:
        self._scale = scale
        self._last = LastFrame()

    def moved(self, picture: Picture, arm: FloatArray) -> FloatArray:
        """Return how far points of the hand came since the last frame.

        Parameters
        ----------
        picture : array [shape=(H, W)]
            The frame's brightness.
        arm : array [shape=(2, 2)]
            Where a model sees wrist and elbow, px of the clip's frame; NaN where it does not.

        Returns
        -------
        array [shape=(HAND_POINTS, 2)]
            px of the clip's frame; NaN where a point was not followed, and in the first frame.
        """
        before, back = self._last.passed(picture, arm)
        wrist = arm[0]
        forearm = (wrist - arm[1]) * self._scale
        length = float(np.hypot(*forearm))
        if before is None or not length > _LEAST_PX:
            return np.full((HAND_POINTS, 2), np.nan)
        points = points_on_hand(wrist * self._scale, forearm)
        # From here back: where the hand is now is known.
        return _followed(picture, before, points, back[0] * self._scale, length) / -self._scale


def points_on_hand(wrist: FloatArray, forearm: FloatArray) -> FloatArray:
    """Return the points that are followed [shape=(HAND_POINTS, 2)], in the unit given.

    Parameters
    ----------
    wrist, forearm : array [shape=(2,)]
        The wrist, and the way there from the elbow.
    """
    across = np.array([-forearm[1], forearm[0]])
    grid = _ALONG[:, None, None] * forearm + _ACROSS[None, :, None] * across
    return np.asarray(wrist + grid.reshape(-1, 2))


def _followed(
    now: Picture, then: Picture, points: FloatArray, guess: FloatArray, length: float
) -> FloatArray:
    """Return how far points of one picture are away in another [shape=(HAND_POINTS, 2), px].

    `guess` [shape=(2,)] is about how far, `length` that of the forearm; NaN where not found.
    """
    side = int(np.clip(round(_SIDE * length), _LEAST_PX, _MOST_PX)) | 1
    room = _ROOM * length + side
    low = np.floor(points.min(axis=0) - room).astype(int)
    high = np.ceil(points.max(axis=0) + room).astype(int) + 1
    left, top = np.maximum(low, 0)
    right, bottom = np.minimum(high, now.shape[1::-1])
    if right - left <= side or bottom - top <= side:
        return np.full_like(points, np.nan)
    part = np.s_[top:bottom, left:right]
    a, b = now[part], then[part]
    start = (points - [left, top]).astype(np.float32)
    end, there = _flow(a, b, start, start + guess.astype(np.float32), side)
    back, here = _flow(b, a, end, end - guess.astype(np.float32), side)
    sure = there & here & (np.abs(back - start).max(axis=1) < _BACK_PX)
    return np.where(sure[:, None], (end - start).astype(np.float64), np.nan)


def _flow(
    a: NDArray[np.uint8],
    b: NDArray[np.uint8],
    start: NDArray[np.float32],
    guess: NDArray[np.float32],
    side: int,
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return where points of `a` are in `b`, and which were found (Lucas and Kanade's way)."""
    end, found, _ = cv2.calcOpticalFlowPyrLK(
        a,
        b,
        start,
        guess.copy(),
        winSize=(side, side),
        maxLevel=1,
        criteria=_UNTIL,
        flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        minEigThreshold=_LEAST_TEXTURE,
    )
    return np.asarray(end, np.float32), found[:, 0] > 0
