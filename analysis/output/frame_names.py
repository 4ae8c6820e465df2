"""Which stroke and phase each frame is called by, on the clip and beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.checks import IntArray
from analysis.result import Review


@dataclass(frozen=True)
class FrameNames:
    """Names of all frames.

    Attributes
    ----------
    phase : array [shape=(T,)] of str
        Empty outside every whole stroke.
    stroke : array [shape=(T,)] of int
        1…N; 0 outside.
    """

    phase: NDArray[np.str_]
    stroke: IntArray

    def frames_of(self, stroke: int) -> tuple[int, int]:
        """Return the first frame of a stroke (1…N), and the first one behind it."""
        found = np.flatnonzero(self.stroke == stroke)
        return (int(found[0]), int(found[-1]) + 1) if len(found) else (0, 0)


def frame_names(review: Review) -> FrameNames:
    """Return what each frame is called.

    A catch or release lies between two frames; the nearer one is called by it. It is what somebody
    sees who goes to "Catch 1", and must not say that it is part of no stroke.
    """
    strokes, t_s = review.strokes, review.motion.t_s
    phase, stroke = strokes.phase.copy(), strokes.stroke.copy()
    for k in range(strokes.count):
        for name, at_s in (("catch", strokes.catch_s[k]), ("release", strokes.release_s[k])):
            nearest = int(np.argmin(np.abs(t_s - at_s)))
            phase[nearest], stroke[nearest] = name, k + 1
    return FrameNames(phase, stroke)
