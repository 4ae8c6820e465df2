"""Every n-th of many: counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.at_most import at_most


@pytest.mark.parametrize(
    ("count", "kept"),
    [(0, []), (3, [0, 1, 2]), (4, [0, 1, 2, 3]), (5, [0, 2, 4]), (9, [0, 3, 6]), (8, [0, 2, 4, 6])],
)
def test_every_nth_is_kept_so_that_no_more_than_four_are(count: int, kept: list[int]) -> None:
    assert at_most(4, np.arange(count)).tolist() == kept


def test_rows_stay_whole() -> None:
    assert at_most(2, np.arange(8).reshape(4, 2)).tolist() == [[0, 1], [4, 5]]
