"""One look of the landmark models at one frame, and whether it is the athlete whom they see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray, IntArray
from analysis.frame import Frame
from analysis.pose import crop
from analysis.pose.beside import Helpers
from analysis.pose.crop import Crops, Square
from analysis.pose.filling import OFF, Filling, in_picture
from analysis.pose.landmarkers import CROP_PX, Landmarker, Landmarks, Thunder
from analysis.pose.passing import Passing
from analysis.pose.people import TORSO
from analysis.pose.place import Place
from analysis.pose.track import LIMB_JOINTS, Facing
from analysis.pose.whose_turn import Turns

#: No trunk is taken to be a smaller share of the crop's side, however it looks.
_LEAST_TRUNK = 0.05
#: Torsos of the two models further apart than this, in trunk lengths, are two people.
_TWO_PEOPLE = 0.6
#: The landmarker is started anew after following somebody else for this long, at most so often.
_LOST_S, _MAX_RESTARTS = 0.3, 12
#: The landmarker's shoulders and hips.
_TORSO = [11, 12, 23, 24]


def row_of(index: int, frames: IntArray) -> int | None:
    """Return where a frame stands among some [shape=(F,)], rising; None if it does not."""
    row = int(np.searchsorted(frames, index))
    return row if row < len(frames) and frames[row] == index else None


@dataclass(frozen=True)
class Aim:
    """Where the models look.

    Attributes
    ----------
    place : Place
        Of the athlete.
    crops, close : Crops
        What the landmarker is shown, and Thunder: the same unless the athlete is small.
    size : tuple of int
        Of the picture that is cut from, px.
    scale : float
        So many times as large as the clip's.
    near : "left" or "right"
        The athlete's own side that the camera sees.
    passing : Passing
        Who walks past the athlete.
    """

    place: Place
    crops: Crops
    close: Crops
    size: tuple[int, int]
    scale: float
    near: Facing
    passing: Passing


@dataclass(frozen=True)
class Sight:
    """What comes in of both models, and outlines [shape=(F, P, 2), px] in frames `outlined`.

    `without` is what Thunder saw with those blacked out who walk past the athlete.
    """

    thunder: Filling
    without: Filling
    landmarker: Filling
    outlined: IntArray
    outline_px: FloatArray

    def put_outline(self, index: int, found: Landmarks, square: Square) -> None:
        """Keep the outline of a frame whose outline is wanted."""
        row = row_of(index, self.outlined)
        if found.outline is not None and row is not None:
            self.outline_px[row] = in_picture(found.outline, square)


class Looker:
    """Has the models look at one section's frames, in order of time.

    Where the one whose turn it is sees somebody else, the other is asked too. Whose turn it is
    never depends on what another section's looker met: they work side by side and share frames.
    """

    def __init__(
        self,
        aim: Aim,
        turns: Turns,
        sight: Sight,
        thunder: Thunder,
        landmarker: Landmarker,
        pool: Helpers,
    ) -> None:
        self._aim, self._turns, self._sight, self._pool = aim, turns, sight, pool
        self._thunder, self._landmarker = thunder, landmarker
        self._watch = _Watch(landmarker, aim.place)

    def look(self, frame: Frame, index: int, counts: bool) -> FloatArray | None:
        """Look at a frame, keep what was seen if it `counts`.

        Returns
        -------
        array [shape=(J, 2)] or None
            The near ``LIMB_JOINTS``, px of the clip's frame; NaN where they were not seen; None
            when it is no model's turn.
        """
        aim, turns, sight, watch = self._aim, self._turns, self._sight, self._watch
        if not turns.thunder[index] and not turns.landmarker[index]:
            return None
        t_s = frame.t_s
        whole = frame.scaled(*aim.size)
        square, tight = aim.crops.at(t_s), aim.close.at(t_s)
        picture = _part(whole, square, aim.scale)
        near = picture if aim.close is aim.crops else _part(whole, tight, aim.scale)
        one = two = None
        if turns.thunder[index]:
            asked = self._pool.submit(self._by_thunder, near, t_s, tight)
        if turns.landmarker[index]:
            two = self._by_landmarker(picture, t_s, square)
        if turns.thunder[index]:
            one = asked.result()
        elif two is not None and watch.off(in_picture(two.xy, square), square[2]):
            one = self._by_thunder(near, t_s, tight)
        if one is not None:
            watch.seen(in_picture(one.xy, tight), t_s)
            if two is None and self._off(one, t_s, tight) > OFF:
                two = self._by_landmarker(picture, t_s, square)
        if two is not None and not watch.same_person(in_picture(two.xy, square), t_s, square[2]):
            two = None
        if counts:
            if one is not None:
                sight.thunder.put(index, one, tight)
                if aim.passing.beside(t_s):
                    other = self._thunder.run(aim.passing.without(near, t_s, tight), t_s)
                    sight.without.put(index, other, tight)
            if two is not None:
                sight.landmarker.put(index, two, square)
                sight.put_outline(index, two, square)
        return self._joints(one, tight, two, square)

    def _joints(
        self, one: Landmarks | None, tight: Square, two: Landmarks | None, square: Square
    ) -> FloatArray:
        """Return the near joints as Thunder sees them, or else the landmarker."""
        sight, near, joints = self._sight, self._aim.near, np.full((len(LIMB_JOINTS), 2), np.nan)
        if one is not None:
            joints = sight.thunder.joints(one, tight, near)
        if two is not None and np.isnan(joints).any():
            joints = sight.landmarker.joints(two, square, near)
        return joints

    def _by_landmarker(self, picture: NDArray[np.uint8], t_s: float, square: Square) -> Landmarks:
        """Ask the landmarker; with everybody else blacked out unless it is on the athlete."""
        if not self._watch.locked:
            picture = self._aim.place.alone(picture, t_s, square)
        return self._landmarker.run(picture, t_s)

    def _by_thunder(self, picture: NDArray[np.uint8], t_s: float, square: Square) -> Landmarks:
        """Ask Thunder; once more with everybody else blacked out when it sees somebody else."""
        one = self._thunder.run(picture, t_s)
        if self._off(one, t_s, square) > OFF:
            again = self._thunder.run(self._aim.place.alone(picture, t_s, square), t_s)
            one = min(one, again, key=lambda found: self._off(found, t_s, square))
        return one

    def _off(self, found: Landmarks, t_s: float, square: Square) -> float:
        return float(self._aim.place.off_by(in_picture(found.xy[TORSO], square), t_s))


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

    def off(self, xy_px: FloatArray, side_px: float) -> bool:
        """Tell whether the landmarker's points [shape=(33, 2), px] are not the right person's.

        `side_px` is the crop's side. Before Thunder saw anybody nothing is believed.
        """
        trunk = float(np.linalg.norm(self._torso_px[:2].mean(0) - self._torso_px[2:].mean(0)))
        return not self._away(xy_px) <= _TWO_PEOPLE * max(trunk, _LEAST_TRUNK * side_px)

    def _away(self, xy_px: FloatArray) -> float:
        return float(np.linalg.norm(self._torso_px.mean(axis=0) - xy_px[_TORSO].mean(axis=0)))

    def same_person(self, xy_px: FloatArray, t_s: float, side_px: float) -> bool:
        """Tell whether they are; start the landmarker anew after it was lost for a while."""
        self.locked = not self.off(xy_px, side_px)
        if self.locked:
            self._lost_since = None
        elif np.isfinite(self._away(xy_px)):
            self._lost_since = t_s if self._lost_since is None else self._lost_since
            if t_s - self._lost_since > _LOST_S and self._restarts < _MAX_RESTARTS:
                self._landmarker.restart()
                self._restarts += 1
                self._lost_since = None
        return self.locked
