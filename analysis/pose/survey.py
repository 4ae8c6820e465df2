"""The first pass over a clip: people on few frames, the background on all of them."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.clip import Clip, ClipFacts, Frame
from analysis.decoding import cores
from analysis.pose import camera
from analysis.pose.beside import InOrder, helpers
from analysis.pose.model_files import CheckedModels
from analysis.pose.people import (
    INPUT_AREA,
    LARGE_AREA,
    MOST_AT_ONCE,
    PeopleFinder,
    Person,
    finder_size,
    trunk_length,
    without_doubles,
)

Progress = Callable[[float], None]

#: Time between frames looked at for people: at 60 strokes a minute still four to a stroke.
LOOK_EVERY_S = 0.25
#: The blur is taken every so many looks. While one person alone was seen so far, only these looks
#: are fine ones, to notice others; and how long that person's trunk must be in the small pictures,
#: px: on the sample clips 43 px and more.
FINE_EVERY, LARGE_PX = 3, 32.0
#: Frames kept for the upright edges, and their largest side.
_KEPT, _KEPT_SIDE_PX = 12, 1280
#: Small pictures, and frames being looked at, that may wait for each other: bounds the memory.
FRAMES_WAITING, LOOKS_WAITING = 120, 4
#: Share of the work that the first pass is, for the progress bar.
FIRST_SHARE = 0.2


@dataclass(frozen=True)
class Survey:
    """What the first pass saw."""

    facts: ClipFacts
    t_s: FloatArray
    shift_px: FloatArray
    looked_s: FloatArray
    people: list[list[Person]]
    kept: list[NDArray[np.uint8]]
    kept_frames: list[int]
    blur_px: float
    light: float


def look_around(clip: Clip, models: CheckedModels, tell: Progress) -> Survey:
    """First pass: people on few frames, the background on all."""
    header = clip.header()
    width, height = header.width_px, header.height_px
    small_width = min(camera.SMALL_PX, width)
    small_scale = width / small_width
    small_height = max(1, round(height / small_scale))
    keeper = _Keeper(width, height)
    background = camera.BackgroundShift(small_scale)
    times: list[float] = []
    shifts: list[FloatArray] = []
    looked: list[float] = []
    lights: list[float] = []
    looks: list[Future[_Look]] = []
    alone = True
    expected_s = (clip.to_s or header.duration_s) - (clip.from_s or 0.0)

    def follow_background(small: NDArray[np.uint8], seen: _Look) -> None:
        shifts.append(background.add(small, [person.box_px for person in seen.people]))

    with helpers(cores() if cores() > 1 else 0) as pool:
        finder = PeopleFinder(models.multipose)
        frames = InOrder[NDArray[np.uint8]](follow_background, most=FRAMES_WAITING)
        for frame in clip:
            small = frame.luma(small_width, small_height)
            if not looked or frame.t_s >= looked[-1] + LOOK_EVERY_S - 1e-6:
                looked.append(frame.t_s)
                lights.append(float(small.mean()))
                keeper.offer(frame, len(times))
                closely = len(looks) % FINE_EVERY == 0
                fine = closely or len(looks) < LOOKS_WAITING
                if len(looks) >= LOOKS_WAITING:
                    seen = looks[-LOOKS_WAITING].result()
                    alone = alone and _one_large(seen.people, width, height)
                # From here on the frame is the helper's: a frame is scaled by one at a time.
                looks.append(pool.submit(_look, finder, frame, fine or not alone, closely))
            times.append(frame.t_s)
            frames.put(small, looks[-1])
            if expected_s > 0:
                tell(FIRST_SHARE * min(1.0, (frame.t_s - times[0]) / expected_s))
        frames.finish()
    told = [each.result() for each in looks]
    known = [each.blur_px for each in told if np.isfinite(each.blur_px)]
    return Survey(
        facts=clip.facts(),
        t_s=np.array(times),
        shift_px=np.array(shifts),
        looked_s=np.array(looked),
        people=[each.people for each in told],
        kept=keeper.pictures,
        kept_frames=keeper.frames,
        blur_px=float(np.median(known)) if known else float("nan"),
        light=float(np.median(lights)),
    )


@dataclass(frozen=True)
class _Look:
    people: list[Person]
    blur_px: float


def _look(finder: PeopleFinder, frame: Frame, fine: bool, closely: bool) -> _Look:
    """Find people; look `closely` for the blur too, which takes long in large pictures."""
    people = look(finder, frame, fine=fine)
    return _Look(people, _sharpness(frame, people) if closely else float("nan"))


def _one_large(people: list[Person], width_px: int, height_px: int) -> bool:
    """Tell whether somebody is alone in a picture of that size, and large enough in a small one."""
    scale = finder_size(width_px, height_px, LARGE_AREA)[2]
    return len(people) == 1 and trunk_length(people[0].xy_px) >= LARGE_PX * scale


def look(finder: PeopleFinder, frame: Frame, *, fine: bool = True) -> list[Person]:
    """Find people in a frame; a full crew at twice the size, in three overlapping parts.

    The finder names six at most, and sees little of people that are small. Not `fine`, the picture
    is small itself: enough for somebody known to be large.
    """
    width, height, scale = finder_size(*frame.upright.size_px, INPUT_AREA if fine else LARGE_AREA)
    people = finder.run(frame.scaled(width, height), scale)
    if len(people) < MOST_AT_ONCE:
        return people
    twice = frame.scaled(2 * width, 2 * height)
    middle = float(np.median([person.box_px[[1, 3]].mean() for person in people])) / scale * 2
    top = int(np.clip(middle - height / 2, 0, height))
    for left in (0, width // 2, width):
        part = np.ascontiguousarray(twice[top : top + height, left : left + width])
        people += [
            person.moved(left * scale / 2, top * scale / 2)
            for person in finder.run(part, scale / 2)
        ]
    return without_doubles(sorted(people, key=lambda person: -person.confidence))


class _Keeper:
    """Keeps up to twelve pictures spread over a clip of unknown length."""

    def __init__(self, width_px: int, height_px: int) -> None:
        scale = max(1.0, max(width_px, height_px) / _KEPT_SIDE_PX)
        self._size = round(width_px / scale), round(height_px / scale)
        self._every = 1
        self._offered = 0
        self.pictures: list[NDArray[np.uint8]] = []
        self.frames: list[int] = []

    def offer(self, frame: Frame, number: int) -> None:
        """Take the frame of that number when it is the next to keep; thin out when full."""
        if self._offered % self._every == 0:
            self.pictures.append(frame.luma(*self._size))
            self.frames.append(number)
            if len(self.pictures) > _KEPT:
                self.pictures, self.frames = self.pictures[::2], self.frames[::2]
                self._every *= 2
        self._offered += 1


def _sharpness(frame: Frame, people: list[Person]) -> float:
    """Blur around the surest person, full-size px; NaN without people or edges."""
    if not people:
        return float("nan")
    width, height = frame.upright.size_px
    x0, y0, x1, y1 = people[0].box_px
    luma = frame.luma(width, height)
    part = luma[max(int(y0), 0) : max(int(y1), 0), max(int(x0), 0) : max(int(x1), 0)]
    return camera.blur_px(part) if min(part.shape) >= 16 else float("nan")
