"""Few of many, spread evenly: where more tell no more, and take longer."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Kind = TypeVar("Kind", bound=np.generic)


def at_most(most: int, rows: NDArray[Kind]) -> NDArray[Kind]:
    """Return every n-th of rows [shape=(N, ...)], so many or fewer; all of few."""
    return rows[:: max(1, -(-len(rows) // most))]
