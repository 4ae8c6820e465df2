"""Which landmark model looks at which frame.

What the models get wrong lasts: a hip drawn into the thigh stays there for many frames, and a
second look a thirtieth of a second later errs alike. On rendered clips at 30 frames a second, all
angles, catches and releases stay where they were, within what they scatter, when the models take
turns, each with the say of all frames that its look stands for (tests/accuracy/angles_bench.py).
Where a model sees somebody else the other is asked too (`look.Looker`). Looks at every second frame
only were tried, at 30 and 60 frames a second: angles become a tenth of a degree worse.
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


def whose_turn(t_s: FloatArray, *, closely: bool = False) -> Turns:
    """Let the two models take turns.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times of the frames, s. Of a slow clip both look at every frame.
    closely : bool
        Have both look at every frame in any case.
    """
    even = np.arange(len(t_s)) % 2 == 0
    slow = len(t_s) < 2 or float(np.median(np.diff(t_s))) > 1.0 / _LEAST_RATE
    if closely or slow:
        even[:] = True
        return Turns(thunder=even, landmarker=even.copy())
    return Turns(thunder=even, landmarker=~even)
