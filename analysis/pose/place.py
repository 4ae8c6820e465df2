"""Where the followed person is, between the frames that were looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.pose.crop import Square
from analysis.pose.linking import PersonTrack
from analysis.pose.people import TORSO, trunk_length

#: Room left around the person's box, in trunk lengths: it moves between the frames looked at.
_ROOM = 0.35


@dataclass(frozen=True)
class Place:
    """A person's place at any time, by straight lines between the frames that saw them.

    Attributes
    ----------
    t_s : array [shape=(S,)]
        Times at which the person was seen, s.
    torso_px : array [shape=(S, 2)]
        Middle of shoulders and hips.
    box_px : array [shape=(S, 4)]
    trunk_px : float
    """

    t_s: FloatArray
    torso_px: FloatArray
    box_px: FloatArray
    trunk_px: float

    @classmethod
    def of(cls, track: PersonTrack) -> Self:
        """Take a track's seen frames."""
        seen = track.seen
        lengths = [trunk_length(xy) for xy in track.xy_px[seen]]
        torso = track.xy_px[seen][:, TORSO].mean(axis=1)
        return cls(track.t_s[seen], torso, track.box_px[seen], max(float(np.median(lengths)), 1.0))

    def off_by(self, torso_px: FloatArray, t_s: float) -> float:
        """Distance of a torso [shape=(4, 2), px] from the person's at a time, trunk lengths."""
        expected = [np.interp(t_s, self.t_s, self.torso_px[:, k]) for k in (0, 1)]
        return float(np.linalg.norm(torso_px.mean(axis=0) - expected)) / self.trunk_px

    def alone(self, picture: NDArray[np.uint8], t_s: float, square: Square) -> NDArray[np.uint8]:
        """Black out a crop [shape=(N, N, 3)] but for the person's box at the time and some room."""
        box = np.array([np.interp(t_s, self.t_s, self.box_px[:, k]) for k in range(4)])
        room = _ROOM * self.trunk_px
        left, top, side = square
        corners = box + np.array([-room, -room, room, room]) - np.array([left, top, left, top])
        x0, y0, x1, y1 = np.maximum(corners * len(picture) / side, 0).astype(int)
        out = np.zeros_like(picture)
        out[y0:y1, x0:x1] = picture[y0:y1, x0:x1]
        return out
