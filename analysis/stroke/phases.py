"""Which part of which stroke each frame shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray, IntArray
from analysis.stroke.events import Events


def phase_of_frames(t_s: FloatArray, events: Events) -> tuple[NDArray[np.str_], IntArray]:
    """Return phase and stroke number of every frame.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    events : Events

    Returns
    -------
    phase : array [shape=(T,)] of str
        ``drive`` from catch to release, ``release`` while the handle dwells at the body,
        ``recovery`` until it comes to the front, ``catch`` while it dwells there before the next
        drive; ``""`` outside every whole stroke.
    stroke : array [shape=(T,)] of int
        1…N; 0 outside.
    """
    phase = np.full(len(t_s), "", dtype="<U8")
    stroke = np.zeros(len(t_s), dtype=np.int64)
    for k in range(events.count):
        edges = (
            ("drive", events.catch_s[k], events.release_s[k]),
            ("release", events.release_s[k], events.away_s[k]),
            ("recovery", events.away_s[k], events.arrival_s[k]),
            ("catch", events.arrival_s[k], events.next_catch_s[k]),
        )
        for name, start, end in edges:
            now = (t_s >= start) & (t_s < end)
            phase[now] = name
            stroke[now] = k + 1
    return phase, stroke
