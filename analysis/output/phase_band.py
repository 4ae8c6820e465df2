"""The band at the foot of the picture: which stroke, which phase, how far it has come."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from analysis.output import words
from analysis.output.moment import BAND_UNITS, Moment
from analysis.output.palette import ARMS, BODY, INK, PAPER
from analysis.output.text import Picture, blend, plate

#: How much of the picture shows through the band.
_THROUGH = 0.22


class PhaseBand:
    """Draws a band with the drive as a full bar and the recovery as a thin one."""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place."""
        unit = moment.unit
        high, wide = frame_bgr.shape[:2]
        depth = round(BAND_UNITS * unit)
        part = frame_bgr[high - depth :]
        cv2.addWeighted(part, _THROUGH, _ink(part.shape), 1.0 - _THROUGH, 0.0, part)
        size = round(29 * unit)
        said = moment.text("clip.part")
        if moment.stroke:
            said = moment.text("clip.stroke", stroke=moment.stroke, strokes=moment.strokes)
        label = plate(said, size, opacity=0.0)
        top = high - depth / 2 - label.height / 2
        left = blend(frame_bgr, label, 4 * unit, top)[2]
        if not moment.stroke:
            return
        phase = plate(words.phase_label(moment.phase, moment.text), size, colour=BODY, opacity=0.0)
        right = wide - round(188 * unit)
        blend(frame_bgr, phase, right, top)
        self._bar(frame_bgr, moment, left + 8 * unit, right - 8 * unit, high - depth / 2)

    @staticmethod
    def _bar(frame: Picture, moment: Moment, left: float, right: float, middle: float) -> None:
        if right - left < 20 or not np.isfinite(moment.release_along):
            return
        unit = moment.unit
        turn = left + (right - left) * moment.release_along
        at = left + (right - left) * moment.along
        y = round(middle)
        half = max(2, round(7 * unit))
        thin = max(1, round(2 * unit))
        cv2.rectangle(frame, (round(left), y - half), (round(turn), y + half), ARMS, thin)
        cv2.line(frame, (round(turn), y), (round(right), y), ARMS, thin)
        cv2.rectangle(frame, (round(left), y - half), (round(min(at, turn)), y + half), ARMS, -1)
        if at > turn:
            low, top = y + round(0.4 * half), y - round(0.4 * half)
            cv2.rectangle(frame, (round(turn), top), (round(at), low), ARMS, -1)
        cv2.circle(frame, (round(at), y), round(12 * unit), INK, -1, cv2.LINE_AA)
        cv2.circle(frame, (round(at), y), round(9 * unit), PAPER, -1, cv2.LINE_AA)


@lru_cache(maxsize=4)
def _ink(shape: tuple[int, ...]) -> Picture:
    return np.full(shape, INK, np.uint8)
