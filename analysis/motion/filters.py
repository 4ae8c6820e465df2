"""Zero-lag smoothing on the frames' own times, and bridging of short gaps."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from analysis.checks import BoolArray, FloatArray, require_increasing

#: Winter 2009 §2.2.4: a second filter pass narrows the band; divide the wanted cut-off by this.
TWO_PASS_FACTOR = float((np.sqrt(2.0) - 1.0) ** 0.25)

#: About what side-view keypoints need (residual analysis of Winter 2009 Table A.1: 2.9–7.3 Hz).
CUT_OFF_HZ = 6.0

#: Longest gap that is bridged, s.
LONGEST_GAP_S = 0.2


def bridge_gaps(
    t_s: FloatArray, values: FloatArray, longest_s: float = LONGEST_GAP_S
) -> tuple[FloatArray, BoolArray]:
    """Fill short gaps by straight lines in time.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times, s.
    values : array [shape=(T,)]
        NaN where missing.
    longest_s : float
        A gap is bridged when the time between the known frames on its two sides is at most this.

    Returns
    -------
    values : array [shape=(T,)]
        Still NaN in long gaps and outside the first and last known frame.
    filled : array [shape=(T,)] of bool
        True where a value was bridged.
    """
    known = np.flatnonzero(np.isfinite(values))
    filled = np.zeros(len(values), dtype=bool)
    out = values.copy()
    for before, after in pairwise(known):
        if after - before > 1 and t_s[after] - t_s[before] <= longest_s:
            gap = slice(before + 1, after)
            out[gap] = np.interp(t_s[gap], t_s[[before, after]], values[[before, after]])
            filled[gap] = True
    return out, filled


def long_gaps(t_s: FloatArray, seen: BoolArray, longest_s: float = LONGEST_GAP_S) -> BoolArray:
    """Return which frames lie in a gap too long to bridge [shape=(T,)].

    A gap counts from the last seen frame before it to the first one after; one at either end of
    the clip counts as long as the part of it in the clip.
    """
    out = np.zeros(len(seen), dtype=bool)
    for gap in runs(~seen):
        start = t_s[max(gap.start - 1, 0)]
        end = t_s[min(gap.stop, len(t_s) - 1)]
        out[gap] = end - start > longest_s
    return out


def smooth(t_s: FloatArray, values: FloatArray, cut_off_hz: float = CUT_OFF_HZ) -> FloatArray:
    """Smooth by a second-order Butterworth filter, forwards and backwards (no lag).

    The filter needs even steps: each gap-free run is resampled to its median step, filtered,
    and read back at the frames' own times. Runs shorter than 8 frames come back as they are.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times, s, strictly increasing.
    values : array [shape=(T,)]
        NaN splits the signal into runs and stays NaN.
    cut_off_hz : float
        Half-power frequency of the two passes together.

    Returns
    -------
    array [shape=(T,)]
    """
    require_increasing("t_s", t_s)
    out = values.copy()
    for run in runs(np.isfinite(values)):
        if run.stop - run.start >= 8:
            out[run] = _smooth_run(t_s[run], values[run], cut_off_hz)
    return out


def runs(keep: BoolArray) -> list[slice]:
    """Return the slices over which `keep` [shape=(T,)] is True without a break."""
    edges = np.diff(np.concatenate(([0], keep.astype(np.int8), [0])))
    return [
        slice(int(a), int(b))
        for a, b in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)
    ]


def _smooth_run(t_s: FloatArray, values: FloatArray, cut_off_hz: float) -> FloatArray:
    step = float(np.median(np.diff(t_s)))
    corner = cut_off_hz / TWO_PASS_FACTOR
    if corner >= 0.45 / step:  # the frames are too far apart for this cut-off to do anything
        return values
    even = np.linspace(t_s[0], t_s[-1], max(8, round((t_s[-1] - t_s[0]) / step) + 1))
    rate = 1.0 / (even[1] - even[0])
    pad = min(len(even) - 1, int(np.ceil(rate / corner)) * 3)
    filtered = _both_ways(np.interp(even, t_s, values), corner / rate, pad)
    return np.asarray(np.interp(t_s, even, filtered))


def _both_ways(values: FloatArray, corner: float, pad: int) -> FloatArray:
    """Filter forwards and backwards, after turning `pad` samples over at either end.

    What scipy.signal's ``sosfiltfilt`` gives for its ``butter(2, corner, fs=1)``
    (tests/motion/test_filters.py holds them together), without loading scipy.signal, which takes
    longer than the whole fit of a short clip: a recursive filter is a banded system of equations.
    """
    before = 2.0 * values[0] - values[pad:0:-1]
    after = 2.0 * values[-1] - values[-2 : -pad - 2 : -1]
    long = np.concatenate([before, values, after])
    # Butterworth by the bilinear transform, the corner warped so that it stays where it is.
    warped = np.tan(np.pi * corner)
    whole = 1.0 + np.sqrt(2.0) * warped + warped**2
    back = np.array([2.0 * (warped**2 - 1.0), 1.0 - np.sqrt(2.0) * warped + warped**2]) / whole
    bands = np.ones((3, len(long)))
    bands[1:] = back[:, None]
    from scipy.linalg import solve_banded  # takes a while to load; what is kept needs no filter

    for _ in range(2):
        start = long[0]  # as if it had been there for ever
        gone = np.concatenate([[0.0, 0.0], long - start])
        taken = (gone[2:] + 2.0 * gone[1:-1] + gone[:-2]) * (warped**2 / whole)
        long = (start + solve_banded((2, 0), bands, taken))[::-1]
    return np.asarray(long[pad : pad + len(values)])


def median_of_known(values: FloatArray) -> FloatArray:
    """Return the median over the first axis, NaN left out; NaN where all are.

    The same as NumPy's, which takes far longer for so few: this is asked once a frame.
    """
    ordered = np.sort(values, axis=0)  # NaN last
    count = np.isfinite(values).sum(axis=0)[None]
    lower, upper = (np.maximum(at, 0) for at in ((count - 1) // 2, count // 2))
    ends = [
        np.take_along_axis(ordered, np.minimum(at, len(ordered) - 1), axis=0)
        for at in (lower, upper)
    ]
    return np.asarray(ends[0][0] + ends[1][0]) / 2
