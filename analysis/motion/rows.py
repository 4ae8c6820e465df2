"""The linearised problem of the fit: its unknowns, its rows, and the step that solves it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.linalg import solveh_banded

from analysis.checks import FloatArray, IntArray

#: Joints couple over at most three frames of twelve coordinates.
_BAND = 36


@dataclass(frozen=True)
class Unknowns:
    """Columns of the unknowns: six joints in every frame, then what holds for the whole clip.

    Of the clip are five segment lengths, height and slope of the seat's line, the ankle's resting
    place, and how deep each of `edges` lies under the skin.
    """

    frames: int
    edges: int = 0

    @property
    def joints(self) -> int:
        """How many belong to joints; those of the clip follow."""
        return self.frames * 12

    @property
    def count(self) -> int:
        """How many there are."""
        return self.joints + 9 + self.edges

    def joint(self, frames: IntArray, joint: int | IntArray, axis: int | IntArray) -> IntArray:
        """Columns of a joint's x (`axis` 0) or y in some frames."""
        return np.asarray((frames * 6 + joint) * 2 + axis)

    @property
    def lengths(self) -> slice:
        """Segment lengths."""
        return slice(self.joints, self.joints + 5)

    @property
    def line(self) -> slice:
        """Height of the seat's line, and its slope."""
        return slice(self.joints + 5, self.joints + 7)

    @property
    def rest(self) -> slice:
        """The ankle's resting x and y."""
        return slice(self.joints + 7, self.joints + 9)

    @property
    def depths(self) -> slice:
        """Depths under the skin."""
        return slice(self.joints + 9, self.count)


class Rows:
    """Collects rows of the linearised problem: residuals already divided by their spread."""

    def __init__(self, unknowns: Unknowns) -> None:
        self.unknowns = unknowns
        self.residuals: list[FloatArray] = []
        self.entries: list[tuple[IntArray, IntArray, FloatArray]] = []
        self.count = 0

    def add(self, residual: FloatArray, columns: IntArray, slopes: FloatArray) -> None:
        """Add n rows: `residual` (n,), `columns` (n, k) and their `slopes` (n, k)."""
        rows = np.repeat(np.arange(self.count, self.count + len(residual)), columns.shape[1])
        self.entries.append((rows, columns.ravel(), slopes.ravel()))
        self.residuals.append(residual)
        self.count += len(residual)

    def solve(self) -> FloatArray:
        """Return the step that lowers the sum of squares most.

        Joints couple only to joints at most three frames away, so their part of the normal
        equations is banded; the few unknowns of the whole clip border it and are eliminated
        by their Schur complement.
        """
        rows = np.concatenate([e[0] for e in self.entries])
        columns = np.concatenate([e[1] for e in self.entries])
        slopes = np.concatenate([e[2] for e in self.entries])
        jacobian = sparse.csr_matrix(
            (slopes, (rows, columns)), shape=(self.count, self.unknowns.count)
        )
        normal = (jacobian.T @ jacobian).tocsr()
        right = -(jacobian.T @ np.concatenate(self.residuals))
        joints = self.unknowns.joints
        border = normal[:joints, joints:].toarray()
        band = _banded(normal[:joints, :joints].tocoo())
        solved = solveh_banded(band, np.column_stack([right[:joints], border]))
        corner = normal[joints:, joints:].toarray() - border.T @ solved[:, 1:]
        of_clip = np.linalg.solve(corner, right[joints:] - border.T @ solved[:, 0])
        return np.concatenate([solved[:, 0] - solved[:, 1:] @ of_clip, of_clip])


def _banded(normal: sparse.coo_matrix) -> FloatArray:
    """Upper band storage of a symmetric matrix, lightly damped so that it can be factored."""
    upper = normal.row <= normal.col
    row, column = normal.row[upper], normal.col[upper]
    band = np.zeros((_BAND + 1, normal.shape[0]))
    np.add.at(band, (_BAND + row - column, column), normal.data[upper])
    band[_BAND] += 1e-9
    return band
