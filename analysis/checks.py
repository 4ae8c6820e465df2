"""Small checks of arrays where they enter a stage: expected and got."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


def require_shape(name: str, array: NDArray[Any], shape: tuple[int | None, ...]) -> None:
    """Raise ``ValueError`` unless `array` has `shape` (``None`` = any length)."""
    fits = array.ndim == len(shape) and all(
        want is None or have == want for have, want in zip(array.shape, shape, strict=True)
    )
    if not fits:
        wanted = "(" + ", ".join("any" if n is None else str(n) for n in shape) + ")"
        raise ValueError(f"{name}: expected shape {wanted}, got {array.shape}")


def require_increasing(name: str, t_s: FloatArray) -> None:
    """Raise ``ValueError`` unless `t_s` [shape=(T,), s] is finite and strictly increasing."""
    require_shape(name, t_s, (None,))
    if not np.all(np.isfinite(t_s)):
        raise ValueError(f"{name}: expected finite times, got {np.sum(~np.isfinite(t_s))} missing")
    if t_s.size > 1 and not np.all(np.diff(t_s) > 0):
        at = int(np.argmin(np.diff(t_s)))
        raise ValueError(f"{name}: expected increasing times, got {t_s[at]} then {t_s[at + 1]}")
