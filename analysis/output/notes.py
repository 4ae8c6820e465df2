"""Plain-word notes while a stroke shows a fault, with a ring around the place to look at."""

from __future__ import annotations

import cv2
import numpy as np

from analysis.checks import FloatArray
from analysis.output.moment import Moment
from analysis.output.palette import ALERT, INK
from analysis.output.skeleton import SHIFT, fixed
from analysis.output.text import Picture, blend, plate

#: More than this many at once cannot be read.
MOST = 2


class Notes:
    """Draws the most important notes under the clip's title."""

    def draw(self, frame_rgb: Picture, moment: Moment) -> None:
        """Draw onto `frame_rgb` in place."""
        unit = moment.unit
        top = 58 * unit
        longest = round(frame_rgb.shape[1] - 118 * unit)
        for note in moment.notes[:MOST]:
            words = plate(
                note.text,
                round(33 * unit),
                colour=INK,
                ground=ALERT,
                opacity=0.94 if note.first else 0.86,
                sign="warn",
                width_px=longest,
            )
            top = blend(frame_rgb, words, 12 * unit, top)[3] + 8 * unit
            at = place_of(moment, note.joint)
            if np.isfinite(at).all():
                radius = round(24 * unit * (1 << SHIFT))
                for tone, thick in ((INK, 7.0), (ALERT, 3.5)):
                    cv2.circle(
                        frame_rgb,
                        fixed(at),
                        radius,
                        tone,
                        max(1, round(thick * unit)),
                        cv2.LINE_AA,
                        SHIFT,
                    )


def place_of(moment: Moment, name: str) -> FloatArray:
    """Return where to look [shape=(2,), px]: a joint, or ``"back"`` midway up the trunk."""
    if name != "back":
        return moment.joint(name)
    return np.asarray(0.45 * moment.joint("hip") + 0.55 * moment.joint("shoulder"))
