"""What the landmark models saw of the rower, while it comes in frame by frame."""

from __future__ import annotations

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.pose.crop import Square, nearest_times
from analysis.pose.landmarkers import Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack
from analysis.pose.people import COCO_NAMES, TORSO
from analysis.pose.place import Place
from analysis.pose.track import LIMB_JOINTS, Facing, LandmarkTrack

#: Points this far off the tracked person's torso, in trunk lengths, are looked for once more with
#: everybody else blacked out.
OFF = 0.5


def in_picture(shares: FloatArray, square: Square) -> FloatArray:
    """Shares of the crop's side to px of the picture, pixel centres at whole numbers."""
    return np.asarray(shares * square[2] + square[:2] - 0.5)


class Filling:
    """One model's landmarks while they come in."""

    def __init__(self, source: type[Thunder] | type[Landmarker], asked: BoolArray) -> None:
        # A copy: frames at which it is asked beyond its turn are added.
        self.model, self.asked = source.name, asked.copy()
        self._names = source.names
        self._coco = np.array([source.names.index(name) for name in COCO_NAMES])
        count = len(asked)
        self.xy_px = np.full((count, len(source.names), 2), np.nan)
        self.score = np.zeros((count, len(source.names)))

    def put(self, index: int, found: Landmarks, square: Square) -> None:
        """Put a crop's landmarks into the full picture."""
        self.asked[index] = True
        self.xy_px[index] = in_picture(found.xy, square)
        self.score[index] = found.score

    def joints(self, found: Landmarks, square: Square, side: Facing) -> FloatArray:
        """Return one side's ``LIMB_JOINTS`` [shape=(J, 2)] of a crop's landmarks, px."""
        at = [self._names.index(f"{side}_{joint}") for joint in LIMB_JOINTS]
        return in_picture(found.xy[at], square)

    def off_by(self, t_s: FloatArray, place: Place) -> FloatArray:
        """Return how far the torso is off the person's place [shape=(T,)], trunk lengths."""
        return place.off_by(self.xy_px[:, self._coco[TORSO]], t_s)

    def leave_out(self, frames: BoolArray) -> None:
        """Forget what was seen in some frames [shape=(T,)]."""
        self.xy_px[frames], self.score[frames] = np.nan, 0.0

    def take(self, frames: BoolArray, other: Filling) -> None:
        """Take what was seen in some frames [shape=(T,)] from another, where that looked."""
        rows = frames & other.asked
        self.asked |= rows
        self.xy_px[rows], self.score[rows] = other.xy_px[rows], other.score[rows]

    def person(self, t_s: FloatArray, company: BoolArray) -> PersonTrack:
        """Return what came in as a person's track, ten times a second; COCO points only.

        Unsure is who is who in `company` [shape=(T,)].
        """
        looked = np.flatnonzero(self.asked)
        wanted = np.searchsorted(t_s[looked], np.arange(t_s[0], t_s[-1], 0.1))
        at = looked[np.unique(np.minimum(wanted, len(looked) - 1))]
        xy, score = self.xy_px[at][:, self._coco], self.score[at][:, self._coco]
        box = np.concatenate([xy.min(axis=1), xy.max(axis=1)], axis=1)
        return PersonTrack(t_s[at], box, xy, score, company[at])

    def track(self) -> LandmarkTrack:
        """Return what came in."""
        return LandmarkTrack(self.model, self._names, self.xy_px, self.score, self.asked)

    def held(self, t_s: FloatArray) -> LandmarkTrack:
        """Return what came in, with other frames taking from the nearest one looked at."""
        looked = np.flatnonzero(self.asked)
        at = looked[nearest_times(t_s[looked], t_s)]
        return LandmarkTrack(self.model, self._names, self.xy_px[at], self.score[at])

    def held_coco_px(self, t_s: FloatArray) -> FloatArray:
        """Return the same, COCO points only [shape=(T, 17, 2)]."""
        return self.held(t_s).xy_px[:, self._coco]
