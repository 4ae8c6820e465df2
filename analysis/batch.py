"""Many clips at once: every core at work, one bad clip stops nobody.

Each clip is reviewed and written by a worker process of its own interpreter, so that a crash in
native code takes one clip with it and no more. What comes back is small: the folder that was
written and whatever the caller asked to be gathered from the review, never the review itself.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import replace
from multiprocessing.connection import wait as wait_for_end
from typing import Any

from analysis.job import Event, Job, OnEvent, Outcome, ReviewJob, perform, review_job

#: What one worker may need at its largest, for choosing how many there can be, bytes. Measured on
#: one core: 570 MB for a minute of 540p, 700 MB for 20 s of 1080p, 750 MB for 10 s of 4K.
WORKER_BYTES = 1_000_000_000

#: Clips after which a pool's workers are replaced, each: native libraries never give all back.
CLIPS_PER_WORKER = 24

#: How often progress is looked at, s.
TICK_S = 0.2

_THREAD_LIMITS = (
    "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
    "NUMEXPR_NUM_THREADS",
    "OPENCV_FOR_THREADS_NUM",
    "SIDEON_CORES",
)


def worker_count(jobs: int, wanted: int | None = None) -> int:
    """Return how many workers to use: one a core, as far as jobs and free memory go."""
    if wanted is not None:
        return max(1, min(wanted, jobs))
    affinity = getattr(os, "sched_getaffinity", None)
    cores = len(affinity(0)) if affinity else (os.cpu_count() or 1)
    return max(1, min(jobs, cores, _free_bytes() // WORKER_BYTES))


def _free_bytes() -> int:
    """Return the free memory, as far as the system tells; very much when it does not."""
    with suppress(OSError, ValueError), open("/proc/meminfo", encoding="ascii") as file:
        for line in file:
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    return 1 << 50


def run_reviews(
    jobs: Sequence[Job],
    workers: int | None = None,
    on_event: OnEvent | None = None,
    *,
    review: ReviewJob = review_job,
    stop: Callable[[], bool] | None = None,
) -> list[Outcome]:
    """Carry out jobs on several cores.

    Parameters
    ----------
    jobs : sequence of Job
    workers : int, optional
        See :func:`worker_count` for the default.
    on_event : callable, optional
        Called in this process, in the order in which things happen.
    review : callable
        What does the work; must be importable in a new process.
    stop : callable, optional
        Asked now and then; once it says True no job is begun any more, and what is being worked
        on is given up.

    Returns
    -------
    list of Outcome
        In the order of `jobs`; those given up by `stop` are left out.

    Notes
    -----
    When a worker process dies, nobody can tell which clip killed it: those that were in work are
    then tried again one at a time, and the one that kills its worker again is ``crashed``.

    On KeyboardInterrupt the workers are ended at once and the exception goes on to the caller, who
    has had every finished outcome through `on_event`.
    """
    if not jobs:
        return []
    with one_thread_each():
        return _Run(jobs, worker_count(len(jobs), workers), on_event, review, stop).all()


class _Run:
    """The state of one call of `run_reviews`."""

    def __init__(
        self,
        jobs: Sequence[Job],
        workers: int,
        on_event: OnEvent | None,
        review: ReviewJob,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.jobs, self.workers, self.review = jobs, workers, review
        self.tell = on_event or (lambda event: None)
        self.stop = stop or (lambda: False)
        self.context = multiprocessing.get_context("spawn")
        # Lock-free: a worker that dies while writing cannot block anybody.
        self.shares = self.context.RawArray("d", len(jobs))
        self.told = [0.0] * len(jobs)
        self.outcomes: dict[int, Outcome] = {}

    def all(self) -> list[Outcome]:
        waiting, suspects = deque(range(len(self.jobs))), list[int]()
        while waiting and not self.stop():
            batch = [
                waiting.popleft() for _ in range(min(len(waiting), self.workers * CLIPS_PER_WORKER))
            ]
            left, broken = self._pool(batch, self.workers)
            waiting.extendleft(reversed(left))
            suspects += broken
            while suspects and not self.stop():
                index = suspects.pop(0)
                _, again = self._pool([index], 1)
                if again:
                    self._ended(index, self._killed(index))
        return [self.outcomes[i] for i in sorted(self.outcomes)]

    def _killed(self, index: int) -> Outcome:
        return Outcome(
            self.jobs[index],
            "crashed",
            why="The program was ended while it reviewed this clip, twice: it may be damaged in an "
            "unusual way, or too large for this machine's memory.",
        )

    def _pool(self, batch: Sequence[int], workers: int) -> tuple[list[int], list[int]]:
        """Work through `batch`; return who was not begun, and who was in work when it broke."""
        waiting, running = deque(batch), dict[Future[Outcome], int]()
        pool = ProcessPoolExecutor(
            min(workers, len(batch)),
            mp_context=self.context,
            initializer=_begin_worker,
            initargs=(self.shares,),
        )
        try:
            while waiting or running:
                if self.stop():
                    _end_now(pool)
                    return [], []
                # No more than one a worker is handed out: who breaks down has few suspects.
                while waiting and len(running) < workers:
                    index = waiting[0]
                    with _interrupts_held():
                        future = pool.submit(_work, index, self.jobs[index], self.review)
                    running[future] = waiting.popleft()
                done, _ = wait(running, timeout=TICK_S, return_when=FIRST_COMPLETED)
                self._tell_progress(running.values())
                for future in done:
                    self._ended(running[future], self._result(running[future], future))
                    del running[future]
            pool.shutdown()
        except BrokenProcessPool:
            for future, index in list(running.items()):
                if future.done() and not isinstance(future.exception(), BrokenProcessPool):
                    self._ended(index, self._result(index, future))
                    del running[future]
            pool.shutdown()
            return list(waiting), list(running.values())
        except BaseException:
            _end_now(pool)
            raise
        return [], []

    def _result(self, index: int, future: Future[Outcome]) -> Outcome:
        try:
            return future.result()
        except BrokenProcessPool:
            raise
        except Exception as error:  # what the worker gathered could not be sent
            return Outcome(self.jobs[index], "crashed", why=f"The program failed: {error!r}.")

    def _tell_progress(self, indices: Any) -> None:
        for index in indices:
            share = self.shares[index]
            if share > self.told[index]:
                self.told[index] = share
                self.tell(Event(index, self.jobs[index], share))

    def _ended(self, index: int, outcome: Outcome) -> None:
        self.outcomes[index] = outcome
        self.tell(Event(index, self.jobs[index], 1.0, outcome))


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Have native libraries of new processes use one thread: the clips share the cores already."""
    before = {name: os.environ.get(name) for name in _THREAD_LIMITS}
    os.environ.update(dict.fromkeys(_THREAD_LIMITS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Keep Ctrl-C back while processes are started: they inherit that, and are ended by us."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end_now(pool: ProcessPoolExecutor) -> None:
    """End a pool's workers, whatever they are doing."""
    processes = list((getattr(pool, "_processes", None) or {}).values())
    manager = getattr(pool, "_executor_manager_thread", None)
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        with suppress(OSError):
            process.terminate()
    for process in processes:
        process.join(5.0)
        if process.is_alive():
            process.kill()
            process.join(5.0)
    if manager is not None:
        # Else this process, when it ends, may wake the pool's thread while that closes its pipe,
        # and Python prints what went wrong.
        manager.join(5.0)


# --- inside a worker ----------------------------------------------------------------------------

_shares: Any = None


def _begin_worker(shares: Any) -> None:
    """Set up a worker: it is ended by its parent alone, and ends when its parent has gone."""
    global _shares
    _shares = shares
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Ended by its parent, a worker still takes away what is half written.
    signal.signal(signal.SIGTERM, _leave)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _leave(*_: object) -> None:
    raise SystemExit(1)


def _end_with(parent: int) -> None:
    wait_for_end([parent])
    os._exit(1)


def _work(index: int, job: Job, review: ReviewJob) -> Outcome:
    # Begun: any share above nothing.
    _shares[index] = 1e-6

    def progress(share: float) -> None:
        _shares[index] = max(1e-6, min(1.0, share))

    try:
        # The job goes back as the parent has it, without what only the worker needed.
        return replace(perform(job, progress, review), job=job)
    except SystemExit:
        # The pool would take it for the job's own failure and go on.
        os._exit(1)
