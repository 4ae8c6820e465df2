"""Progress on stderr: a bar a clip with the time left, nothing when nobody watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Report = Callable[[float], None]


@contextmanager
def clip_progress(label: str, *, shown: bool) -> Iterator[Report]:
    """Give a function that takes the share done (0…1) of one clip.

    The bar appears only when `shown` and stderr is a terminal.
    """
    if not shown or not sys.stderr.isatty():
        yield lambda share: None
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=1.0)
        yield lambda share: bar.update(task, completed=min(1.0, share))
