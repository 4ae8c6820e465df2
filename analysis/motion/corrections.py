"""What each landmark model is known to get wrong, taken out.

Landmark models place joints where people annotate pictures, and miss in the same way whenever the
body is in the same position: the hip drifts into the thigh at full compression, the shoulder lies
too high on a leaning trunk. Each joint's offset is written as a sum of vectors that turn with the
segments meeting there, and of some that grow only with compression, with layback and with the bend
of the elbow. The few numbers are learned from rendered clips of known truth
(``tests/accuracy/learn.py``), because no mechanics says them. They hold for somebody who rows: a
body that sits in no way seen in learning is left as the models see it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.angles import included_deg, lean_deg
from analysis.motion.motion import JOINTS

#: Segments whose turning moves a joint's offset: pairs of joints, lower end first.
TURNING: dict[str, tuple[tuple[str, str], ...]] = {
    "ankle": (("ankle", "knee"),),
    "knee": (("ankle", "knee"), ("hip", "knee")),
    "hip": (("hip", "knee"), ("hip", "shoulder")),
    "shoulder": (("hip", "shoulder"), ("elbow", "shoulder")),
    "elbow": (("elbow", "shoulder"), ("elbow", "wrist")),
    "wrist": (("elbow", "wrist"),),
}

#: Compression counts below this knee angle, layback behind this lean, degrees.
_COMPRESSED_KNEE_DEG, _LAID_BACK_DEG = 90.0, 0.0

#: A limb's joints are seen otherwise the further it is bent below this, degrees.
_BENT_KNEE_DEG, _BENT_ELBOW_DEG = 120.0, 150.0
_ARM, _LEG = ("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle")

#: No correction moves a joint further than this, trunk lengths: a small error is better than a
#: large guess.
_MOST = 0.12

#: A segment that leans further than the first outside what rowers were seen to do begins to take
#: the correction away, and at the second has taken all of it, degrees. Faults go further than what
#: was learned from, standing and walking much further.
_OUTSIDE_DEG = (15.0, 35.0)

#: Segment → the leans that rowers were seen to have, lowest and highest, degrees.
Postures = Mapping[tuple[str, str], tuple[float, float]]


def offset_terms(place: FloatArray, joint: str) -> FloatArray:
    """Return the vectors of which a joint's offset is the weighted sum.

    Parameters
    ----------
    place : array [shape=(T, J, 2)]
        One model's joints in the athlete's frame (x to the feet, y up), any unit.
    joint : str

    Returns
    -------
    array [shape=(T, 2, n)]
        Two fixed vectors, two that turn with each segment meeting at the joint, two each that
        grow with compression and with layback, and two for each of those segments that grow
        with the bend of the joint's own limb; no unit.
    """
    at = {name: place[:, index] for index, name in enumerate(JOINTS)}
    ones = np.ones(len(place))
    terms = _pair(0.0 * ones)
    leans = [np.radians(lean_deg(at[low], at[high])) for low, high in TURNING[joint]]
    for lean in leans:
        terms += _pair(lean)
    knee_deg = included_deg(*(at[name] for name in _LEG))
    compressed = np.clip(_COMPRESSED_KNEE_DEG - knee_deg, 0, None)
    laid_back = np.clip(_LAID_BACK_DEG - lean_deg(at["hip"], at["shoulder"]), 0, None)
    for amount in (compressed / 30.0, laid_back / 30.0):
        terms += [vector * np.clip(amount, 0, 1.5)[:, None] for vector in _pair(leans[-1])]
    if joint in _ARM:
        bent = _BENT_ELBOW_DEG - included_deg(*(at[name] for name in _ARM))
        terms += _growing(leans, bent / 60.0)
    if joint in _LEG:
        terms += _growing(leans, (_BENT_KNEE_DEG - knee_deg) / 60.0)
    return np.stack(terms, axis=-1)


def like_rowing(place: FloatArray, postures: Postures) -> FloatArray:
    """Return how far a body sits as rowers were seen to, from 0 to 1 [shape=(T,)].

    Parameters
    ----------
    place : array [shape=(T, J, 2)]
        Joints in the athlete's frame; a segment with NaN has no say.
    postures : mapping of (joint, joint) to (lowest, highest)
    """
    share = np.ones(len(place))
    for (low, high), (least, most) in postures.items():
        lean = lean_deg(place[:, JOINTS.index(low)], place[:, JOINTS.index(high)])
        outside = np.maximum(least - lean, lean - most)
        share *= np.interp(np.nan_to_num(outside, nan=0.0), _OUTSIDE_DEG, (1.0, 0.0))
    return share


def corrected(
    place: FloatArray,
    model: str,
    unit: float,
    offsets: Mapping[tuple[str, str], FloatArray],
    postures: Postures,
) -> FloatArray:
    """Return one model's joints with its known errors taken out.

    Parameters
    ----------
    place : array [shape=(T, J, 2)]
        The model's joints in the athlete's frame; NaN stays NaN.
    model : str
    unit : float
        Length of the trunk in the unit of `place`.
    offsets : mapping of (model, joint) to array
        Weights of :func:`offset_terms` (:class:`analysis.motion.learned.Learned`).
    postures : mapping of (joint, joint) to (lowest, highest)
        Where they hold; see :func:`like_rowing`.

    Returns
    -------
    array [shape=(T, J, 2)]
    """
    out = place.copy()
    holds = like_rowing(place, postures)[:, None]
    for index, joint in enumerate(JOINTS):
        if (model, joint) not in offsets:
            continue
        offset = offset_terms(place, joint) @ offsets[model, joint]
        length = np.linalg.norm(offset, axis=1, keepdims=True)
        offset *= np.minimum(1.0, _MOST / np.maximum(length, 1e-9))
        out[:, index] += unit * np.nan_to_num(offset) * holds
    return out


def _growing(leans_rad: list[FloatArray], amount: FloatArray) -> list[FloatArray]:
    """Return the vectors of several leans, grown by an amount that counts from 0 to 1.5."""
    grown = np.clip(amount, 0, 1.5)[:, None]
    return [vector * grown for lean in leans_rad for vector in _pair(lean)]


def _pair(lean_rad: FloatArray) -> list[FloatArray]:
    """Two unit vectors, along and across a segment of that lean, each [shape=(T, 2)]."""
    along = np.stack([np.sin(lean_rad), np.cos(lean_rad)], axis=1)
    across = np.stack([np.cos(lean_rad), -np.sin(lean_rad)], axis=1)
    return [along, across]
