"""The angles that matter now, drawn where they are, against the vertical of the room."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from analysis.checks import FloatArray
from analysis.output import words
from analysis.output.language import Text
from analysis.output.moment import BAND_UNITS, Moment
from analysis.output.palette import ARMS, BODY, INK, LEGS, VERTICAL, Bgr
from analysis.output.skeleton import SHIFT, fixed, line
from analysis.output.text import Picture, Plate, blend, plate

#: Size of the numbers, in units: readable where a phone shows the clip a third as wide.
NUMBER_SIZE = 31


#: A number ready to be set: its words, and the left and top that it would like, px.
Number = tuple[Plate, float, float]

#: Left, top, right, bottom, px.
Box = tuple[int, int, int, int]


class AngleArcs:
    """Draws the arcs and numbers of ``moment.show``."""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place: arcs, then numbers that keep clear of each other."""
        numbers: list[Number | None] = []
        if "trunk_deg" in moment.show:
            numbers.append(self._lean(frame_bgr, moment, "trunk_deg", "hip", "shoulder", BODY))
        if "shin_deg" in moment.show:
            numbers.append(self._lean(frame_bgr, moment, "shin_deg", "ankle", "knee", LEGS))
        for name, joints, colour in (
            ("knee_deg", ("hip", "knee", "ankle"), LEGS),
            ("elbow_deg", ("shoulder", "elbow", "wrist"), ARMS),
        ):
            if name in moment.show:
                numbers.append(self._included(frame_bgr, moment, name, joints, colour))
        taken: list[Box] = []
        for number in numbers:
            if number is not None:
                words_, left, _ = number
                top = free_top(frame_bgr.shape[:2], number, taken, 5 * moment.unit)
                taken.append(blend(frame_bgr, words_, left, top))

    def _lean(
        self, frame: Picture, moment: Moment, name: str, low: str, high: str, colour: Bgr
    ) -> Number | None:
        """Draw a segment's lean: a dashed vertical, the arc to the segment; return the number."""
        base, tip, value = moment.joint(low), moment.joint(high), moment.angle(name)
        if not (np.isfinite(base).all() and np.isfinite(tip).all() and np.isfinite(value)):
            return None
        unit, up = moment.unit, np.array(moment.up)
        length = float(np.hypot(*(tip - base)))
        top = base + up * 1.12 * length
        start = base + up * 11 * unit  # the joint's own mark stays clear
        line(frame, start, top, INK, 5.0 * unit)
        line(frame, start, top, VERTICAL, 2.2 * unit, 9.0 * unit)
        arc(frame, base, up, tip - base, 0.62 * length, colour, unit)
        said = _shin(value, moment.text)
        if name == "trunk_deg":
            said = words.lean_words(value, moment.text)
        number = plate(_about(moment, name) + said, round(NUMBER_SIZE * unit), colour=colour)
        if name == "trunk_deg":
            # Behind the back, where nothing moves; over the head when the picture ends there.
            side, y = -moment.feet, float((base + up * 0.77 * length)[1]) - number.height
            x = max(side * float(top[0]), side * float(tip[0]) + 34 * unit) * side
            if number.width > (x if side < 0 else frame.shape[1] - x) - 12 * unit:
                ear = moment.joint("ear")
                head = float(ear[1]) if np.isfinite(ear[1]) else float(top[1])
                y = head - 0.45 * length - number.height
        else:
            # Beyond the toes, halfway up the shin: below the hands.
            toe = moment.joint("toe")
            side, x = moment.feet, float(toe[0] if np.isfinite(toe[0]) else base[0])
            y = float((base + up * 0.5 * length)[1]) - number.height / 2
        return number, x + side * 12 * unit - (number.width if side < 0 else 0), y

    def _included(
        self, frame: Picture, moment: Moment, name: str, joints: tuple[str, str, str], colour: Bgr
    ) -> Number | None:
        """Draw the angle between two limbs at the joint between them; return the number."""
        one, at, other = (moment.joint(joint) for joint in joints)
        value = moment.angle(name)
        if not np.isfinite([*one, *at, *other, value]).all():
            return None
        unit = moment.unit
        shorter = min(float(np.hypot(*(one - at))), float(np.hypot(*(other - at))))
        radius = 0.45 * shorter
        arc(frame, at, one - at, other - at, radius, colour, unit)
        said = moment.text(f"clip.{joints[1]}", deg=f"{round(value)}°")
        number = plate(_about(moment, name) + said, round(NUMBER_SIZE * unit), colour=colour)
        if name == "knee_deg":
            # Below its arc, where nothing moves: above it the hands go by.
            floor = frame.shape[0] - BAND_UNITS * unit - number.height
            below = min(float(at[1]) + radius + 8 * unit, floor)
            return number, float(at[0]) - number.width / 2, below
        # Above the joint and from there towards the feet: clear of the shoulder.
        left = float(at[0]) - (18 * unit if moment.feet > 0 else number.width - 18 * unit)
        return number, left, float(at[1]) - number.height - 20 * unit


def free_top(size: tuple[int, ...], number: Number, taken: Sequence[Box], gap_px: float) -> float:
    """Return where the top of a number goes, so that it covers none that stands already.

    `size` is the picture's height and width. It moves up, or down where the picture ends.
    """
    what, left, top = number
    x = min(max(0.0, left), max(0.0, size[1] - what.width))

    def clash(y: float) -> Box | None:
        for box in taken:
            beside = x + what.width + gap_px <= box[0] or box[2] + gap_px <= x
            apart = y + what.height + gap_px <= box[1] or box[3] + gap_px <= y
            if not (beside or apart):
                return box
        return None

    up = down = min(max(0.0, top), max(0.0, size[0] - what.height))
    while (box := clash(up)) is not None:
        up = box[1] - gap_px - what.height
    while (box := clash(down)) is not None:
        down = box[3] + gap_px
    return up if up >= 0 else down


def _shin(value: float, text: Text) -> str:
    whole = round(value)
    lean = text("lean.upright")
    if whole:
        lean = text("clip.past" if whole > 0 else "clip.short", deg=f"{abs(whole)}°")
    return text("clip.shin", lean=lean)


def _about(moment: Moment, name: str) -> str:
    return "≈ " if moment.rough(name) else ""


def arc(
    frame: Picture,
    centre: FloatArray,
    start: FloatArray,
    end: FloatArray,
    radius_px: float,
    colour: Bgr,
    unit: float,
) -> None:
    """Draw the shorter arc about `centre` from direction `start` to direction `end`."""
    first = float(np.degrees(np.arctan2(start[1], start[0])))
    turn = (float(np.degrees(np.arctan2(end[1], end[0]))) - first + 180.0) % 360.0 - 180.0
    low, high = sorted((first, first + turn))
    axes = (round(radius_px * (1 << SHIFT)),) * 2
    for tone, thick in ((INK, 6.0), (colour, 3.0)):
        cv2.ellipse(
            frame,
            fixed(centre),
            axes,
            0.0,
            low,
            high,
            tone,
            max(1, round(thick * unit)),
            cv2.LINE_AA,
            SHIFT,
        )
