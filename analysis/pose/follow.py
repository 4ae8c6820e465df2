"""The second pass over a clip: both landmark models on a crop that follows the rower."""

from __future__ import annotations

from dataclasses import replace
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.clip import Clip, Frame
from analysis.decoding import cores
from analysis.pose import crop
from analysis.pose.beside import Helpers, helpers
from analysis.pose.crop import Square
from analysis.pose.landmarkers import CROP_PX, Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack
from analysis.pose.model_files import CheckedModels
from analysis.pose.people import TORSO
from analysis.pose.place import Place
from analysis.pose.sections import Section, sections
from analysis.pose.survey import FIRST_SHARE, Progress, Survey
from analysis.pose.track import OUTLINE_POINTS, LandmarkTrack

#: The crop is cut from a picture this many times as fine as it, at least, where the clip is.
_FINER = 1.5
#: Sections worked on at once, at most: each has a landmarker of its own, 165 MB.
MOST_AT_ONCE = 8
#: Somebody is small whose trunk is shorter, px.
SMALL_TRUNK_PX = 50.0
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
    """Run both models on the crop, frame by frame; the third is the outline, px.

    The clip's sections are worked on side by side, each by a landmarker of its own.
    """
    run = _Run(clip, survey, chosen, models, tell)
    parts = sections(survey.t_s, survey.facts)
    # With more cores than sections the two models, which wait for nothing of each other, also
    # run side by side.
    busy = min(cores(), len(parts), MOST_AT_ONCE)
    run.side_by_side = busy > 1
    with helpers(busy if busy > 1 else 0) as pool:
        done = [pool.submit(run.section, part, cores() > busy) for part in parts]
        try:
            for each in done:
                each.result()
        except BaseException:
            run.stopped = True
            raise
    return run.first, run.second, run.outline_px


class _Run:
    """What all sections share; each fills in the frames that are its own."""

    def __init__(
        self,
        clip: Clip,
        survey: Survey,
        chosen: PersonTrack,
        models: CheckedModels,
        tell: Progress,
    ) -> None:
        self.clip, self.t_s, self.model, self.tell = clip, survey.t_s, models.landmarker, tell
        self.place = Place.of(chosen)
        self.crops = crop.plan(chosen)
        # Of somebody small every pixel counts: the finer model gets a tight crop, and looks
        # twice. The landmarker, which follows people by itself, loses them in a crop that moves.
        self.small = self.place.trunk_px < SMALL_TRUNK_PX
        self.close = self.crops
        if self.small:
            self.close = crop.plan_close(chosen, survey.t_s, survey.shift_px)
        # A picture far finer than the crop needs is made smaller while its colour is converted.
        self.scale = min(1.0, _FINER * CROP_PX / float(self.close.side_px.min()))
        width, height = survey.facts.width_px, survey.facts.height_px
        self.size = round(width * self.scale), round(height * self.scale)
        self.thunder = Thunder(models.thunder, twice=self.small)
        count = len(survey.t_s)
        self.first, self.second = Filling(Thunder, count), Filling(Landmarker, count)
        self.outline_px = np.full((count, OUTLINE_POINTS, 2), np.nan)
        self.stopped = self.side_by_side = False
        self._done, self._counting = 0, Lock()

    def section(self, part: Section, beside: bool) -> None:
        """Run both models over one section, side by side where told."""
        with (
            self._opened(part) as clip,
            Landmarker(self.model) as landmarker,
            helpers(1 if beside else 0) as pool,
        ):
            watch = _Watch(landmarker)
            for frame in clip:
                index = int(np.searchsorted(self.t_s, frame.t_s - 1e-6))
                if index >= part.end or self.stopped:
                    break
                if index < part.warm or abs(self.t_s[index] - frame.t_s) > 1e-6:
                    continue  # left out of a clip that was thinned
                self._frame(frame, index, index >= part.start, landmarker, watch, pool)

    def _opened(self, part: Section) -> Clip:
        """Open the clip once more, from where the section warms up."""
        from_s = self.clip.from_s if part.warm == 0 else float(self.t_s[part.warm]) - 1e-6
        # Sections share the cores already, and every thread of a decoder holds frames of its own.
        threads = 1 if self.side_by_side else None
        return Clip(self.clip.path, from_s=from_s, to_s=self.clip.to_s, threads=threads)

    def _frame(
        self,
        frame: Frame,
        index: int,
        counts: bool,
        landmarker: Landmarker,
        watch: _Watch,
        pool: Helpers,
    ) -> None:
        t_s = frame.t_s
        whole = frame.scaled(*self.size)
        square, tight = self.crops.at(t_s), self.close.at(t_s)
        picture = _part(whole, square, self.scale)
        near = _part(whole, tight, self.scale) if self.small else picture
        other = pool.submit(self.thunder.run, near, t_s)
        two = landmarker.run(
            picture if watch.locked else self.place.alone(picture, t_s, square), t_s
        )
        one = other.result()
        if self._off(one, t_s, tight) > _OFF:
            again = self.thunder.run(self.place.alone(near, t_s, tight), t_s)
            one = min(one, again, key=lambda found: self._off(found, t_s, tight))
        same = watch.same_person(_seen_in(one, tight, square), two, t_s)
        if not counts:
            return
        self.first.put(index, one, tight)
        if same:
            self.second.put(index, two, square)
            if two.outline is not None:
                self.outline_px[index] = _in_picture(two.outline, square)
        with self._counting:
            self._done += 1
            self.tell(FIRST_SHARE + (1 - FIRST_SHARE) * self._done / len(self.t_s))

    def _off(self, found: Landmarks, t_s: float, square: Square) -> float:
        return self.place.off_by(_in_picture(found.xy[TORSO], square), t_s)


def _part(picture: NDArray[np.uint8], square: Square, scale: float) -> NDArray[np.uint8]:
    """Cut a square given in px of the full picture out of one that is `scale` times as large."""
    left, top, side = (value * scale for value in square)
    return crop.cut(picture, (left, top, side), CROP_PX)


def _seen_in(found: Landmarks, square: Square, other: Square) -> Landmarks:
    """Express landmarks in shares of another square's side."""
    return replace(found, xy=(found.xy * square[2] + np.subtract(square[:2], other[:2])) / other[2])


def _in_picture(shares: FloatArray, square: Square) -> FloatArray:
    """Shares of the crop's side to px of the picture, pixel centres at whole numbers."""
    return np.asarray(shares * square[2] + square[:2] - 0.5)


class Filling:
    """One model's landmarks while they come in."""

    def __init__(self, source: type[Thunder] | type[Landmarker], count: int) -> None:
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
