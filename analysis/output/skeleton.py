"""The near-side skeleton: legs, body and arms; dashed and hollow where it is uncertain."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import JOINTS
from analysis.output.moment import Moment
from analysis.output.palette import ARMS, BODY, INK, LEGS, Bgr
from analysis.output.text import Picture

#: Bits of a pixel that cv2 is given for the place of ends and centres.
SHIFT = 4
#: Places further off than this are drawn there, px: cv2 takes no larger numbers.
_BOUND = float(1 << 14)

#: One end, other end, colour, thickness (3 the trunk … 1 the feet: told apart without colour).
_BONES: tuple[tuple[str, str, Bgr, float], ...] = (
    ("ankle", "toe", LEGS, 2.0),
    ("ankle", "knee", LEGS, 4.5),
    ("knee", "hip", LEGS, 4.5),
    ("shoulder", "ear", BODY, 2.5),
    ("hip", "shoulder", BODY, 6.0),
    ("shoulder", "elbow", ARMS, 3.5),
    ("elbow", "wrist", ARMS, 3.5),
)
_DOTS: tuple[tuple[str, Bgr], ...] = (
    ("ankle", LEGS),
    ("knee", LEGS),
    ("hip", BODY),
    ("shoulder", BODY),
    ("elbow", ARMS),
    ("wrist", ARMS),
)


class Skeleton:
    """Draws the joints and the limbs between them."""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place."""
        unit, sure = moment.unit, moment.sure
        known = np.asarray(np.isfinite(moment.joints_px).all(axis=1))
        for casing in (True, False):
            for one, other, colour, width in _BONES:
                i, j = JOINTS.index(one), JOINTS.index(other)
                if not (known[i] and known[j]):
                    continue
                thick = (width + 3.5 if casing else width) * unit
                line(
                    frame_bgr,
                    moment.joints_px[i],
                    moment.joints_px[j],
                    INK if casing else colour,
                    thick,
                    0.0 if sure[i] and sure[j] else 8.0 * unit,
                    gap_for_px=(width + 3.5) * unit,
                )
        for name, colour in _DOTS:
            i = JOINTS.index(name)
            if known[i]:
                self._dot(frame_bgr, moment.joints_px[i], colour, unit, bool(sure[i]))

    @staticmethod
    def _dot(frame: Picture, at: FloatArray, colour: Bgr, unit: float, sure: bool) -> None:
        centre, radius = fixed(at), round(6.5 * unit * (1 << SHIFT))
        grow = round(2.0 * unit * (1 << SHIFT))
        cv2.circle(frame, centre, radius + grow, INK, -1, cv2.LINE_AA, SHIFT)
        cv2.circle(frame, centre, radius, colour, -1, cv2.LINE_AA, SHIFT)
        if not sure:
            cv2.circle(frame, centre, round(0.55 * radius), INK, -1, cv2.LINE_AA, SHIFT)


def fixed(at: FloatArray) -> tuple[int, int]:
    """Return a place as the fixed-point numbers that cv2 takes with ``SHIFT``."""
    x, y = at
    return _fixed(float(x)), _fixed(float(y))


def _fixed(value: float) -> int:
    # Plain numbers: for two of them numpy takes five times as long.
    return round(min(max(value, -_BOUND), _BOUND) * (1 << SHIFT))


def line(
    frame: Picture,
    start: FloatArray,
    end: FloatArray,
    colour: Bgr,
    thick_px: float,
    dash_px: float = 0.0,
    gap_for_px: float = 0.0,
) -> None:
    """Draw a line; with `dash_px` in dashes of that length with gaps about as long.

    The ends of a dash are round and reach half its thickness into the gap, so the gap is longer
    by `gap_for_px`: the thickest line that lies on the same gaps.
    """
    thick = max(1, round(thick_px))
    if dash_px <= 0:
        cv2.line(frame, fixed(start), fixed(end), colour, thick, cv2.LINE_AA, SHIFT)
        return
    length = float(np.hypot(*(end - start)))
    if length < 1.0:
        return
    begins = np.arange(0.0, min(length, 8192.0), 2.0 * dash_px + gap_for_px)
    far = np.stack([begins, np.minimum(begins + dash_px, length)], axis=1)
    ends = start + far[:, :, None] * ((end - start) / length)
    dashes = np.rint(np.clip(ends, -_BOUND, _BOUND) * (1 << SHIFT)).astype(np.int32)
    cv2.polylines(frame, list(dashes), False, colour, thick, cv2.LINE_AA, SHIFT)
