"""The same work on a Dask cluster: other machines, same results.

Needs the optional extra: ``pip install 'sideon[cluster]'``. Clips and the season folder must be
reachable under the same path from every worker (a shared folder), and every worker must have one
thread (``dask worker ADDRESS --nthreads 1``): landmark models are not shared between threads.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from analysis import __version__
from analysis.errors import SettingsError
from analysis.job import Event, Job, OnEvent, Outcome, ReviewJob, perform, review_job

#: How long to look for the scheduler, s.
CONNECT_S = 10.0

#: How often it is asked whether to stop, s.
TICK_S = 0.5


def on_cluster(address: str) -> Callable[..., list[Outcome]]:
    """Return what :func:`analysis.batch.run_reviews` is on one machine, for a cluster.

    Parameters
    ----------
    address : str
        The scheduler's, such as ``tcp://192.168.1.7:8786``.

    Raises
    ------
    SettingsError
        When the extra is not installed; from the returned function, when no scheduler answers or
        its workers cannot be used.
    """
    try:
        import distributed
    except ImportError as error:
        raise SettingsError(
            "--scheduler needs Dask, which is not installed: pip install 'sideon[cluster]'"
        ) from error

    def run(
        jobs: Sequence[Job],
        workers: int | None = None,
        on_event: OnEvent | None = None,
        *,
        review: ReviewJob = review_job,
        stop: Callable[[], bool] | None = None,
    ) -> list[Outcome]:
        if not jobs:
            return []
        try:
            client = distributed.Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise SettingsError(
                f"No Dask scheduler answers at {address}: start one with  dask scheduler"
            ) from error
        with client, client.as_current():
            _check_workers(client, address)
            return _work_through(distributed, client, jobs, on_event, review, stop)

    return run


def _check_workers(client: Any, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError as error:
        raise SettingsError(
            f"The scheduler at {address} has no workers: start some with  "
            f"dask worker {address} --nthreads 1"
        ) from error
    # A worker that lacks the program would wait for ever; only builtins are asked for here.
    try:
        found = client.run(eval, "__import__('analysis').__version__", on_error="return")
    except OSError as error:
        raise SettingsError(f"The workers of {address} do not answer.") from error
    others = sorted({str(version) for version in found.values() if version != __version__})
    if others:
        raise SettingsError(
            f"The workers of {address} need the same sideon as this machine ({__version__}), "
            f"and have: {'; '.join(others)}. Install it there."
        )
    if any(count > 1 for count in client.nthreads().values()):
        raise SettingsError(
            f"A worker of {address} has more than one thread: start the workers with --nthreads 1."
        )


def _work_through(
    distributed: Any,
    client: Any,
    jobs: Sequence[Job],
    on_event: OnEvent | None,
    review: ReviewJob,
    stop: Callable[[], bool] | None,
) -> list[Outcome]:
    """Hand out all jobs and take their outcomes as they come."""
    futures = {
        client.submit(perform, job, _untold, review, pure=False): i for i, job in enumerate(jobs)
    }
    open_ones, outcomes = set(futures), dict[int, Outcome]()
    try:
        while open_ones and not (stop is not None and stop()):
            try:
                done = distributed.wait(open_ones, TICK_S, "FIRST_COMPLETED").done
            except TimeoutError:
                continue
            for future in done:
                open_ones.discard(future)
                index = futures[future]
                outcomes[index] = _outcome(future, jobs[index])
                if on_event is not None:
                    on_event(Event(index, jobs[index], 1.0, outcomes[index]))
    finally:
        client.cancel(list(open_ones), force=True)
    return [outcomes[i] for i in sorted(outcomes)]


def _outcome(future: Any, job: Job) -> Outcome:
    error = future.exception()
    if error is None:
        result: Outcome = future.result()
        return result
    return Outcome(
        job,
        "crashed",
        why=f"The worker that reviewed this clip was lost ({type(error).__name__}): it may be "
        "damaged in an unusual way, or too large for that machine's memory.",
    )


def _untold(share: float) -> None:
    """Tell nobody: progress inside a clip is not sent over the network."""
