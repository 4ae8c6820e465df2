"""Plain-word notes while a stroke shows a fault, with a ring around the place to look at."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.checks import FloatArray
from analysis.output.moment import BAND_UNITS, Moment
from analysis.output.palette import ALERT, INK
from analysis.output.skeleton import SHIFT, fixed
from analysis.output.text import Picture, blend, plate

#: More than this many at once cannot be read.
MOST = 2


class Notes:
    """Draws the most important notes where the clip has room, above or below the athlete."""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place."""
        unit = moment.unit
        used = 12 * unit
        for i, note in enumerate(moment.notes[:MOST]):
            words = plate(
                note.text,
                round(33 * unit),
                colour=INK,
                ground=ALERT,
                opacity=0.94 if note.first else 0.86,
                sign="warn",
                width_px=round(
                    frame_bgr.shape[1] - (118 if not moment.notes_on_top else 300) * unit
                ),
            )
            if i and used + words.height > moment.note_room_px:
                break
            top = used
            if not moment.notes_on_top:
                top = frame_bgr.shape[0] - BAND_UNITS * unit - used - words.height
            blend(frame_bgr, words, 12 * unit, top)
            used += words.height + 8 * unit
            draw_ring(frame_bgr, moment, note.joint)


def draw_ring(frame: Picture, moment: Moment, joint: str) -> None:
    """Draw a ring around the place to look at, in place."""
    at = place_of(moment, joint)
    if not np.isfinite(at).all():
        return
    radius = round(24 * moment.unit * (1 << SHIFT))
    for tone, thick in ((INK, 7.0), (ALERT, 3.5)):
        width = max(1, round(thick * moment.unit))
        cv2.circle(frame, fixed(at), radius, tone, width, cv2.LINE_AA, SHIFT)


def place_of(moment: Moment, name: str) -> FloatArray:
    """Return where to look [shape=(2,), px]: a joint, or ``"back"`` behind the trunk's middle."""
    if name != "back":
        return moment.joint(name)
    hip, shoulder = moment.joint("hip"), moment.joint("shoulder")
    behind = np.array([-0.22 * moment.feet * float(np.hypot(*(shoulder - hip))), 0.0])
    return np.asarray(0.45 * hip + 0.55 * shoulder + behind)
