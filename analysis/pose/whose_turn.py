"""Which landmark model looks at which frame.

What the models get wrong lasts: a hip drawn into the thigh stays there for many frames, and a
second look a thirtieth of a second later errs alike. On rendered clips at 30 frames a second, all
angles, catches and releases stay where they were, within what they scatter, when the models take
turns, each with the say of all frames that its look stands for (tests/accuracy/angles_bench.py).
Where a model sees somebody else the other is asked too (`look.Looker`); near full compression with
somebody else in the way both are asked.

While the legs are bent, arms are straight and trunks still as a rule, and the fit knows the slide:
there, with nobody in the way, one look 15 times a second does for the legs, and costs trunk and
elbow little. Everywhere else they become up to half a degree worse by it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.pose.linking import PersonTrack
from analysis.pose.people import ANKLES, HIPS

#: They take turns from about this rate on, frames a second; 24 is the slowest that phones film at.
_LEAST_RATE = 23.0
#: Looks a second, about, of both models together at easy frames.
_EASY_RATE = 15.0
#: Legs are folded where the hip is nearer to the foot than this share of the way it goes.
_FOLDED = 0.35
#: And bent where it is nearer than this share of the furthest: the knee at 120° or less.
_BENT = 0.87


@dataclass(frozen=True)
class Turns:
    """Frames that each model is asked about, array [shape=(T,)] of bool each."""

    thunder: BoolArray
    landmarker: BoolArray


def whose_turn(t_s: FloatArray, difficult: BoolArray, easy: BoolArray) -> Turns:
    """Let the two models take turns.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times of the frames, s. Of a slow clip both look at every frame.
    difficult : array [shape=(T,)] of bool
        Frames that both look at in any case.
    easy : array [shape=(T,)] of bool
        Frames of which only some are looked at.
    """
    gap_s = float(np.median(np.diff(t_s))) if len(t_s) > 1 else np.inf
    both = difficult | (gap_s > 1.0 / _LEAST_RATE)
    count = np.arange(len(t_s))
    every = np.where(easy, max(2, round(1.0 / (gap_s * _EASY_RATE))), 1)
    looked, even = count % every == 0, count // every % 2 == 0
    return Turns(thunder=both | (looked & even), landmarker=both | (looked & ~even))


def folded(chosen: PersonTrack, t_s: FloatArray) -> BoolArray:
    """Return where the legs are near full compression [shape=(T,)], as the first pass saw them."""
    near, apart, far = _hip_to_foot_px(chosen, t_s)
    return np.asarray(apart < near + _FOLDED * (far - near))


def bent(chosen: PersonTrack, t_s: FloatArray) -> BoolArray:
    """Return where the legs are bent [shape=(T,)], as the first pass saw them.

    Nowhere in a drill without the slide.
    """
    _, apart, far = _hip_to_foot_px(chosen, t_s)
    return np.asarray(apart < _BENT * far)


def _hip_to_foot_px(chosen: PersonTrack, t_s: FloatArray) -> tuple[float, FloatArray, float]:
    """Return how far hips and feet are apart: at the nearest, at times [shape=(T,)], furthest."""
    seen = np.flatnonzero(chosen.seen)
    hip, ankle = (chosen.xy_px[seen][:, at].mean(axis=1) for at in (HIPS, ANKLES))
    apart = np.linalg.norm(hip - ankle, axis=1)
    near, far = np.percentile(apart, [5, 95])
    return float(near), np.interp(t_s, chosen.t_s[seen], apart), float(far)
