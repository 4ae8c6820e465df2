"""One clip of two strokes in step: catch with catch, release with release.

Left the stroke before, right the stroke after with the skeleton from before over it, laid at the
ankle and scaled to the same body. Both run slowed, and rest at the catch and at the release.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.checks import FloatArray
from analysis.clip import Clip
from analysis.motion.motion import JOINTS
from analysis.output.moment import Moment
from analysis.output.palette import ALERT, INK, Bgr
from analysis.output.season.measured import Measured, usual_stroke
from analysis.output.skeleton import Skeleton, line
from analysis.output.text import Picture, blend, can_set, plate
from analysis.output.video import VideoWriter

#: Size of one side, px, and pictures a second of the clip.
PANE_W, PANE_H, RATE = 640, 600, 30.0

#: How many times slower than life, and for how long it rests at catch and release, s.
SLOWER, REST_S = 2.0, 0.8

#: The limbs of the skeleton laid over the other: thinner, in one colour, dashed.
_LIMBS = (
    ("ankle", "knee"), ("knee", "hip"), ("hip", "shoulder"), ("shoulder", "elbow"),
    ("elbow", "wrist"), ("shoulder", "ear"),
)  # fmt: skip
_BODY = (("ankle", "knee"), ("knee", "hip"), ("hip", "shoulder"))


@dataclass(frozen=True)
class Side:
    """One stroke to show: the clip, what was measured, which stroke (0-based), its words."""

    path: Path
    measured: Measured
    stroke: int
    label: str

    @property
    def events(self) -> tuple[float, float, float]:
        """Catch, release and next catch, s."""
        m, i = self.measured, self.stroke
        return float(m.catch_s[i]), float(m.release_s[i]), float(m.next_catch_s[i])


def side_of(path: Path, measured: Measured, label: str) -> Side:
    """Return the side that shows a clip's most usual stroke."""
    return Side(path, measured, usual_stroke(measured), label)


@dataclass(frozen=True)
class Step:
    """One picture of the clip: how far along (0 catch, 1 release, 2 next catch), and its word."""

    along: float
    word: str


def steps(before: Side, after: Side) -> list[Step]:
    """Return the pictures of the clip; drive and recovery last as long as on average, slowed."""
    parts = []
    for part, (word, rest_word) in enumerate((("Drive", "Catch"), ("Recovery", "Release"))):
        lasts = np.mean([side.events[part + 1] - side.events[part] for side in (before, after)])
        count = max(2, round(float(lasts) * SLOWER * RATE))
        parts += [Step(float(part), rest_word)] * round(REST_S * RATE)
        parts += [Step(part + i / count, word) for i in range(1, count)]
    return parts


def time_of(side: Side, along: float) -> float:
    """Return the clip's own time, s, of a place in the stroke."""
    return float(np.interp(along, (0.0, 1.0, 2.0), side.events))


class View:
    """From a clip's own picture to its pane: mirrored to face right, cut and scaled to the body.

    Parameters
    ----------
    side : Side
    body_px : float
        Length of shank, thigh and trunk together in the pane, px.
    """

    def __init__(self, side: Side, body_px: float) -> None:
        measured = side.measured
        self.mirrored = measured.facing == "left"
        self.width_px = measured.size_px[0]
        start, _, end = side.events
        inside = (measured.t_s >= start) & (measured.t_s <= end)
        joints = self._turned(measured.joints_px[inside])
        self.scale = float(body_px / body_length(joints))
        low = np.nanmin(joints, axis=(0, 1))
        high = np.nanmax(joints, axis=(0, 1))
        middle = (low + high) / 2
        # Heads and boats reach beyond the joints: a little more above than below.
        middle[1] -= 0.06 * (high[1] - low[1])
        self.corner = middle - np.array([PANE_W, PANE_H]) / (2 * self.scale)

    def _turned(self, points: FloatArray) -> FloatArray:
        if not self.mirrored:
            return points
        turned = points.copy()
        turned[..., 0] = self.width_px - points[..., 0]
        return turned

    def place(self, points: FloatArray) -> FloatArray:
        """Return points of the clip's picture [shape=(..., 2)] in the pane, px."""
        # Pixel i covers i … i + 1, so that mirroring and scaling keep to the same edges.
        return np.asarray((self._turned(points) - self.corner) * self.scale)

    def cut(self, picture: Picture) -> Picture:
        """Return the pane's picture; what lies outside the clip is dark."""
        import cv2

        sign = -1.0 if self.mirrored else 1.0
        shift = self.width_px if self.mirrored else 0.0
        matrix = np.array(
            [
                [sign * self.scale, 0.0, (shift - self.corner[0]) * self.scale],
                [0.0, self.scale, -self.corner[1] * self.scale],
            ]
        )
        flags = cv2.INTER_AREA if self.scale < 0.7 else cv2.INTER_LINEAR
        return np.asarray(
            cv2.warpAffine(
                picture, matrix, (PANE_W, PANE_H), flags=flags, borderValue=tuple(map(float, INK))
            ),
            dtype=np.uint8,
        )


def body_length(joints: FloatArray) -> float:
    """Return shank, thigh and trunk together [joints shape=(T, J, 2)], median over frames."""
    total = 0.0
    for one, other in _BODY:
        off = joints[:, JOINTS.index(one)] - joints[:, JOINTS.index(other)]
        total += float(np.nanmedian(np.hypot(off[:, 0], off[:, 1])))
    return total


def pane_body_px(before: Side, after: Side) -> float:
    """Return the largest body length with which both strokes fit into their panes."""
    fits = []
    for side in (before, after):
        start, _, end = side.events
        measured = side.measured
        joints = measured.joints_px[(measured.t_s >= start) & (measured.t_s <= end)]
        wide, high = np.nanmax(joints, axis=(0, 1)) - np.nanmin(joints, axis=(0, 1))
        body = body_length(joints)
        fits.append(body * min(PANE_W * 0.86 / wide, PANE_H * 0.74 / high))
    return float(min(fits))


def joints_at(measured: Measured, t_s: float) -> tuple[FloatArray, FloatArray]:
    """Return the joints [shape=(J, 2), px] at a time between frames, and which were bridged."""
    t = measured.t_s
    after = int(np.clip(np.searchsorted(t, t_s), 1, len(t) - 1))
    share = float(np.clip((t_s - t[after - 1]) / (t[after] - t[after - 1]), 0.0, 1.0))
    one, other = measured.joints_px[after - 1], measured.joints_px[after]
    nearest = after if share >= 0.5 else after - 1
    return (1 - share) * one + share * other, measured.filled[nearest]


def overlay(before: FloatArray, after: FloatArray, scale: float) -> FloatArray:
    """Lay joints [shape=(J, 2)] over others at the ankle, `scale` times as large."""
    ankle = JOINTS.index("ankle")
    return np.asarray(after[ankle] + scale * (before - before[ankle]))


def draw_ghost(picture: Picture, joints_px: FloatArray, colour: Bgr = ALERT) -> None:
    """Draw a skeleton from elsewhere: thin, dashed, in one colour on a dark casing."""
    unit = PANE_H / 540.0
    for casing in (True, False):
        for one, other in _LIMBS:
            i, j = JOINTS.index(one), JOINTS.index(other)
            if np.isfinite(joints_px[[i, j]]).all():
                line(
                    picture,
                    joints_px[i],
                    joints_px[j],
                    INK if casing else colour,
                    (6.0 if casing else 3.2) * unit,
                    9.0 * unit,
                    gap_for_px=6.0 * unit,
                )


def pictures(before: Side, after: Side) -> Iterator[Picture]:
    """Give the pictures of the comparison, in order [shape=(PANE_H, 2 · PANE_W, 3), uint8]."""
    body_px = pane_body_px(before, after)
    views = [View(before, body_px), View(after, body_px)]
    followers = [_Follower(side) for side in (before, after)]
    try:
        for step in steps(before, after):
            canvas = np.empty((PANE_H, 2 * PANE_W, 3), dtype=np.uint8)
            placed = []
            for i, (side, view, frames) in enumerate(
                zip((before, after), views, followers, strict=True)
            ):
                t_s = time_of(side, step.along)
                pane = view.cut(frames.at(t_s))
                joints, bridged = joints_at(side.measured, t_s)
                placed.append(view.place(joints))
                Skeleton().draw(pane, _moment(placed[i], ~np.asarray(bridged, dtype=bool)))
                if i == 1:
                    # Both views have the same scale to the body already.
                    draw_ghost(pane, overlay(placed[0], placed[1], 1.0))
                _label(pane, side.label, step.word)
                canvas[:, i * PANE_W : (i + 1) * PANE_W] = pane
            canvas[:, PANE_W - 2 : PANE_W + 2] = INK
            yield canvas
    finally:
        for frames in followers:
            frames.close()


def write_comparison(path: Path, before: Side, after: Side) -> None:
    """Write the clip of both strokes in step.

    Raises
    ------
    SideonError
        When a clip can no longer be read or the encoder is missing.
    """
    with VideoWriter(path, 2 * PANE_W, PANE_H) as video:
        for i, picture in enumerate(pictures(before, after)):
            video.write(picture, i / RATE, 1 / RATE)


def _label(pane: Picture, label: str, word: str) -> None:
    edge = 12
    if can_set(label):
        blend(pane, plate(label, 24, opacity=0.7), edge, edge)
    blend(pane, plate(word, 24, opacity=0.7), edge, PANE_H - 60)


class _Follower:
    """The frame of a clip nearest to times that never go back; holds two frames."""

    def __init__(self, side: Side) -> None:
        start, _, end = side.events
        self._clip = Clip(side.path, from_s=max(0.0, start - 0.3), to_s=end + 0.3)
        self._frames = iter(self._clip)
        self._now = next(self._frames)
        self._next = next(self._frames, None)
        self._picture: Picture | None = None

    def at(self, t_s: float) -> Picture:
        """Return the picture nearest to `t_s`."""
        while self._next is not None and abs(self._next.t_s - t_s) <= abs(self._now.t_s - t_s):
            self._now, self._next = self._next, next(self._frames, None)
            self._picture = None
        if self._picture is None:
            self._picture = self._now.bgr(*self._now.upright.size_px)
        return self._picture

    def close(self) -> None:
        """Close the clip."""
        self._frames = iter(())
        self._clip.close()


def _moment(joints_px: FloatArray, sure: FloatArray) -> Moment:
    """Return a moment that says no more than where the joints are."""
    return Moment(
        t_s=0.0,
        joints_px=joints_px,
        outline_px=np.full((0, 2), np.nan),
        sure=np.asarray(sure, dtype=bool),
        angles_deg=np.zeros(0),
        angle_se_deg=np.zeros(0),
        show=(),
        phase="",
        stroke=0,
        strokes=0,
        along=float("nan"),
        release_along=float("nan"),
        notes=(),
        slowed=1.0,
        up=(0.0, -1.0),
        feet=1,
        notes_on_top=True,
        note_room_px=0.0,
        unit=PANE_H / 540.0,
    )
