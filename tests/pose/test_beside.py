"""Work beside: the same results in the same order, bounded, and errors where they are seen."""

import threading
import time
from collections.abc import Iterator

import pytest

from analysis.pose.beside import InOrder, ahead, helpers


@pytest.mark.parametrize("count", [0, 1, 3])
def test_results_come_in_order(count: int) -> None:
    def slow_for_even(n: int) -> int:
        time.sleep(0.01 if n % 2 == 0 else 0.0)
        return n * n

    got: list[tuple[int, int]] = []
    with helpers(count) as pool:
        line = InOrder[int](lambda item, result: got.append((item, result)), most=4)
        for n in range(20):
            line.put(n, pool.submit(slow_for_even, n))
        line.finish()
    assert got == [(n, n * n) for n in range(20)]


def test_no_more_than_allowed_wait() -> None:
    gate = threading.Event()
    threading.Timer(0.1, gate.set).start()
    got: list[int] = []
    with helpers(1) as pool:
        line = InOrder[int](lambda item, result: got.append(item), most=2)
        for n in range(3):
            line.put(n, pool.submit(gate.wait))
            assert n < 2 or got[0] == 0  # the third waited for the first
        line.finish()


@pytest.mark.parametrize("count", [0, 2])
def test_an_error_of_a_task_is_raised(count: int) -> None:
    def fail() -> None:
        raise ValueError("this one")

    with pytest.raises(ValueError, match="this one"), helpers(count) as pool:
        line = InOrder[int](lambda item, result: None, most=2)
        line.put(0, pool.submit(fail))
        line.finish()


@pytest.mark.parametrize("most", [0, 1, 5])
def test_ahead_gives_the_same_items(most: int) -> None:
    assert list(ahead(iter(range(50)), most)) == list(range(50))


@pytest.mark.parametrize("most", [0, 2])
def test_ahead_raises_after_what_came_before(most: int) -> None:
    def items() -> Iterator[int]:
        yield 1
        raise KeyError("here")

    got = []
    with pytest.raises(KeyError, match="here"):
        for item in ahead(items(), most):
            got.append(item)
    assert got == [1]


def test_who_stops_early_ends_the_thread_and_closes_the_source() -> None:
    closed, given = [], []

    def items() -> Iterator[int]:
        try:
            for n in range(1000):
                given.append(n)
                yield n
        finally:
            closed.append(True)

    before = threading.active_count()
    taken = ahead(items(), 3)
    assert next(taken) == 0
    taken.close()
    assert closed == [True] and len(given) <= 7
    assert threading.active_count() == before
