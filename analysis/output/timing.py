"""When each frame is shown in the annotated clip: slowed where it matters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.output.moment import front_of, stroke_to_show, window_s
from analysis.result import Review

#: How many times slower the important moments run.
SLOWER = 4.0


@dataclass(frozen=True)
class Timing:
    """When each frame is shown in the annotated clip.

    Attributes
    ----------
    clip_s, shown_s, lasts_s : array [shape=(T,), s]
        The frame's own time, the time at which it is shown, and for how long.
    slowed : array [shape=(T,)]
        How many times slower than life.
    """

    clip_s: FloatArray
    shown_s: FloatArray
    lasts_s: FloatArray
    slowed: FloatArray

    @property
    def duration_s(self) -> float:
        """Length of the annotated clip, s."""
        return float(self.shown_s[-1] + self.lasts_s[-1])

    def shown_at(self, clip_s: float) -> float:
        """Return the annotated clip's time for a time of the original clip, s."""
        return float(np.interp(clip_s, self.clip_s, self.shown_s))


def slow_windows(review: Review) -> list[tuple[float, float]]:
    """Return the parts of the clip that are slowed: start and end, s."""
    strokes, first = review.strokes, review.findings.first
    if not strokes.count:
        return []
    i = stroke_to_show(review)
    window = window_s(strokes, i)
    front = front_of(strokes, i)
    parts = [
        (front[0] - window, front[1] + window),
        (float(strokes.release_s[i]) - window, float(strokes.release_s[i]) + window),
    ]
    if first is not None and np.isfinite(first.show_at_s):
        parts.append((first.show_at_s - window, first.show_at_s + window))
    return parts


def timing(review: Review) -> Timing:
    """Work out when each frame of the annotated clip is shown."""
    t_s = review.motion.t_s
    slowed = np.ones(len(t_s))
    for start, end in slow_windows(review):
        slowed[(t_s >= start) & (t_s <= end)] = SLOWER
    steps = np.diff(t_s)
    last = float(np.median(steps)) if len(steps) else 1 / 30
    lasts = np.append(steps, last) * slowed
    shown = np.concatenate([[0.0], np.cumsum(lasts[:-1])])
    return Timing(clip_s=t_s, shown_s=shown, lasts_s=lasts, slowed=slowed)
