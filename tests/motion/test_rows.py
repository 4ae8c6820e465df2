"""The normal equations against the same problem written out in full."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.rows import Rows, Unknowns


def test_the_step_is_that_of_the_full_problem() -> None:
    """NumPy's own least squares on the dense rows, lightly damped as the banded ones are."""
    rng = np.random.default_rng(5)
    unknowns = Unknowns(frames=9, edges=1)
    rows, dense, right = Rows(unknowns), [], []
    frames = np.arange(7)

    def add(columns: np.ndarray) -> None:
        residual, slopes = rng.normal(size=len(columns)), rng.normal(size=columns.shape)
        rows.add(residual, columns, slopes)
        for one, places, slope in zip(residual, columns, slopes, strict=True):
            row = np.zeros(unknowns.count)
            row[places] = slope
            dense.append(row)
            right.append(-one)

    for joint in range(6):
        for axis in (0, 1):
            own = unknowns.joint(np.arange(9), joint, axis)
            add(own[:, None])
            near = [unknowns.joint(frames + k, joint, axis) for k in (2, 0, 1)]
            add(np.column_stack(near))
            # What holds for the whole clip, before and behind the joints' columns.
            add(np.column_stack([np.full(9, unknowns.lengths.start + joint % 5), own]))
            add(np.column_stack([own, np.full(9, unknowns.depths.start)]))
    of_clip = np.arange(unknowns.joints, unknowns.count)
    add(of_clip[:, None])
    add(np.column_stack([of_clip[:-1], of_clip[1:]]))
    # Several rows of one call at the same places.
    add(np.repeat([[3, 17, unknowns.line.start]], 4, axis=0))
    expected = np.linalg.lstsq(np.array(dense), np.array(right), rcond=None)[0]
    np.testing.assert_allclose(rows.solve(), expected, atol=1e-6)


def test_a_column_is_of_joints_or_of_the_clip() -> None:
    unknowns = Unknowns(frames=2)
    with pytest.raises(ValueError, match="joints or the clip"):
        Rows(unknowns).add(np.zeros(2), np.array([[0], [unknowns.joints]]), np.ones((2, 1)))


def test_no_rows_change_nothing() -> None:
    unknowns = Unknowns(frames=4)
    rows = Rows(unknowns)
    every = np.arange(unknowns.count)
    for part in (every[: unknowns.joints], every[unknowns.joints :]):
        rows.add(np.ones(len(part)), part[:, None], np.ones((len(part), 1)))
    rows.add(np.zeros(0), np.zeros((0, 2), int), np.zeros((0, 2)))
    np.testing.assert_allclose(rows.solve(), -1.0, atol=1e-6)
