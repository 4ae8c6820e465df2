"""Hand and limbs followed through every frame, also those at which no model looks.

Followers need to know about where the joints are. Between two looks they are about on a straight
line, which is known once the second is there: so following is a look behind.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.hand import HandFollower
from analysis.pose.last_frame import Picture
from analysis.pose.limbs import LimbFollower
from analysis.pose.track import LIMB_JOINTS


@dataclass(frozen=True)
class Followed:
    """A frame through which hand and limbs were followed.

    Attributes
    ----------
    index : int
    luma : array [shape=(H, W)]
        Its brightness.
    joints : array [shape=(J, 2)]
        The near ``LIMB_JOINTS``, px of the clip's frame; NaN where nobody knows.
    hand_moved_px : array [shape=(HAND_POINTS, 2)]
    limb_turned_deg : array [shape=(N,)]
        See :class:`track.PoseTrack`.
    """

    index: int
    luma: Picture
    joints: FloatArray
    hand_moved_px: FloatArray
    limb_turned_deg: FloatArray


class Followers:
    """Follows hand and limbs through one section of a clip.

    Parameters
    ----------
    scale : float
        Its pictures are so many times as large as the clip's.
    """

    def __init__(self, scale: float) -> None:
        self._hand, self._limbs = HandFollower(scale), LimbFollower(scale)
        self._waiting: list[tuple[int, Picture]] = []
        self._last: FloatArray | None = None

    def go_on(self, index: int, luma: Picture, joints: FloatArray | None) -> list[Followed]:
        """Take the next frame, and return those that can be followed now.

        Parameters
        ----------
        index : int
        luma : array [shape=(H, W)]
        joints : array [shape=(J, 2)] or None
            The near ``LIMB_JOINTS`` as a model sees them, px; None where none looked: the frame
            waits for the next look.
        """
        self._waiting.append((index, luma))
        return [] if joints is None else list(self._through(joints))

    def rest(self) -> list[Followed]:
        """Return the frames after the last look, as if nothing moved any more."""
        last = self._last
        return list(self._through(np.full((len(LIMB_JOINTS), 2), np.nan) if last is None else last))

    def _through(self, joints: FloatArray) -> Iterator[Followed]:
        """Follow through the frames that waited, to the one with these joints."""
        before = joints if self._last is None else self._last
        waited, self._waiting, self._last = self._waiting, [], joints
        for number, (index, luma) in enumerate(waited, 1):
            share = number / len(waited)
            here = joints if share == 1.0 else before + share * (joints - before)
            moved_px = self._hand.moved(luma, here[:2])
            yield Followed(index, luma, here, moved_px, self._limbs.turned_deg(luma, here))
