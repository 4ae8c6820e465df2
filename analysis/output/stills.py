"""The catch and release pictures, drawn like the annotated clip but without its band."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from analysis.errors import SideonError
from analysis.output.angle_arcs import AngleArcs
from analysis.output.back_shape import BackShape
from analysis.output.language import ENGLISH, Text
from analysis.output.moment import (
    Moment,
    Moments,
    Note,
    front_of,
    nearest_frame,
    stroke_to_show,
    unit_of,
)
from analysis.output.notes import draw_ring
from analysis.output.reached import seat_stays
from analysis.output.skeleton import Skeleton
from analysis.output.text import Picture
from analysis.result import Review

#: Long side of a still, and of the smaller ones that show a finding, px.
STILL_PX, SHOWN_PX = 1120, 760

#: Room left around the athlete, of the athlete's own size on each side.
_ROOM = 0.14

#: The top of the head, above the ear, in lengths of the trunk (our judgement).
_ABOVE_EAR = 0.3

#: More room behind the back and beyond the feet, of the athlete's height.
_BEHIND, _BEYOND = 0.28, 0.3

_QUALITY = 88


def still_frames(review: Review) -> dict[str, int]:
    """Return the frame of each still by file name.

    The stroke is the one that shows the first finding best; its catch picture is taken at full
    compression, where posture at the front is read.
    """
    strokes = review.strokes
    if not strokes.count:
        return {}
    i = stroke_to_show(review)
    front = float(strokes.full_compression_s[i])
    front = front if front == front else front_of(strokes, i)[0]
    return {
        "catch.jpg": nearest_frame(review.motion, front),
        "release.jpg": nearest_frame(review.motion, float(strokes.release_s[i])),
    }


def crop_box(review: Review) -> tuple[int, int, int, int]:
    """Return the part of the picture that both stills show: left, top, right, bottom, px.

    Where the athlete is during the shown stroke, with room around, so that angles can be read on
    a phone; in the clip's own pixels.
    """
    clip, i = review.pose.clip, stroke_to_show(review) + 1
    seen = review.motion.joints_px[review.strokes.stroke == i].reshape(-1, 2)
    seen = seen[np.isfinite(seen).all(axis=1)]
    if not len(seen):
        return 0, 0, clip.width_px, clip.height_px
    low, high = seen.min(axis=0), seen.max(axis=0)
    low[1] -= _ABOVE_EAR * review.motion.segments_px["trunk"]
    # Behind the back stands the body's number, beyond the feet the shin's.
    room = float(high[1] - low[1]) * np.array([_BEHIND, _BEYOND])
    before, after = room if review.motion.facing == "right" else room[::-1]
    low[0], high[0] = low[0] - before, high[0] + after
    size = (high - low) * (1.0 + 2 * _ROOM)
    # Between 4:3 and 16:9, never more than the picture.
    size = np.maximum(size, [size[1] * 4 / 3, size[0] * 9 / 16])
    size = np.minimum(size, [clip.width_px, clip.height_px])
    corner = np.clip((low + high - size) / 2, 0, np.array([clip.width_px, clip.height_px]) - size)
    left, top = (round(float(v)) for v in corner)
    return left, top, left + round(float(size[0])), top + round(float(size[1]))


def still_angles(name: str, stage: str) -> tuple[str, ...]:
    """Return the angles that the catch or the release still shows."""
    legs = "shin_deg" if name == "catch.jpg" else "knee_deg"
    return ("trunk_deg",) if legs == "shin_deg" and seat_stays(stage) else ("trunk_deg", legs)


def draw_still(
    review: Review, picture: Picture, index: int, name: str, text: Text = ENGLISH
) -> Picture:
    """Return a still [shape=(H, W, 3), uint8]: the part of `crop_box` with its angles drawn.

    `picture` is the whole frame `index` at any size.
    """
    show = still_angles(name, review.strokes.stage)
    frame, moment = _cut(review, picture, index, STILL_PX, text)
    _draw(frame, replace(moment, show=show))
    return frame


def draw_shown(
    review: Review,
    picture: Picture,
    index: int,
    angles: tuple[str, ...],
    look_at: str,
    ring: bool,
    text: Text = ENGLISH,
) -> Picture:
    """Return a still that shows a finding: its angles, and a ring at the place to look at.

    `look_at` is a joint, or ``"back"``, which draws the back's line.
    """
    frame, moment = _cut(review, picture, index, SHOWN_PX, text)
    moment = replace(moment, show=angles, notes=(Note("", look_at, True),))
    _draw(frame, moment, look_at if ring else "")
    return frame


def _cut(
    review: Review, picture: Picture, index: int, long_px: int, text: Text
) -> tuple[Picture, Moment]:
    """Return the part of `crop_box` at the size asked for, and its moment."""
    clip, box = review.pose.clip, crop_box(review)
    shown = picture.shape[1] / clip.width_px
    left, top, right, bottom = (round(v * shown) for v in box)
    part = picture[top:bottom, left:right]
    grow = long_px / max(part.shape[:2])
    size = (round(part.shape[1] * grow), round(part.shape[0] * grow))
    drawn = cv2.resize(part, size, interpolation=cv2.INTER_CUBIC if grow > 1 else cv2.INTER_AREA)
    moment = Moments(review, shown * grow, text=text).at(index)
    corner = np.array([left, top]) * grow
    moment = replace(
        moment,
        joints_px=moment.joints_px - corner,
        outline_px=moment.outline_px - corner,
        unit=unit_of(*size),
    )
    return np.ascontiguousarray(drawn, dtype=np.uint8), moment


def _draw(frame: Picture, moment: Moment, look_at: str = "") -> None:
    """Draw what was measured; the ring at `look_at` lies below the numbers."""
    BackShape().draw(frame, moment)
    Skeleton().draw(frame, moment)
    if look_at:
        draw_ring(frame, moment, look_at)
    AngleArcs().draw(frame, moment)


def write_still(path: Path, picture: Picture) -> None:
    """Write a still as JPEG; ``OSError`` when the file cannot be written."""
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not done:
        raise SideonError(f"The picture {path.name} could not be made: try the clip smaller.")
    path.write_bytes(data.tobytes())
