"""Which landmark model looks at which frame.

What the models get wrong lasts: a hip drawn into the thigh stays there for many frames, and a
second look a thirtieth of a second later errs alike. On rendered clips at 30 frames a second, all
angles, catches and releases stay where they were, within what they scatter, when the models take
turns, each with the say of all frames that its look stands for (tests/accuracy/angles_bench.py).
Where a model sees somebody else the other is asked too (`look.Looker`); near full compression with
somebody else in the way both are asked. Looks at every second frame only were tried, at 30 and 60
frames a second: angles become a tenth to a third of a degree worse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.pose.linking import PersonTrack
from analysis.pose.people import ANKLES, HIPS

#: They take turns from about this rate on, frames a second; 24 is the slowest that phones film at.
_LEAST_RATE = 23.0
#: Legs are folded where the hip is nearer to the foot than this share of the way it goes.
_FOLDED = 0.35


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
        Times of the frames, s. Of a slow clip both look at every frame.
    difficult : array [shape=(T,)] of bool
        Frames that both look at in any case.
    """
    even = np.arange(len(t_s)) % 2 == 0
    slow = len(t_s) < 2 or float(np.median(np.diff(t_s))) > 1.0 / _LEAST_RATE
    both = difficult | slow
    return Turns(thunder=both | even, landmarker=both | ~even)


def folded(chosen: PersonTrack, t_s: FloatArray) -> BoolArray:
    """Return where the legs are near full compression [shape=(T,)], as the first pass saw them."""
    seen = np.flatnonzero(chosen.seen)
    hip, ankle = (chosen.xy_px[seen][:, at].mean(axis=1) for at in (HIPS, ANKLES))
    apart = np.linalg.norm(hip - ankle, axis=1)
    near, far = np.percentile(apart, [5, 95])
    return np.asarray(np.interp(t_s, chosen.t_s[seen], apart) < near + _FOLDED * (far - near))
