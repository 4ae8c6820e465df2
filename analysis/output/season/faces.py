"""Faces in a clip: found, held on to while nobody finds them, blurred beyond recovery.

A face is a circle ``(x, y, radius)`` in px of the full picture, with room to spare around the head.
Blurring leaves a few averaged patches of it and cannot be undone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from analysis.checks import FloatArray, require_shape
from analysis.clip import Clip
from analysis.frame import SAME_TIME_S, Frame
from analysis.output.text import Picture
from analysis.output.video import VideoWriter
from analysis.pose.model_files import ModelFiles
from analysis.pose.people import PeopleFinder, Person, finder_size, trunk_length

Face = tuple[float, float, float]
Faces = list[Face]

#: Radius of a head with room to spare ÷ the trunk from hip to shoulder (a head is about 0.45 of it
#: high).
HEAD_RADIUS = 0.38

#: A face is reduced to so many patches across.
PATCHES = 4

#: A lost face grows by so many radii a second, as far as so many times its size: a head at full
#: drive moves about six radii a second, and is looked for from both ends of the gap.
GROWS_PER_S, GROWS_TO = 4.0, 3.0

#: A lost face stays blurred for twice as long as it had been seen, within these limits, s.
HELD_S = (0.3, 5.0)

#: Faces are looked for no more often than this, s: at higher frame rates in some frames only.
LOOK_EVERY_S = 0.025

#: Keypoints of the head, and the score from which one is taken.
_HEAD, _SURE = [0, 1, 2, 3, 4], 0.15


def face_of(person: Person) -> Face:
    """Return the face of somebody the finder found: x, y, radius, px."""
    sure = person.score[_HEAD] > _SURE
    left, top, right, bottom = (float(v) for v in person.box_px)
    trunk = trunk_length(person.xy_px)
    # Whoever bends or turns has a short trunk in the picture: a seventh of their height is a head.
    radius = max(HEAD_RADIUS * trunk, 0.13 * max(bottom - top, 0.5 * (right - left)))
    if not sure.any():
        # The head itself was not seen: it is above the shoulders.
        shoulders = person.xy_px[[5, 6]].mean(axis=0)
        hips = person.xy_px[[11, 12]].mean(axis=0)
        middle = shoulders + 0.35 * (shoulders - hips)
        return float(middle[0]), float(middle[1]), 1.3 * radius
    points = person.xy_px[_HEAD][sure]
    middle = points.mean(axis=0)
    reach = float(np.linalg.norm(points - middle, axis=1).max())
    return float(middle[0]), float(middle[1]), max(radius, 1.4 * reach)


def grown(radius: float, away_s: float) -> float:
    """Return the radius of a face last seen `away_s` ago."""
    return radius * min(GROWS_TO, 1.0 + GROWS_PER_S * away_s)


@dataclass
class _Seen:
    """One face followed through time: where and when last, and for how long by then, s."""

    face: Face
    last_s: float
    seen_s: float = 0.0

    def now(self, t_s: float) -> Face:
        x, y, radius = self.face
        return x, y, grown(radius, t_s - self.last_s)

    def lost(self, t_s: float) -> bool:
        held = min(max(2.0 * self.seen_s, HELD_S[0]), HELD_S[1])
        return t_s - self.last_s > held


def held(t_s: FloatArray, found: Sequence[Faces | None]) -> list[Faces]:
    """Return the faces to blur in each frame: those found, lost a while ago, or found soon.

    Parameters
    ----------
    t_s : array [shape=(T,), s]
    found : sequence of T lists of Face
        ``None`` where nobody looked.
    """
    forward = _hold(list(t_s), list(found))
    backward = _hold([-t for t in t_s[::-1]], list(found)[::-1])[::-1]
    return [
        [*(now or []), *before, *after]
        for now, before, after in zip(found, forward, backward, strict=True)
    ]


def _hold(t_s: Sequence[float], found: Sequence[Faces | None]) -> list[Faces]:
    """Follow faces in one direction of time; give in each frame those that are missed in it."""
    followed: list[_Seen] = []
    missed: list[Faces] = []
    for now_s, faces in zip(t_s, found, strict=True):
        left = [one for one in followed if not one.lost(now_s)]
        seen: list[_Seen] = []
        for face in faces or []:
            near = [one for one in left if _touch(one.now(now_s), face)]
            if near:
                # The nearest goes on as this face; a second one that it also covers ends here.
                nearest = min(near, key=lambda one: _apart(one.face, face))
                left.remove(nearest)
                seen.append(_Seen(face, now_s, nearest.seen_s + now_s - nearest.last_s))
            else:
                seen.append(_Seen(face, now_s))
        missed.append([one.now(now_s) for one in left])
        followed = left + seen
    return missed


def _apart(one: Face, other: Face) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))


def _touch(one: Face, other: Face) -> bool:
    return _apart(one, other) < one[2] + 0.5 * other[2]


def blur(picture: Picture, faces: Sequence[Face]) -> None:
    """Blur faces in a picture [shape=(H, W, 3), uint8] in place; what lies outside is left out."""
    height, width = picture.shape[:2]
    for x, y, radius in faces:
        if not np.isfinite([x, y, radius]).all() or radius <= 0:
            continue
        left, top = int(max(0, x - radius)), int(max(0, y - radius))
        right = int(min(width, np.ceil(x + radius) + 1))
        bottom = int(min(height, np.ceil(y + radius) + 1))
        if right <= left or bottom <= top:
            continue
        part = picture[top:bottom, left:right]
        patches = cv2.resize(part, (PATCHES, PATCHES), interpolation=cv2.INTER_AREA)
        smooth = cv2.resize(patches, (right - left, bottom - top), interpolation=cv2.INTER_LINEAR)
        rows, columns = np.mgrid[top:bottom, left:right]
        inside = (columns - x) ** 2 + (rows - y) ** 2 <= radius**2
        part[inside] = smooth[inside]


class FaceFinder:
    """Everybody's faces in a picture."""

    def __init__(self, size_px: tuple[int, int], finder: PeopleFinder | None = None) -> None:
        self._finder = finder or PeopleFinder(ModelFiles().checked().multipose)
        self._width, self._height, self._scale = finder_size(*size_px)

    def run(self, picture: Picture) -> Faces:
        """Return the faces in a picture [shape=(H, W, 3), uint8], px of that picture."""
        small = cv2.resize(picture, (self._width, self._height), interpolation=cv2.INTER_AREA)
        found = self._finder.run(np.asarray(small, dtype=np.uint8), self._scale)
        return [face_of(person) for person in found]


def write_blurred(
    source: Path,
    target: Path,
    t_s: FloatArray,
    own: FloatArray,
    size_px: tuple[int, int],
    *,
    finder: FaceFinder | None = None,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a clip's measured frames again, each at its own time, with every face blurred.

    A part of a clip keeps its times: before it there is one dark picture.

    Parameters
    ----------
    source, target : Path
    t_s : array [shape=(T,), s]
        Times of the frames to write.
    own : array [shape=(T, 3), px]
        The athlete's face in each of them; NaN where not known.
    size_px : (int, int)
        Of the upright picture; an odd last column or row is cut off.

    Raises
    ------
    UnreadableClipError
        When the clip can no longer be read.
    """
    require_shape("own", own, (len(t_s), 3))
    tell = progress or (lambda share: None)
    find = finder or FaceFinder(size_px)
    found: list[Faces | None] = [None] * len(t_s)
    looked_s = -np.inf
    for index, frame in _frames(source, t_s):
        if t_s[index] - looked_s >= LOOK_EVERY_S:
            found[index], looked_s = find.run(frame.rgb), t_s[index]
        tell(0.7 * (index + 1) / len(t_s))
    faces = held(t_s, found)
    width, height = size_px[0] // 2 * 2, size_px[1] // 2 * 2
    lasts_s = np.append(np.diff(t_s), np.median(np.diff(t_s)))
    target.parent.mkdir(parents=True, exist_ok=True)
    with VideoWriter(target, width, height) as video:
        if t_s[0] > SAME_TIME_S:
            video.write(np.zeros((height, width, 3), dtype=np.uint8), 0.0, float(t_s[0]))
        for index, frame in _frames(source, t_s):
            picture = frame.bgr(*size_px)
            x, y, radius = (float(v) for v in own[index])
            blur(picture, [*faces[index], (x, y, radius)])
            video.write(picture[:height, :width], float(t_s[index]), float(lasts_s[index]))
            tell(0.7 + 0.3 * (index + 1) / len(t_s))


def _frames(source: Path, t_s: FloatArray) -> Iterator[tuple[int, Frame]]:
    """Give the frames of these times with their index."""
    with Clip(
        source, from_s=float(t_s[0]) - SAME_TIME_S, to_s=float(t_s[-1]) + SAME_TIME_S
    ) as clip:
        for frame in clip:
            index = int(np.argmin(np.abs(t_s - frame.t_s)))
            if abs(float(t_s[index]) - frame.t_s) <= SAME_TIME_S:
                yield index, frame
