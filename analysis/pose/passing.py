"""Who stands beside the rower or walks past, and pictures without them.

A model that is shown two people whose bodies overlap may put one together from both: a passer-by's
trunk on the rower's legs. Where a passer-by is at the time is known from before and after; with
head and trunk blacked out there, the rower is what is left to see.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.pose.crop import Square, in_crop, nearest_times
from analysis.pose.linking import PersonTrack
from analysis.pose.people import ANKLES, HIPS, SHOULDERS

#: A passer-by walks evenly for so long before and after a moment, s, and is told by so many sights,
#: of which one is this near to it.
_EVENLY_S, _LEAST_SIGHTS, _NEAR_S = 1.5, 3, 0.6
#: Legs that stand go this much down at least for what they go aside.
_STANDS = 1.4
#: A near shoulder is as far as this from the middle of its two, in trunk lengths, and as far again
#: off.
_SHOULDER = 0.5
#: Head and trunk reach so far beyond the middles of shoulders and hips, in trunk lengths: to either
#: side, and up.
_ASIDE, _UP = 0.45, 0.65


@dataclass(frozen=True)
class PasserBy:
    """Somebody who walks past, where they plainly stand.

    Attributes
    ----------
    t_s : array [shape=(S,)]
    ends_px : array [shape=(S, 2, 2)]
        Middle of the shoulders, and of the hips.
    trunk_px : float
    """

    t_s: FloatArray
    ends_px: FloatArray
    trunk_px: float

    def ends_at(self, t_s: float) -> FloatArray | None:
        """Return where shoulders and hips are at a time [shape=(2, 2), px]; None if not known.

        By the median way from sight to sight: some are of the rower, or of both.
        """
        away_s = self.t_s - t_s
        around = np.flatnonzero(np.abs(away_s) <= _EVENLY_S)
        if len(around) < _LEAST_SIGHTS or np.abs(away_s).min() > _NEAR_S:
            return None
        first, second = np.triu_indices(len(around), 1)
        after_s, ends = away_s[around], self.ends_px[around]
        way = (ends[second] - ends[first]) / (after_s[second] - after_s[first])[:, None, None]
        speed = np.median(way, axis=0)
        return np.asarray(np.median(ends - speed * after_s[:, None, None], axis=0))


@dataclass(frozen=True)
class Passing:
    """Everybody who stands or walks beside the rower.

    Attributes
    ----------
    t_s : array [shape=(S,)]
        Times that were looked at, s.
    unsure : array [shape=(S,)] of bool
        Somebody covers the rower, or is covered.
    people : tuple of PasserBy
    """

    t_s: FloatArray
    unsure: BoolArray
    people: tuple[PasserBy, ...]

    @classmethod
    def of(cls, chosen: PersonTrack, tracks: Sequence[PersonTrack]) -> Self:
        """Find them among all who were seen."""
        others = [_standing(track) for track in tracks if track is not chosen]
        return cls(chosen.t_s, chosen.unsure, tuple(one for one in others if one is not None))

    def beside(self, t_s: float) -> bool:
        """Tell whether somebody who stands may be taken for the rower at a time."""
        unsure = self.unsure[nearest_times(self.t_s, np.array([t_s]))[0]]
        return bool(unsure) and bool(self._there(t_s))

    def shoulder_of_theirs(self, t_s: float, shoulder_px: FloatArray) -> bool:
        """Tell whether a shoulder [shape=(2,), px] is where that of somebody who stands is."""
        away = [np.linalg.norm(shoulder_px - ends[0]) / unit for ends, unit in self._there(t_s)]
        return bool(min(away, default=np.inf) < _SHOULDER)

    def without(self, picture: NDArray[np.uint8], t_s: float, square: Square) -> NDArray[np.uint8]:
        """Return a crop [shape=(N, N, 3)] with their heads and trunks blacked out."""
        out = picture.copy()
        for ends, unit in self._there(t_s):
            low = ends.min(axis=0) - unit * np.array([_ASIDE, _UP])
            high = ends.max(axis=0) + unit * np.array([_ASIDE, 0.0])
            corners = np.rint(in_crop(np.array([low, high]), square, len(picture)))
            (x0, y0), (x1, y1) = np.maximum(corners, 0).astype(int)
            out[y0:y1, x0:x1] = 0
        return out

    def _there(self, t_s: float) -> list[tuple[FloatArray, float]]:
        """Return ends and trunk of those whose place is known at a time."""
        found = [(one.ends_at(t_s), one.trunk_px) for one in self.people]
        return [(ends, unit) for ends, unit in found if ends is not None]


def _standing(track: PersonTrack) -> PasserBy | None:
    """Return somebody where they plainly stand; None who mostly does not."""
    seen = np.flatnonzero(track.seen)
    xy = track.xy_px[seen]
    shoulders, hips, ankles = (xy[:, at].mean(axis=1) for at in (SHOULDERS, HIPS, ANKLES))
    down = ankles[:, 1] - hips[:, 1]
    stands = down > _STANDS * np.abs(ankles[:, 0] - hips[:, 0])
    if stands.mean() < 0.5:
        return None
    ends = np.stack([shoulders, hips], axis=1)[stands]
    trunk_px = float(np.median(np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1)))
    return PasserBy(track.t_s[seen][stands], ends, trunk_px)
