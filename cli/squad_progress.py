"""A live table of the clips in work, on stderr; nothing when nobody watches."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analysis.job import Event
    from analysis.squad.plan import Plan


class Unwatched:
    """Takes events and shows nothing."""

    def begin(self, plan: Plan) -> None:
        """Begin with a plan."""
        self.begin_with([planned.place.athlete for planned in plan.to_do])

    def begin_with(self, athletes: list[str]) -> None:
        """Begin with the athletes of the clips to come."""

    def event(self, event: Event) -> None:
        """Take an event."""

    @contextmanager
    def aside(self) -> Iterator[None]:
        """Take the table away while something else is printed."""
        yield


class LiveTable(Unwatched):
    """One line a clip in work, one over all with the time left, failures above as they come."""

    def __init__(self, bars: Any, *, failures: bool) -> None:
        self._bars, self._failures = bars, failures
        self._whole: Any = None
        self._tasks: dict[int, Any] = {}
        self._athletes: list[str] = []
        self._failed = 0

    def begin_with(self, athletes: list[str]) -> None:
        """Begin with the athletes of the clips to come."""
        self._athletes = athletes
        if self._athletes:
            self._whole = self._bars.add_task(
                "all clips", total=float(len(self._athletes)), athlete=""
            )

    def event(self, event: Event) -> None:
        """Take an event."""
        index = event.index
        if event.outcome is None:
            if index not in self._tasks:
                name = event.job.path.replace("\\", "/").rsplit("/", 1)[-1]
                self._tasks[index] = self._bars.add_task(
                    name, total=1.0, athlete=self._athletes[index]
                )
            self._bars.update(self._tasks[index], completed=event.share)
            return
        if index in self._tasks:
            self._bars.remove_task(self._tasks.pop(index))
        if event.outcome.status != "done":
            self._failed += 1
            if self._failures:
                self._bars.console.print(
                    f"{event.job.path}: {event.outcome.why}", markup=False, highlight=False
                )
        said = f"{self._failed} failed" if self._failed else ""
        self._bars.update(self._whole, advance=1.0, athlete=said)

    @contextmanager
    def aside(self) -> Iterator[None]:
        """Take the table away while something else is printed."""
        self._bars.stop()
        try:
            yield
        finally:
            self._bars.start()


@contextmanager
def squad_progress(*, shown: bool, failures: bool = True) -> Iterator[Unwatched]:
    """Give something that takes a plan and events; it shows them when `shown` on a terminal.

    With `failures` it says why a clip failed, as soon as it does.
    """
    if not shown or not sys.stderr.isatty():
        yield Unwatched()
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}", markup=False),
        TextColumn("{task.fields[athlete]}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(
        *columns, console=Console(stderr=True), transient=True, redirect_stdout=False
    ) as bars:
        yield LiveTable(bars, failures=failures)
