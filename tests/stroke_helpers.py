"""Short ways for the tests of the stroke stage."""

from __future__ import annotations

import numpy as np

from analysis.motion.motion import Motion
from analysis.stroke.events import Events
from analysis.stroke.measures import MEASURES
from analysis.stroke.reading import find_rowing, read_measures
from analysis.stroke.view import body_of
from tests.made_motion import NEUTRAL_RAW_DEG


def read_motion(motion: Motion) -> tuple[Events, dict[str, np.ndarray]]:
    """Return events and measures [each shape=(N,)], without their uncertainty: quick."""
    neutral = motion.neutral_rounding_deg
    body = body_of(motion, neutral if np.isfinite(neutral) else NEUTRAL_RAW_DEG, 1.75)
    signals, rowing = find_rowing(motion, body)
    if not len(rowing.strokes):
        empty = np.array([])
        return Events(*[empty] * 8), {m.name: empty for m in MEASURES}
    events, values, _ = read_measures(signals.curves, rowing)
    return events, {m.name: values[:, i] for i, m in enumerate(MEASURES)}
