"""Which way limbs point: as fitted on the whole, turning as their own picture shows.

Fitted elbows and knees wander by some degrees within a third of a second, as the landmarks do that
they come from. A limb's picture tells its turn from frame to frame far better, and nothing of where
it points. So a limb goes along with its picture for a while, and in the long run with the fit,
turned as its look tells (:mod:`limb_looks`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.bends import limbs_bend_deg
from analysis.motion.long_run import joined
from analysis.pose.track import LIMBS, Facing


@dataclass(frozen=True)
class _Belief:
    """How a limb's picture is believed.

    Within `long_run_s` the limb follows it, over longer times the fit. Where both differ by more
    than `most_deg` within ``_WINDOW_S``, the picture is of something else: the room behind, the
    other limb, a sleeve that slides.
    """

    long_run_s: float
    most_deg: float


#: Shirt and trunk hide the upper ends of these two, and landmarks wander most at the arms. All
#: chosen on rendered clips of known truth.
_BELIEVED = {
    "upper_arm": _Belief(0.3, 8.0),
    "forearm": _Belief(0.5, 8.0),
    "thigh": _Belief(0.3, 5.0),
    "shank": _Belief(0.5, 5.0),
}
_WINDOW_S = 0.3
#: A step that differs from the fit's own by more than this, and by more than this share of it, is
#: of something else too.
_OTHERWISE_DEG, _OTHERWISE_SHARE = 2.5, 0.5
#: Where the picture tells nothing, the fit's own turn counts this share of the picture's.
_FIT_INSTEAD = 0.2
#: A leg folded more than this, degrees at the knee, is behind arms and belly.
_FOLDED_DEG = 90.0
_LEG = [list(LIMBS).index(name) for name in ("thigh", "shank")]


def turned_further_deg(
    t_s: FloatArray, ends: FloatArray, ends_px: FloatArray, turned_deg: FloatArray
) -> FloatArray:
    """Return how much further than fitted each limb points as its picture turns.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    ends : array [shape=(T, N, 2, 2)]
        Both fitted ends of each of ``LIMBS`` in the athlete's frame, px, none of them NaN.
    ends_px : array [shape=(T, N, 2, 2)]
        The same in the picture, px, y down.
    turned_deg : array [shape=(T, N)]
        How far each turned since the frame before in the picture, + clockwise; NaN where nobody
        knows.

    Returns
    -------
    array [shape=(T, N)]
        Degrees, + clockwise in the picture; about 0 in the long run, and where the picture tells
        nothing for long.
    """
    by_fit_deg = np.diff(np.unwrap(_angle_deg(_way(ends_px)), axis=0, period=360.0), axis=0)
    seen_deg = turned_deg[1:].copy()
    folded = limbs_bend_deg(ends)["leg"][1:, None] < _FOLDED_DEG
    seen_deg[:, _LEG] = np.where(folded, np.nan, seen_deg[:, _LEG])
    return np.column_stack(
        [
            _further_deg(t_s, by_fit_deg[:, k], seen_deg[:, k], _BELIEVED[name])
            for k, name in enumerate(LIMBS)
        ]
    )


def turned_by(ends_px: FloatArray, deg: FloatArray) -> FloatArray:
    """Return limbs' ends in the picture [shape=(T, N, 2, 2)] after they turned about their middles.

    By degrees [shape=(T, N)], + clockwise.
    """
    middle, half = ends_px.mean(axis=2), _way(ends_px) / 2.0
    cos, sin = np.cos(np.radians(deg))[..., None], np.sin(np.radians(deg))[..., None]
    half = cos * half + sin * np.stack([-half[..., 1], half[..., 0]], axis=-1)
    return np.stack([middle - half, middle + half], axis=2)


def ways_of(ends: FloatArray, further_deg: FloatArray, facing: Facing) -> FloatArray:
    """Return which way segments point in the athlete's frame.

    Parameters
    ----------
    ends : array [shape=(T, S, 2, 2)]
        Both fitted ends of each in that frame, px.
    further_deg : array [shape=(T, S)]
        By how much they are to be turned from there, degrees, + clockwise in the picture.
    facing : "left" or "right"

    Returns
    -------
    array [shape=(T, S, 2)]
        Unit vectors from the first end to the second; NaN where `further_deg` is.
    """
    # Clockwise in the picture is against the sense of angles for who faces right, and with it for
    # who faces left, whose x is turned round.
    sense = -1.0 if facing == "right" else 1.0
    angle = np.radians(_angle_deg(_way(ends)) + sense * further_deg)
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def _way(ends: FloatArray) -> FloatArray:
    return np.asarray(ends[:, :, 1] - ends[:, :, 0])


def _angle_deg(way: FloatArray) -> FloatArray:
    return np.asarray(np.degrees(np.arctan2(way[..., 1], way[..., 0])))


def _further_deg(
    t_s: FloatArray, by_fit: FloatArray, seen: FloatArray, believed: _Belief
) -> FloatArray:
    """Return how much further than fitted a limb points [shape=(T,), deg].

    From how far it turns from frame to frame [shape=(T − 1,), deg] by the fit, and as seen.
    """
    more = seen - by_fit
    with np.errstate(invalid="ignore"):
        told = np.abs(more) < np.maximum(_OTHERWISE_DEG, _OTHERWISE_SHARE * np.abs(by_fit))
    told &= np.abs(_within(t_s, np.where(told, more, 0.0))) < believed.most_deg
    steps, weight = np.where(told, more, 0.0), np.where(told, 1.0, _FIT_INSTEAD)
    return joined(t_s, np.zeros(len(t_s)), steps, weight, believed.long_run_s)


def _within(t_s: FloatArray, steps: FloatArray) -> FloatArray:
    """Return the sum of steps within the window about each [shape=(T − 1,)]."""
    summed = np.concatenate([[0.0], np.cumsum(steps)])
    middle = (t_s[1:] + t_s[:-1]) / 2.0
    first = np.searchsorted(t_s, middle - _WINDOW_S / 2.0)
    last = np.minimum(np.searchsorted(t_s, middle + _WINDOW_S / 2.0), len(steps))
    return np.asarray(summed[last] - summed[first])
