"""Work done side by side, in order, with a bound on what is under way."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from queue import Empty, Full, Queue
from threading import Event, Thread
from typing import Any, Generic, TypeVar

T = TypeVar("T")


class _Now:
    """Stands in for a pool on one core: does each task when it is given."""

    def submit(self, task: Callable[..., T], *arguments: Any) -> Future[T]:
        done: Future[T] = Future()
        done.set_result(task(*arguments))
        return done


Helpers = ThreadPoolExecutor | _Now


@contextmanager
def helpers(count: int) -> Iterator[Helpers]:
    """Give a pool of `count` threads; with none, tasks are done by whoever gives them."""
    if count < 1:
        yield _Now()
        return
    pool = ThreadPoolExecutor(count)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


class InOrder(Generic[T]):
    """Takes what comes, with something still being worked out for it, and hands both on in order.

    Parameters
    ----------
    then : callable
        Called with each item and its result, in the order of `put`, by the caller's own thread.
    most : int
        Items that may wait before the caller waits for the oldest.
    """

    def __init__(self, then: Callable[[T, Any], None], most: int) -> None:
        self._then, self._most = then, most
        self._waiting: deque[tuple[T, Future[Any]]] = deque()

    def put(self, item: T, result: Future[Any]) -> None:
        """Add an item; hand on what is ready."""
        self._waiting.append((item, result))
        while self._waiting and (len(self._waiting) > self._most or self._waiting[0][1].done()):
            self._hand_on()

    def finish(self) -> None:
        """Hand on the rest."""
        while self._waiting:
            self._hand_on()

    def _hand_on(self) -> None:
        item, result = self._waiting.popleft()
        self._then(item, result.result())


_END: Any = object()


def ahead(items: Iterator[T], most: int) -> Iterator[T]:
    """Iterate in a thread of its own, at most so many items ahead of who takes them.

    An error of `items` is raised where they are taken; who stops early ends the thread. With
    `most` 0 nothing is done beside.
    """
    if most < 1:
        yield from items
        return
    queue: Queue[Any] = Queue(most)
    stopped = Event()

    def give(item: Any) -> bool:
        while not stopped.is_set():
            try:
                queue.put(item, timeout=0.1)
            except Full:
                continue
            return True
        return False

    def run() -> None:
        error: BaseException | None = None
        try:
            for item in items:
                if not give((item, None)):
                    break
        except BaseException as caught:  # for the one who takes them
            error = caught
        finally:
            close = getattr(items, "close", None)
            if close is not None:
                close()
        give((_END, error))

    thread = Thread(target=run, daemon=True)
    thread.start()
    try:
        while True:
            item, error = queue.get()
            if item is _END:
                if error is not None:
                    raise error
                return
            yield item
    finally:
        stopped.set()
        while thread.is_alive():
            try:
                queue.get_nowait()
            except Empty:
                thread.join(0.05)
