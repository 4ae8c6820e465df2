"""Where the followed person is, between the frames that were looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.pose.crop import Square, in_crop
from analysis.pose.linking import PersonTrack
from analysis.pose.people import TORSO, trunk_length

#: A trunk longer or shorter than usual by more than this is put together from two people.
_ODD_TRUNK = 0.35
#: Room left around the person's box, in trunk lengths: it moves between the frames looked at.
_ROOM = 0.35


@dataclass(frozen=True)
class Place:
    """A person's place at any time, by straight lines between the frames that saw them.

    Attributes
    ----------
    t_s : array [shape=(S,)]
        Times at which the person was seen, s.
    ends_px : array [shape=(S, 2, 2)]
        Middle of the shoulders, and of the hips.
    box_px : array [shape=(S, 4)]
    trunk_px : float
    """

    t_s: FloatArray
    ends_px: FloatArray
    box_px: FloatArray
    trunk_px: float

    @classmethod
    def of(cls, track: PersonTrack) -> Self:
        """Take a track's seen frames, but for those in which two people were taken for one."""
        seen = np.flatnonzero(track.seen)
        lengths = np.array([trunk_length(xy) for xy in track.xy_px[seen]])
        usual = max(float(np.median(lengths)), 1.0)
        odd = np.abs(lengths - usual)
        even = seen[odd <= max(_ODD_TRUNK * usual, odd.min())]
        ends = _ends(track.xy_px[even][:, TORSO])
        return cls(track.t_s[even], ends, track.box_px[even], usual)

    def ends_at(self, t_s: float | FloatArray) -> FloatArray:
        """Return middles of shoulders and of hips at times [shape=(…)]: [shape=(…, 2, 2), px]."""
        flat = self.ends_px.reshape(-1, 4)
        ends = np.stack([np.interp(t_s, self.t_s, flat[:, k]) for k in range(4)], axis=-1)
        return np.asarray(ends.reshape(*np.shape(t_s), 2, 2))

    def off_by(self, torso_px: FloatArray, t_s: float | FloatArray) -> FloatArray:
        """Distance of torsos [shape=(…, 4, 2), px] from the person's at times [shape=(…)], trunks.

        Of shoulders or hips, whichever is further: somebody else's shoulders on the person's own
        hips are off by as much as they look.
        """
        away = np.linalg.norm(_ends(torso_px) - self.ends_at(t_s), axis=-1)
        return np.asarray(away.max(axis=-1) / self.trunk_px)

    def alone(self, picture: NDArray[np.uint8], t_s: float, square: Square) -> NDArray[np.uint8]:
        """Black out a crop [shape=(N, N, 3)] but for the person's box at the time and some room."""
        box = np.array([np.interp(t_s, self.t_s, self.box_px[:, k]) for k in range(4)])
        room = _ROOM * self.trunk_px
        corners = (box + np.array([-room, -room, room, room])).reshape(2, 2)
        inside = np.maximum(in_crop(corners, square, len(picture)), 0)
        (x0, y0), (x1, y1) = inside.astype(int)
        out = np.zeros_like(picture)
        out[y0:y1, x0:x1] = picture[y0:y1, x0:x1]
        return out


def _ends(torso_px: FloatArray) -> FloatArray:
    """Return the middles of shoulders and of hips [shape=(…, 2, 2)] of torsos [shape=(…, 4, 2)]."""
    return np.stack([torso_px[..., :2, :].mean(axis=-2), torso_px[..., 2:, :].mean(axis=-2)], -2)
