"""Values between frames: a local polynomial in time, kept as one sparse matrix.

A frame is one noisy look at a smooth movement. Around any instant a cubic is fitted to the frames
within ± `half_window_s`, near ones counting more, and read at that instant. Being linear in the
data, the fit is a matrix; applying the same matrix to noise tells what the noise does to the
result. The window is in seconds, so the frame rate, dropped frames and uneven times only change how
many frames take part.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import BoolArray, FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

#: Nothing is read across a longer gap between measured frames, s.
MAX_GAP_S = 0.17

#: Fewest frames a cubic is fitted to; with fewer the window is widened once.
_LEAST_FRAMES = 6
_WIDEN = 1.7
#: Instants worked on at once: bounds the memory.
_CHUNK = 4_000


def even_grid(t_s: FloatArray, step_s: float) -> FloatArray:
    """Return even times [shape=(M,), s] from the first to the last of `t_s`."""
    return np.arange(t_s[0], t_s[-1] + 1e-9, step_s)


def smoothing_matrix(
    t_s: FloatArray, measured: BoolArray, grid_s: FloatArray, half_window_s: FloatArray
) -> csr_array:
    """Return the local-fit matrix [shape=(M, T)] from frames to `grid_s`.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    measured : array [shape=(T,)] of bool
        Frames that hold a value; the others get no weight.
    grid_s, half_window_s : array [shape=(M,)]
        Times at which values are wanted, and the half-window at each, s.

    Returns
    -------
    csr_array [shape=(M, T)]
        Rows sum to 1; a row is empty where the instant is not covered: outside the measured
        frames, or in a gap longer than ``MAX_GAP_S``.

    Notes
    -----
    Weights are tricube, (1 − |u|³)³, as in locally weighted regression (Cleveland WS, J Am Stat
    Assoc 1979;74:829; from memory).
    """
    from scipy.sparse import csr_array  # takes a while to load, and not all who read curves need it

    index = np.flatnonzero(measured)
    shape = (len(grid_s), len(t_s))
    if len(index) < 2:
        return csr_array(shape)
    seen = t_s[index]
    in_row = np.zeros(len(grid_s), np.int32)
    cols, values = [], []
    for start in range(0, len(grid_s), _CHUNK):
        part = np.arange(start, min(start + _CHUNK, len(grid_s)))
        part = part[_covered(seen, grid_s[part])]
        if len(part) == 0:
            continue
        weights, columns = _fit_rows(seen, grid_s[part], half_window_s[part])
        used = weights != 0
        in_row[part] = used.sum(axis=1)
        # Short numbers: of a long clip the places take as much room as the weights.
        cols.append(index[columns[used]].astype(np.int32))
        values.append(weights[used])
    if not cols:
        return csr_array(shape)
    ends = np.cumsum(in_row, dtype=np.int32)
    starts = np.concatenate([np.zeros(1, np.int32), ends])
    return csr_array((np.concatenate(values), np.concatenate(cols), starts), shape=shape)


def apply(matrix: csr_array, values: FloatArray) -> FloatArray:
    """Return `matrix` @ `values` [shape=(M,)] with NaN where the instant is not covered."""
    out: FloatArray = matrix @ np.nan_to_num(values)
    out[np.diff(matrix.indptr) == 0] = np.nan
    return out


def _covered(seen: FloatArray, grid: FloatArray) -> BoolArray:
    """Tell which grid points lie between frames that are near enough to each other."""
    after = np.searchsorted(seen, grid, side="right")
    inside = (after > 0) & ((after < len(seen)) | (grid <= seen[-1]))
    before_s = seen[np.clip(after - 1, 0, len(seen) - 1)]
    after_s = seen[np.clip(after, 0, len(seen) - 1)]
    covered: BoolArray = inside & (after_s - before_s <= MAX_GAP_S)
    return covered


def _fit_rows(seen: FloatArray, at: FloatArray, half: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return fit weights and their columns [shape=(n, W)]: one local polynomial a row."""
    count = np.searchsorted(seen, at + half) - np.searchsorted(seen, at - half)
    half = np.where(count < _LEAST_FRAMES, half * _WIDEN, half)
    low = np.searchsorted(seen, at - half, side="right")
    width = int(np.max(np.searchsorted(seen, at + half) - low, initial=1))
    columns = np.minimum(low[:, None] + np.arange(width), len(seen) - 1)
    u = (seen[columns] - at[:, None]) / half[:, None]
    u[low[:, None] + np.arange(width) >= len(seen)] = 2.0
    near = np.clip(1.0 - np.abs(u * u * u), 0.0, None)
    w = near * near * near
    count = np.sum(w > 0, axis=1)
    sides = np.minimum(np.sum((w > 0) & (u < 0), axis=1), np.sum((w > 0) & (u > 0), axis=1))
    degree = np.where(count >= _LEAST_FRAMES - 1, 3, np.where(count >= 3, 1, 0))
    degree = np.where((degree == 3) & (sides < 2), 2, degree)

    moments = np.empty((len(at), 7))
    term = w.copy()
    for k in range(7):
        moments[:, k] = term.sum(axis=1)
        term *= u
    orders = np.arange(4)
    normal = moments[:, orders[:, None] + orders]
    unused = orders > degree[:, None]  # terms above the degree are held at 0
    normal[unused[:, :, None] | unused[:, None, :]] = 0.0
    normal += np.eye(4) * np.where(unused, 1.0, 1e-9)[:, None, :]
    first = np.zeros((len(at), 4, 1))
    first[:, 0] = 1.0
    c = np.linalg.solve(normal, first)
    weights = w * (c[:, 0] + u * (c[:, 1] + u * (c[:, 2] + u * c[:, 3])))
    total = weights.sum(axis=1, keepdims=True)
    return weights / np.where(total == 0, 1.0, total), columns
