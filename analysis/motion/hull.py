"""Where the boat is in the picture, when its camera moves along with it.

The feet are fixed to the hull. The background says how the camera moved, but not how the boat did:
that is read off the ankles, slowly. Well-seen feet tell even how the boat surges within a stroke.
But feet and lower legs are often hidden in the hull, and then what the ankles' points do is mostly
noise: they are averaged over a longer time, and the surge is left in.
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.filters import smooth

#: Well-seen ankles are followed up to this frequency against the background, Hz.
_SEEN_CUT_OFF_HZ = 1.0

#: Width of the window over which hidden ankles are averaged, s (SD of a Gaussian), and the short
#: one about which their noise is taken.
_HIDDEN_S, _SHORT_S = 1.5, 0.3

#: Noise of the ankles in trunk lengths up to which the feet count as seen, and from which as
#: hidden: up to 0.11 on rendered boats, above 0.2 on real ones whose feet the hull hides.
_SEEN, _HIDDEN = 0.09, 0.13

#: Points further from the path than this many times their median are left out.
_STRAY = 3.0

#: Distance in time of the instants at which the averages are taken, s.
_STEP_S = 0.1


def hull_path(
    t_s: FloatArray, ankle_px: FloatArray, shift_px: FloatArray, trunk_px: float
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

    Returns
    -------
    array [shape=(T, 2)]
        px of the picture; no NaN.
    """
    still = ankle_px - shift_px
    away = np.linalg.norm(still - _average(t_s, still, _SHORT_S), axis=1)
    noise = float(np.sqrt(np.nanmean(away**2) / 2.0)) / trunk_px
    hidden = float(np.clip((noise - _SEEN) / (_HIDDEN - _SEEN), 0.0, 1.0))
    path = shift_px.copy()
    if hidden < 1.0:
        path += (1.0 - hidden) * _followed(t_s, still)
    if hidden > 0.0:
        path += hidden * _average(t_s, still, _HIDDEN_S)
    return path


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
