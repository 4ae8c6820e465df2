"""Which landmark model looks at which frame.

What the models get wrong lasts: a hip drawn into the thigh stays there for many frames, and a
second look a thirtieth of a second later errs alike. On rendered clips at 25 and 30 frames a second
all angles, catches and releases stay where they were, within what they scatter, when the models
take turns, each with the say of all frames that its look stands for
(tests/accuracy/angles_bench.py). With half as many looks every angle is a tenth of a degree worse;
so of the 50 or 60 frames of quicker clips only as many are looked at. Where somebody else is in the
way all are, and where a model sees somebody else the other is asked too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray

#: They take turns from about this rate on, frames a second; 24 is the slowest that phones film at.
_LEAST_RATE = 23.0
#: About how many looks a second are enough on easy frames.
_LOOKS_PER_S = 30.0


@dataclass(frozen=True)
class Turns:
    """Frames that each model is asked about, array [shape=(T,)] of bool each."""

    thunder: BoolArray
    landmarker: BoolArray


def whose_turn(t_s: FloatArray, difficult: BoolArray, *, closely: bool = False) -> Turns:
    """Let the two models take turns.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times of the frames, s.
    difficult : array [shape=(T,)] of bool
        Frames that one of them looks at in any case; of the others every second one where there are
        50 or 60 a second.
    closely : bool
        Have both look at every frame, as at those of a slow clip.
    """
    rate = 1.0 / float(np.median(np.diff(t_s))) if len(t_s) > 1 else 0.0
    if closely or rate < _LEAST_RATE:
        every = np.ones(len(t_s), bool)
        return Turns(thunder=every, landmarker=every.copy())
    looked = difficult | (np.arange(len(t_s)) % max(round(rate / _LOOKS_PER_S), 1) == 0)
    first = np.cumsum(looked) % 2 == 1
    return Turns(thunder=looked & first, landmarker=looked & ~first)
