"""The second pass over a clip: both landmark models on a crop that follows the rower."""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.clip import Clip, Frame
from analysis.decoding import cores
from analysis.pose import crop
from analysis.pose.beside import Helpers, helpers
from analysis.pose.crop import Square
from analysis.pose.filling import OFF, Filling, in_picture
from analysis.pose.hand import HandFollower
from analysis.pose.landmarkers import CROP_PX, Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack
from analysis.pose.memory import give_back
from analysis.pose.model_files import CheckedModels
from analysis.pose.people import TORSO
from analysis.pose.place import Place
from analysis.pose.rower import evidence
from analysis.pose.sections import Section, sections
from analysis.pose.survey import FIRST_SHARE, Progress, Survey
from analysis.pose.track import HAND_POINTS, OUTLINE_POINTS
from analysis.pose.whose_turn import whose_turn

T = TypeVar("T")

#: The crop is cut from a picture this many times as fine as it, at least, where the clip is.
_FINER = 1.5
#: Sections worked on at once, at most: each has a landmarker of its own, 165 MB.
MOST_AT_ONCE = 8
#: Somebody is small whose trunk is shorter, px.
SMALL_TRUNK_PX = 50.0
#: No trunk is taken to be a smaller share of the crop's side, however it looks.
_LEAST_TRUNK = 0.05
#: Torsos of the two models further apart than this, in trunk lengths, are two people.
_TWO_PEOPLE = 0.6
#: The landmarker is started anew after following somebody else for this long, at most so often.
_LOST_S, _MAX_RESTARTS = 0.3, 12
#: The landmarker's shoulders and hips.
_TORSO = [11, 12, 23, 24]


class SecondPass:
    """Both models on the crop, frame by frame; frames that are `difficult` [shape=(T,)] by both.

    The clip's sections are worked on side by side, each by a landmarker of its own, and each fills
    in the frames that are its own.
    """

    def __init__(
        self,
        clip: Clip,
        survey: Survey,
        chosen: PersonTrack,
        difficult: BoolArray,
        models: CheckedModels,
        tell: Progress,
    ) -> None:
        self.clip, self.t_s, self.model, self.tell = clip, survey.t_s, models.landmarker, tell
        self.facts = survey.facts
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
        turns = whose_turn(survey.t_s, difficult | self.small)
        self.first = Filling(Thunder, turns.thunder)
        self.second = Filling(Landmarker, turns.landmarker)
        #: Frames in which the landmarker looks for an outline, rising.
        self.outlined = np.flatnonzero(turns.landmarker)
        self.outline_px = np.full((len(self.outlined), OUTLINE_POINTS, 2), np.nan)
        self.near = evidence(chosen).facing
        self.hand_moved_px = np.full((len(survey.t_s), HAND_POINTS, 2), np.nan)
        self.stopped = self.side_by_side = False
        self._done, self._counting = 0, Lock()

    def run(self, last: Callable[[], T]) -> tuple[Filling, Filling, FloatArray, T]:
        """Return what both models saw, outlines in `outlined`, px, and what `last` gives.

        It is called by whoever has no section left to work on, beside those that have.
        """
        parts = sections(self.t_s, self.facts)
        # With more cores than sections the two models, which wait for nothing of each other, also
        # run side by side.
        busy = min(cores(), len(parts), MOST_AT_ONCE)
        self.side_by_side = busy > 1
        with helpers(busy if busy > 1 else 0) as pool:
            done = [pool.submit(self.section, part, cores() > busy) for part in parts]
            also = pool.submit(last)
            try:
                for each in done:
                    each.result()
            except BaseException:
                self.stopped = True
                raise
            return self.first, self.second, self.outline_px, also.result()

    def section(self, part: Section, beside: bool) -> None:
        """Run both models over one section, side by side where told."""
        with (
            self._opened(part) as clip,
            Landmarker(self.model) as landmarker,
            helpers(1 if beside else 0) as pool,
        ):
            watch, hand = _Watch(landmarker, self.place), HandFollower()
            for frame in clip:
                index = int(np.searchsorted(self.t_s, frame.t_s - 1e-6))
                if index >= part.end or self.stopped:
                    break
                if index < part.warm or abs(self.t_s[index] - frame.t_s) > 1e-6:
                    continue  # left out of a clip that was thinned
                self._frame(frame, index, index >= part.start, landmarker, watch, hand, pool)
        give_back()  # else memory grows by 25 MB with every pair of sections

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
        hand: HandFollower,
        pool: Helpers,
    ) -> None:
        t_s = frame.t_s
        whole = frame.scaled(*self.size)
        square, tight = self.crops.at(t_s), self.close.at(t_s)
        picture = _part(whole, square, self.scale)
        near = _part(whole, tight, self.scale) if self.small else picture
        if self.first.asked[index]:
            other = pool.submit(self._thunder, near, t_s, tight)
        if self.second.asked[index]:
            two = landmarker.run(
                picture if watch.locked else self.place.alone(picture, t_s, square), t_s
            )
        arm = np.full((2, 2), np.nan)
        if self.first.asked[index]:
            one = other.result()
            watch.seen(in_picture(one.xy, tight), t_s)
            arm = self.first.arm(one, tight, self.near)
            if counts:
                self.first.put(index, one, tight)
        if self.second.asked[index] and watch.same_person(
            in_picture(two.xy, square), t_s, square[2]
        ):
            if np.isnan(arm).any():
                arm = self.second.arm(two, square, self.near)
            if counts:
                self._put_second(index, two, square)
        moved_px = hand.moved(whole, self.scale, *arm)
        if not counts:
            return
        self.hand_moved_px[index] = moved_px
        with self._counting:
            self._done += 1
            self.tell(FIRST_SHARE + (1 - FIRST_SHARE) * self._done / len(self.t_s))

    def _put_second(self, index: int, two: Landmarks, square: Square) -> None:
        self.second.put(index, two, square)
        if two.outline is not None:
            row = np.searchsorted(self.outlined, index)
            self.outline_px[row] = in_picture(two.outline, square)

    def _thunder(self, picture: NDArray[np.uint8], t_s: float, square: Square) -> Landmarks:
        """Ask Thunder; once more with everybody else blacked out when it sees somebody else."""
        one = self.thunder.run(picture, t_s)
        if self._off(one, t_s, square) > OFF:
            again = self.thunder.run(self.place.alone(picture, t_s, square), t_s)
            one = min(one, again, key=lambda found: self._off(found, t_s, square))
        return one

    def _off(self, found: Landmarks, t_s: float, square: Square) -> float:
        return float(self.place.off_by(in_picture(found.xy[TORSO], square), t_s))


def _part(picture: NDArray[np.uint8], square: Square, scale: float) -> NDArray[np.uint8]:
    """Cut a square given in px of the full picture out of one that is `scale` times as large."""
    left, top, side = (value * scale for value in square)
    return crop.cut(picture, (left, top, side), CROP_PX)


class _Watch:
    """Notices when the landmarker follows somebody else than the crop was laid for.

    `locked` tells that it was on the right person in the last frame.
    """

    def __init__(self, landmarker: Landmarker, place: Place) -> None:
        self._landmarker, self._place = landmarker, place
        self._torso_px = np.full((4, 2), np.nan)
        self._lost_since: float | None = None
        self._restarts = 0
        self.locked = False

    def seen(self, xy_px: FloatArray, t_s: float) -> None:
        """Take note of Thunder's points [shape=(17, 2), px], unless they are partly another's."""
        self._torso_px = xy_px[TORSO]
        if self._place.off_by(self._torso_px, t_s) > OFF:
            self._torso_px = np.repeat(self._place.ends_at(t_s), 2, axis=0)

    def same_person(self, xy_px: FloatArray, t_s: float, side_px: float) -> bool:
        """Compare torsos; start the landmarker anew after it was lost for a while.

        `xy_px` [shape=(33, 2)] are the landmarker's points, `side_px` is the crop's side. Before
        Thunder saw anybody nothing is believed.
        """
        torso = self._torso_px
        trunk = float(np.linalg.norm(torso[:2].mean(axis=0) - torso[2:].mean(axis=0)))
        away = np.linalg.norm(torso.mean(axis=0) - xy_px[_TORSO].mean(axis=0))
        self.locked = bool(away <= _TWO_PEOPLE * max(trunk, _LEAST_TRUNK * side_px))
        if self.locked:
            self._lost_since = None
        elif np.isfinite(away):
            self._lost_since = t_s if self._lost_since is None else self._lost_since
            if t_s - self._lost_since > _LOST_S and self._restarts < _MAX_RESTARTS:
                self._landmarker.restart()
                self._restarts += 1
                self._lost_since = None
        return self.locked
