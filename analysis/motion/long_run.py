"""A series that keeps to given steps for a while and to given places in the long run.

What is found anew in every frame is right on the whole and wanders; what is followed from frame to
frame is right for a while and drifts. Together they are right in both.
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray


def joined(
    t_s: FloatArray, place: FloatArray, steps: FloatArray, weight: FloatArray, long_run_s: float
) -> FloatArray:
    """Return the row of values nearest to places and steps [shape=(T,)], least squares.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    place : array [shape=(T,)]
        Found anew in every frame; NaN stays NaN.
    steps : array [shape=(T − 1,)]
        By how much it changed since the frame before, in the same unit; NaN where nobody knows.
    weight : array [shape=(T − 1,)]
        How far each step is believed, 1 in full.
    long_run_s : float
        Steps count `weight` × (this ÷ the usual time between frames)² against a place's 1, s.
    """
    from scipy.linalg import solveh_banded

    usual_s = float(np.median(np.diff(t_s)))
    seen = np.isfinite(place)
    both = seen[1:] & seen[:-1] & np.isfinite(steps)
    pull = np.where(both, weight, 0.0) * (long_run_s / usual_s) ** 2
    step = np.where(both, steps, 0.0)
    diagonal = seen + np.append(pull, 0.0) + np.insert(pull, 0, 0.0)
    right = np.where(seen, place, 0.0)
    right[1:] += pull * step
    right[:-1] -= pull * step
    bands = np.vstack([np.insert(-pull, 0, 0.0), np.where(diagonal > 0, diagonal, 1.0)])
    path: FloatArray = solveh_banded(bands, right)
    return np.where(seen, path, np.nan)
