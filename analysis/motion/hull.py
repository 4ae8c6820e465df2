"""Where the boat is in the picture, when its camera moves along with it.

The feet are fixed to the hull. The background says how the camera moved, but not how the boat did:
that is read off the ankles. Well-seen feet tell even how the boat surges within a stroke. But feet
and lower legs are often hidden in the hull, and then what the ankles' points do is mostly noise;
nor does the background always tell how the camera moved, where water and far bank go at two speeds.
Hips and knees are seen still, and where the knee is, the foot cannot be far: a shank's length from
it, at its own height. And a camera that shakes, shakes the trunk too: where taking the background's
shift out of the trunk's way does not smooth it, the background does not tell of the camera.
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.filters import smooth
from analysis.pose.track import Facing

#: Well-seen ankles are followed up to this frequency against the background, Hz.
_SEEN_CUT_OFF_HZ = 1.0

#: Width of the window over which hidden feet are averaged, s (SD of a Gaussian): with legs to tell
#: of them and a doubtful background, and otherwise; and the one about which noise is taken.
_BY_LEGS_S, _HIDDEN_S, _SHORT_S = 0.2, 1.5, 0.3

#: How rough the trunk's way is with the background's shift taken out, over how rough without. Below
#: the first the background is good (0.71 in real footage); above the second it is misread (up to
#: 2.4 between water and bank), and the hands then seem to turn where they do not.
_GOOD, _MISREAD = 0.93, 1.1

#: How far feet in a boat are below the hips, in trunk lengths: legs of 1.7 trunk lengths (Drillis &
#: Contini 1966) that fall by 15° (rendered boats).
_FEET_BELOW = 0.45
#: An ankle further from where its leg ends, in trunk lengths, is a guess.
_GUESS = 0.35

#: Noise of the ankles in trunk lengths up to which the feet count as seen, and from which as
#: hidden: up to 0.11 on rendered boats, above 0.2 on real ones whose feet the hull hides.
_SEEN, _HIDDEN = 0.09, 0.13

#: Share of the time that the legs must be seen.
_MOSTLY = 0.5

#: Points further from the path than this many times their median are left out.
_STRAY = 3.0

#: Distance in time of the instants at which the averages are taken, s.
_STEP_S = 0.1


def hull_path(
    t_s: FloatArray,
    ankle_px: FloatArray,
    shift_px: FloatArray,
    trunk_px: float,
    leg_end_px: FloatArray | None = None,
    torso_px: FloatArray | None = None,
) -> FloatArray:
    """Return where the feet are fixed, frame by frame.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times, s.
    ankle_px : array [shape=(T, 2)]
        The ankles in the picture, px; NaN where not seen. Seen at least once.
    shift_px : array [shape=(T, 2)]
        Shift of the background since the first frame, px.
    trunk_px : float
        Length of the trunk, px.
    leg_end_px : array [shape=(T, 2)], optional
        Where hips and knees say that the feet are (:func:`legs_end`), px; NaN where not seen.
    torso_px : array [shape=(T, 2)], optional
        The trunk's place in the picture, px, by which the background's shift is judged.

    Returns
    -------
    array [shape=(T, 2)]
        px of the picture; no NaN.
    """
    doubt = 0.0
    if torso_px is not None:
        doubt = _roughness(t_s, torso_px - shift_px) / max(_roughness(t_s, torso_px), 1e-6)
    if doubt > _MISREAD:
        shift_px = np.zeros_like(shift_px)
    still = ankle_px - shift_px
    noise = _roughness(t_s, still) / trunk_px
    hidden = float(np.clip((noise - _SEEN) / (_HIDDEN - _SEEN), 0.0, 1.0))
    path = shift_px.copy()
    if hidden < 1.0:
        path += (1.0 - hidden) * _followed(t_s, still)
    if hidden > 0.0:
        width_s = _HIDDEN_S
        if leg_end_px is not None and np.isfinite(leg_end_px[:, 0]).mean() > _MOSTLY:
            still = _agreed(ankle_px, leg_end_px, trunk_px) - shift_px
            width_s = _HIDDEN_S if doubt < _GOOD else _BY_LEGS_S
        path += hidden * _average(t_s, still, width_s)
    return path


def legs_end(
    hip_px: FloatArray, knee_px: FloatArray, trunk_px: float, facing: Facing
) -> FloatArray:
    """Return where the feet must be, given hips and knees [shape=(T, 2), px].

    Parameters
    ----------
    hip_px, knee_px : array [shape=(T, 2)]
        In the picture, px; NaN where not seen, and so is what comes of them.
    trunk_px : float
    facing : "left" or "right"
        The side that the feet are on.

    Notes
    -----
    Thigh and shank are taken to be alike long (Drillis & Contini 1966: 0.245 and 0.246 of stature)
    and the longest thighs seen to be those that lie across the view.
    """
    reach = np.linalg.norm(knee_px - hip_px, axis=1)
    shank = float(np.nanpercentile(reach, 90)) if np.isfinite(reach).any() else np.nan
    foot_y = hip_px[:, 1] + _FEET_BELOW * trunk_px
    across = np.sqrt(np.clip(shank**2 - (foot_y - knee_px[:, 1]) ** 2, 0.0, None))
    ahead = across if facing == "right" else -across
    return np.stack([knee_px[:, 0] + ahead, foot_y], axis=1)


def _agreed(ankle_px: FloatArray, leg_end_px: FloatArray, trunk_px: float) -> FloatArray:
    """Mean of ankles and ends of the legs; of the ends alone where an ankle is far from them."""
    ends = leg_end_px + np.nan_to_num(np.nanmedian(ankle_px - leg_end_px, axis=0))
    far = ~(np.linalg.norm(ankle_px - ends, axis=1) < _GUESS * trunk_px)
    return np.where(far[:, None], ends, (ankle_px + ends) / 2.0)


def _roughness(t_s: FloatArray, px: FloatArray) -> float:
    """Quick departures from a smooth way, px (root mean square along one axis)."""
    away = np.linalg.norm(px - _average(t_s, px, _SHORT_S), axis=1)
    return float(np.sqrt(np.nanmean(away**2) / 2.0))


def _followed(t_s: FloatArray, px: FloatArray) -> FloatArray:
    """Low-pass, gaps bridged by straight lines."""
    out = np.empty_like(px)
    for axis in (0, 1):
        known = np.isfinite(px[:, axis])
        whole = np.interp(t_s, t_s[known], px[known, axis])
        out[:, axis] = smooth(t_s, whole, cut_off_hz=_SEEN_CUT_OFF_HZ)
    return out


def _average(t_s: FloatArray, px: FloatArray, width_s: float) -> FloatArray:
    """Fit straight lines that move along, with Gaussian weights; strays and NaN are left out."""
    known = np.isfinite(px).all(axis=1)
    path = np.empty_like(px)
    for _ in range(3):
        path = _moving_line(t_s, t_s[known], px[known], width_s)
        away = np.linalg.norm(px - path, axis=1)
        usual = float(np.nanmedian(away))
        if not usual > 0:
            break
        known = away <= _STRAY * usual  # False where NaN
    return path


def _moving_line(
    t_s: FloatArray, known_s: FloatArray, px: FloatArray, width_s: float
) -> FloatArray:
    at_s = np.append(np.arange(t_s[0], t_s[-1], _STEP_S), t_s[-1])
    first = np.searchsorted(known_s, at_s - 3.0 * width_s)
    last = np.searchsorted(known_s, at_s + 3.0 * width_s, side="right")
    fitted = np.empty((len(at_s), 2))
    for i, (a, b) in enumerate(zip(first, last, strict=True)):
        if b - a < 3:  # a long gap: the nearest that is known
            nearest = int(np.argmin(np.abs(known_s - at_s[i])))
            a, b = nearest, nearest + 1
        since = known_s[a:b] - at_s[i]
        weight = np.exp(-0.5 * (since / width_s) ** 2)
        if np.ptp(since) < width_s or weight.sum() < 1e-9:
            fitted[i] = np.average(px[a:b], axis=0, weights=np.maximum(weight, 1e-12))
            continue
        root = np.sqrt(weight)[:, None]
        terms = np.stack([np.ones(b - a), since / width_s], axis=1)
        fitted[i] = np.linalg.lstsq(terms * root, px[a:b] * root, rcond=None)[0][0]
    return np.stack([np.interp(t_s, at_s, fitted[:, axis]) for axis in (0, 1)], axis=1)
