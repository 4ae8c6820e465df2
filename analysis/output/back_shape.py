"""The line of the back, shown while a stroke rounds it too far."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.checks import FloatArray
from analysis.motion.angles import trunk_deg
from analysis.motion.back_line import LEVELS, find_back_line
from analysis.motion.back_rounding import without_others
from analysis.motion.learned import shipped
from analysis.output.moment import Moment
from analysis.output.palette import BODY, INK
from analysis.output.skeleton import SHIFT
from analysis.output.text import Picture


class BackShape:
    """Draws the rear edge of the trunk when a note is about the back."""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place."""
        if not any(note.joint == "back" for note in moment.notes):
            return
        points = back_points(moment)
        known = np.isfinite(points).all(axis=1)
        if known.sum() < 2:
            return
        line = np.round(points[known] * (1 << SHIFT)).astype(np.int32)[:, None]
        for tone, thick in ((INK, 9.0), (BODY, 5.0)):
            width = max(1, round(thick * moment.unit))
            cv2.polylines(frame_bgr, [line], False, tone, width, cv2.LINE_AA, SHIFT)


def back_points(moment: Moment) -> FloatArray:
    """Return the back's line in the picture [shape=(L, 2), px], from the seat up; NaN if hidden."""
    turn = np.array([moment.feet, -1.0])  # picture ↔ athlete's frame: x to the feet, y up
    hip, shoulder, elbow, wrist = (
        (moment.joint(name) * turn)[None] for name in ("hip", "shoulder", "elbow", "wrist")
    )
    edge = find_back_line((moment.outline_px * turn)[None], hip, shoulder, elbow, wrist)
    # A neighbour's legs are not to be drawn as a back.
    edge = without_others(edge, trunk_deg(hip, shoulder), shipped().back)[0]
    axis = (shoulder - hip)[0]
    rear = np.array([-axis[1], axis[0]])
    points = hip[0] + LEVELS[:, None] * axis + edge[:, None] * rear
    within = (LEVELS >= -0.15) & (LEVELS <= 1.03)
    return np.asarray(points[within] * turn)
