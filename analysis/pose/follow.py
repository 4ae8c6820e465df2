"""The second pass over a clip: both landmark models on a crop that follows the rower."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from analysis.checks import FloatArray
from analysis.clip import Clip
from analysis.pose import crop
from analysis.pose.crop import Square
from analysis.pose.landmarkers import CROP_PX, Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack
from analysis.pose.model_files import CheckedModels
from analysis.pose.people import TORSO
from analysis.pose.place import Place
from analysis.pose.survey import FIRST_SHARE, Progress, Survey
from analysis.pose.track import OUTLINE_POINTS, LandmarkTrack

#: The crop is cut from a picture this many times as fine as it, at least, where the clip is.
_FINER = 1.5
#: Torsos of the two models further apart than this, in trunk lengths, are two people.
_TWO_PEOPLE = 0.6
#: Points this far off the tracked person's torso, in trunk lengths, are looked for once more with
#: everybody else blacked out; and this far off they are somebody else's.
_OFF, SOMEBODY_ELSE = 0.5, 0.8
#: The landmarker is started anew after following somebody else for this long, at most so often.
_LOST_S, _MAX_RESTARTS = 0.3, 12
#: The landmarker's shoulders and hips.
_TORSO = [11, 12, 23, 24]


def run_models(
    clip: Clip, survey: Survey, chosen: PersonTrack, models: CheckedModels, tell: Progress
) -> tuple[Filling, Filling, FloatArray]:
    """Run both models on the crop, frame by frame; the third is the outline, px."""
    crops = crop.plan(chosen)
    count = len(survey.t_s)
    # A picture far finer than the crop needs is made smaller while its colour is converted.
    scale = min(1.0, _FINER * CROP_PX / float(crops.side_px.min()))
    size = round(survey.facts.width_px * scale), round(survey.facts.height_px * scale)
    thunder = Thunder(models.thunder)
    outline_px = np.full((count, OUTLINE_POINTS, 2), np.nan)
    # The two models wait for nothing of each other: with a second core they run side by side.
    with Landmarker(models.landmarker) as landmarker, ThreadPoolExecutor(1) as beside:
        first, second = Filling(thunder, count), Filling(landmarker, count)
        watch = _Watch(landmarker)
        place = Place.of(chosen)

        def off(found: Landmarks, t_s: float, square: Square) -> float:
            return place.off_by(_in_picture(found.xy[TORSO], square), t_s)

        for frame in clip:
            square = crops.at(frame.t_s)
            left, top, side = (value * scale for value in square)
            picture = crop.cut(frame.scaled(*size), (left, top, side), CROP_PX)
            alone = place.alone(picture, frame.t_s, square)
            other = beside.submit(thunder.run, picture, frame.t_s)
            two = landmarker.run(picture if watch.locked else alone, frame.t_s)
            one = other.result()
            if off(one, frame.t_s, square) > _OFF:
                again = thunder.run(alone, frame.t_s)
                one = min(one, again, key=lambda found: off(found, frame.t_s, square))
            first.put(frame.index, one, square)
            if watch.same_person(one, two, frame.t_s):
                second.put(frame.index, two, square)
                if two.outline is not None:
                    outline_px[frame.index] = _in_picture(two.outline, square)
            tell(FIRST_SHARE + (1 - FIRST_SHARE) * (frame.index + 1) / count)
    return first, second, outline_px


def _in_picture(shares: FloatArray, square: Square) -> FloatArray:
    """Shares of the crop's side to px of the picture, pixel centres at whole numbers."""
    return np.asarray(shares * square[2] + square[:2] - 0.5)


class Filling:
    """One model's landmarks while they come in."""

    def __init__(self, source: Thunder | Landmarker, count: int) -> None:
        self.model = source.name
        self._names = source.names
        self.xy_px = np.full((count, len(source.names), 2), np.nan)
        self.score = np.zeros((count, len(source.names)))

    def put(self, index: int, found: Landmarks, square: Square) -> None:
        """Put a crop's landmarks into the full picture."""
        self.xy_px[index] = _in_picture(found.xy, square)
        self.score[index] = found.score

    def person(self, t_s: FloatArray) -> PersonTrack:
        """Return what came in as a person's track, ten times a second; COCO points only."""
        at = np.unique(np.searchsorted(t_s, np.arange(t_s[0], t_s[-1], 0.1)))
        xy = self.xy_px[at]
        box = np.concatenate([xy.min(axis=1), xy.max(axis=1)], axis=1)
        return PersonTrack(t_s[at], box, xy, self.score[at], np.zeros(len(at), bool))

    def track(self) -> LandmarkTrack:
        """Return what came in."""
        return LandmarkTrack(self.model, self._names, self.xy_px, self.score)


class _Watch:
    """Notices when the landmarker follows somebody else than the crop was laid for.

    `locked` tells that it was on the right person in the last frame.
    """

    def __init__(self, landmarker: Landmarker) -> None:
        self._landmarker = landmarker
        self._lost_since: float | None = None
        self._restarts = 0
        self.locked = False

    def same_person(self, one: Landmarks, two: Landmarks, t_s: float) -> bool:
        """Compare the torsos; start the landmarker anew after it was lost for a while."""
        torso_one, torso_two = one.xy[TORSO], two.xy[_TORSO]
        trunk = np.linalg.norm(torso_one[:2].mean(axis=0) - torso_one[2:].mean(axis=0))
        away = np.linalg.norm(torso_one.mean(axis=0) - torso_two.mean(axis=0))
        self.locked = bool(away <= _TWO_PEOPLE * max(float(trunk), 0.05))
        if self.locked:
            self._lost_since = None
        elif np.isfinite(away):
            self._lost_since = t_s if self._lost_since is None else self._lost_since
            if t_s - self._lost_since > _LOST_S and self._restarts < _MAX_RESTARTS:
                self._landmarker.restart()
                self._restarts += 1
                self._lost_since = None
        return self.locked
