"""What the boat bench counts as right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.accuracy.boat_bench import EDGE_S, Outcome, countable, summary


def test_strokes_at_the_edges_may_be_told_or_not() -> None:
    catches = np.array([0.1, 2.0, 4.0, 6.0])
    assert countable(catches, 0.0, 8.0) == (2, 3)
    assert countable(catches, 0.1 - EDGE_S, 6.0 + EDGE_S) == (3, 3)
    assert countable(catches, 0.0, 6.1) == (1, 3)
    assert countable(catches[:1], 0.0, 8.0) == (0, 0)
    assert countable(np.array([]), 0.0, 8.0) == (0, 0)


@pytest.mark.parametrize(
    ("told", "told_spm", "count_right", "rate_right"),
    [(3, 24.9, True, True), (2, 23.1, True, True), (4, 24.0, False, True), (3, 25.1, True, False)],
)
def test_outcomes(told: int, told_spm: float, count_right: bool, rate_right: bool) -> None:
    outcome = Outcome("a", "double", 2, 3, told, 24.0, told_spm)
    assert (outcome.count_right, outcome.rate_right) == (count_right, rate_right)


def test_a_refusal_is_right_only_where_nothing_need_be_told() -> None:
    nan = float("nan")
    few = Outcome("a", "single", 1, 2, 0, 24.0, nan, "TooFewStrokesError: …")
    assert few.count_right and few.rate_right
    many = replace(few, fewest=2)
    assert not many.count_right and not many.rate_right


def test_summary_counts_invented_and_missed() -> None:
    good = Outcome("a", "double", 3, 3, 3, 24.0, 24.0)
    told = summary([good, replace(good, told=5), replace(good, told=1, kind="quad")])
    assert told.splitlines()[0].startswith("all          3 clips: count right 1, rate right 3")
    assert "invented 2, missed 2" in told.splitlines()[0]
