"""The second pass over a clip: both landmark models on a crop that follows the rower."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from threading import Lock
from typing import TypeVar

import numpy as np

from analysis.checks import BoolArray
from analysis.clip import Clip
from analysis.decoding import cores
from analysis.pose import camera, crop
from analysis.pose.beside import helpers
from analysis.pose.between_looks import Followed, Followers
from analysis.pose.filling import Filling
from analysis.pose.landmarkers import CROP_PX, Landmarker, LandmarkModels, Thunder
from analysis.pose.limb_pictures import limb_pictures, pictured_frames
from analysis.pose.linking import PersonTrack
from analysis.pose.look import Aim, Looker, Sight, row_of
from analysis.pose.memory import give_back
from analysis.pose.passing import Passing
from analysis.pose.place import Place
from analysis.pose.rower import evidence
from analysis.pose.sections import Section, sections
from analysis.pose.survey import FIRST_SHARE, Progress, Survey
from analysis.pose.track import (
    HAND_POINTS,
    LIMBS,
    OUTLINE_POINTS,
    PICTURED_ACROSS,
    PICTURED_ALONG,
)
from analysis.pose.whose_turn import whose_turn

T = TypeVar("T")

#: The crop is cut from a picture this many times as fine as it, at least, where the clip is.
_FINER = 1.5
#: Sections worked on at once, at most: each has a landmarker of its own, 165 MB.
MOST_AT_ONCE = 8
#: Somebody is small whose trunk is shorter, px.
SMALL_TRUNK_PX = 50.0


class SecondPass:
    """Both models on the crop, in turns.

    Frames that are `difficult` [shape=(T,)] are looked at by both, of `easy` ones only some.
    The clip's sections are worked on side by side, each by a landmarker of its own, and each fills
    in the frames that are its own.
    """

    def __init__(
        self,
        clip: Clip,
        survey: Survey,
        chosen: PersonTrack,
        tracks: Sequence[PersonTrack],
        difficult: BoolArray,
        easy: BoolArray,
        models: LandmarkModels,
        tell: Progress,
    ) -> None:
        self.clip, self.t_s, self.model, self.tell = clip, survey.t_s, models.landmarker, tell
        self.facts = survey.facts
        self.place = Place.of(chosen)
        self.held = camera.held(survey.shift_px, survey.facts.width_px)
        crops = crop.plan(chosen, held=self.held)
        # Of somebody small every pixel counts: the finer model gets a tight crop, and looks
        # twice. The landmarker, which follows people by itself, loses them in a crop that moves.
        small = self.place.trunk_px < SMALL_TRUNK_PX
        close = crop.plan_close(chosen, survey.t_s, survey.shift_px) if small else crops
        # A picture far finer than the crop needs is made smaller while its colour is converted.
        scale = min(1.0, _FINER * CROP_PX / float(close.side_px.min()))
        size = round(survey.facts.width_px * scale), round(survey.facts.height_px * scale)
        near, passing = evidence(chosen).facing, Passing.of(chosen, tracks)
        self.aim = Aim(self.place, crops, close, size, scale, near, passing)
        self.thunder = Thunder(models.thunder, twice=small)
        self.turns = turns = whose_turn(survey.t_s, difficult | small, easy)
        outlined = np.flatnonzero(turns.landmarker)
        self.sight = Sight(
            Filling(Thunder, turns.thunder),
            Filling(Thunder, np.zeros_like(turns.thunder)),
            Filling(Landmarker, turns.landmarker),
            outlined,
            np.full((len(outlined), OUTLINE_POINTS, 2), np.nan),
        )
        self.hand_moved_px = np.full((len(survey.t_s), HAND_POINTS, 2), np.nan)
        self.limb_turned_deg = np.full((len(survey.t_s), len(LIMBS)), np.nan)
        self.pictured = pictured_frames(survey.t_s)
        self.pictured_ends_px = np.full((len(self.pictured), len(LIMBS), 2, 2), np.nan)
        self.pictured_grey = np.zeros(
            (len(self.pictured), len(LIMBS), len(PICTURED_ACROSS), len(PICTURED_ALONG)), np.uint8
        )
        self.stopped = self.side_by_side = False
        self._done, self._counting = 0, Lock()

    def run(self, last: Callable[[], T]) -> tuple[Sight, T]:
        """Return what both models saw, and what `last` gives.

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
            return self.sight, also.result()

    def section(self, part: Section, beside: bool) -> None:
        """Run both models over one section, side by side where told."""
        with (
            self._opened(part) as clip,
            Landmarker(self.model) as landmarker,
            helpers(1 if beside else 0) as pool,
        ):
            looker = Looker(self.aim, self.turns, self.sight, self.thunder, landmarker, pool)
            followers = Followers(self.aim.scale)
            for frame in clip:
                index = int(np.searchsorted(self.t_s, frame.t_s - 1e-6))
                if index >= part.end or self.stopped:
                    break
                if index < part.warm or abs(self.t_s[index] - frame.t_s) > 1e-6:
                    continue  # left out of a clip that was thinned
                joints = looker.look(frame, index, index >= part.start)
                luma = frame.luma(*self.aim.size)
                for followed in followers.go_on(index, luma, joints):
                    self._keep(followed, part)
            for followed in followers.rest():
                self._keep(followed, part)
        give_back()  # else memory grows by 25 MB with every pair of sections

    def _opened(self, part: Section) -> Clip:
        """Open the clip once more, from where the section warms up."""
        from_s = self.clip.from_s if part.warm == 0 else float(self.t_s[part.warm]) - 1e-6
        # Sections share the cores already, and every thread of a decoder holds frames of its own.
        threads = 1 if self.side_by_side else None
        return Clip(self.clip.path, from_s=from_s, to_s=self.clip.to_s, threads=threads)

    def _keep(self, followed: Followed, part: Section) -> None:
        """Keep what was followed of a frame that is the section's own, and its limbs' pictures."""
        index = followed.index
        if index < part.start:
            return  # it only warmed up
        self.hand_moved_px[index] = followed.hand_moved_px
        self.limb_turned_deg[index] = followed.limb_turned_deg
        row = row_of(index, self.pictured)
        if row is not None:
            cut = limb_pictures(followed.luma, followed.joints, self.aim.scale)
            self.pictured_grey[row], self.pictured_ends_px[row] = cut
        self._count()

    def _count(self) -> None:
        with self._counting:
            self._done += 1
            self.tell(FIRST_SHARE + (1 - FIRST_SHARE) * self._done / len(self.t_s))
