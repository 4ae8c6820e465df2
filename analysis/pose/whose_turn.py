"""Which landmark model looks at which frame.

What the models get wrong lasts: a hip drawn into the thigh stays there for many frames, and a
second look a thirtieth of a second later errs alike. On rendered clips at 30 frames a second, all
angles, catches and releases stay where they were, within what they scatter, when the models take
turns, each at half the rate with twice the say (tests/accuracy/angles_bench.py). Where somebody
else is in the way, both look at every frame: there a look may be lost altogether.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray

#: They take turns from about this rate on, frames a second; 24 is the slowest that phones film at.
_LEAST_RATE = 23.0


@dataclass(frozen=True)
class Turns:
    """Frames that each model is asked about, array [shape=(T,)] of bool each."""

    thunder: BoolArray
    landmarker: BoolArray


def whose_turn(t_s: FloatArray, difficult: BoolArray) -> Turns:
    """Let the two models take turns.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times of the frames, s.
    difficult : array [shape=(T,)] of bool
        Frames that both models look at.

    Returns
    -------
    Turns
        Every frame is looked at by one model at least; of a slow clip, by both.
    """
    both = difficult.copy()
    if len(t_s) < 2 or float(np.median(np.diff(t_s))) > 1.0 / _LEAST_RATE:
        both[:] = True
    even = np.arange(len(t_s)) % 2 == 0
    return Turns(thunder=both | even, landmarker=both | ~even)
