"""The linearised problem of the fit: its unknowns, its rows, and the step that solves it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
    """Normal equations of the linearised problem, summed up row by row.

    Rows are residuals already divided by their spread. Only sums are held, so that memory grows
    with the clip and not with how much is known of it. Joints couple only to joints at most three
    frames away, so their part is banded; the few unknowns of the whole clip border it.
    """

    def __init__(self, unknowns: Unknowns) -> None:
        self.unknowns = unknowns
        of_clip = unknowns.count - unknowns.joints
        # Upper band storage, as `solveh_banded` wants it, and in LAPACK's order of places: else it
        # is copied, and of a long clip it is the largest of all arrays.
        self._band = np.zeros((_BAND + 1, unknowns.joints), order="F")
        self._border = np.zeros((unknowns.joints, of_clip))
        self._corner = np.zeros((of_clip, of_clip))
        self._right = np.zeros(unknowns.count)

    def add(self, residual: FloatArray, columns: IntArray, slopes: FloatArray) -> None:
        """Add n rows: `residual` (n,), `columns` (n, k) and their `slopes` (n, k).

        A column may not come twice within one row, and each of the k is of joints in all rows, or
        of the clip in all.
        """
        joints, of_clip = self.unknowns.joints, self._border.shape[1]
        shared = columns[:1] >= joints
        if np.any((columns >= joints) != shared):
            raise ValueError("columns: expected joints or the clip throughout, got both in one")
        # Adding up at flat places is several times as quick as at pairs.
        band, border, corner = (
            part.ravel(order="K") for part in (self._band, self._border, self._corner)
        )
        for a, of_clip_a in enumerate(shared.ravel()):
            one = columns[:, a]
            np.add.at(self._right, one, -slopes[:, a] * residual)
            for b in range(a, columns.shape[1]):
                other, product = columns[:, b], slopes[:, a] * slopes[:, b]
                low, high = np.minimum(one, other), np.maximum(one, other)
                if not (of_clip_a or shared[0, b]):
                    np.add.at(band, high * (_BAND + 1) + _BAND + low - high, product)
                elif not (of_clip_a and shared[0, b]):
                    np.add.at(border, low * of_clip + high - joints, product)
                else:
                    i, j = low - joints, high - joints
                    np.add.at(corner, i * of_clip + j, product)
                    if a != b:
                        np.add.at(corner, j * of_clip + i, product)

    def solve(self) -> FloatArray:
        """Return the step that lowers the sum of squares most.

        The unknowns of the clip are eliminated by their Schur complement.
        """
        from scipy.linalg import solveh_banded  # takes a while to load; a kept fit needs no solver

        joints = self.unknowns.joints
        self._band[_BAND] += 1e-9  # lightly damped, so that it can be factored
        wanted = np.empty((joints, 1 + self._border.shape[1]), order="F")
        wanted[:, 0], wanted[:, 1:] = self._right[:joints], self._border
        solved = solveh_banded(self._band, wanted, overwrite_ab=True, overwrite_b=True)
        corner = self._corner - self._border.T @ solved[:, 1:]
        of_clip = np.linalg.solve(corner, self._right[joints:] - self._border.T @ solved[:, 0])
        return np.concatenate([solved[:, 0] - solved[:, 1:] @ of_clip, of_clip])
