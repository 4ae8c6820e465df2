"""The session that is running: what came in, what is in work, what is done, what went wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from analysis.output.season.write import RUNNING_PAGE as RUNNING_PAGE
from analysis.output.season.write import write_page

#: How often the page in the browser asks for a new one, s.
REFRESH_S = 3

RowState = Literal["in work", "waiting", "coming in", "done", "failed"]


@dataclass(frozen=True)
class RunningRow:
    """One clip of the session.

    Attributes
    ----------
    file, athlete : str
        `athlete` is empty while nobody knows whose it is.
    state : str
    share : float
        Done of it so far, 0…1, while it is in work.
    first : str
        The one thing to fix first, when it is done.
    link : str
        Its page, relative to the season folder.
    why : str
        Why it could not be reviewed, or what it waits for.
    """

    file: str
    athlete: str
    state: RowState
    share: float = 0.0
    first: str = ""
    link: str = ""
    why: str = ""


@dataclass(frozen=True)
class RunningPage:
    """Everything on the page; ``stopped`` is empty while the session runs."""

    rows: tuple[RunningRow, ...]
    problems: tuple[str, ...]
    updated: str
    stopped: str = ""

    def of(self, *states: RowState) -> Sequence[RunningRow]:
        """Return the rows in one of `states`."""
        return [row for row in self.rows if row.state in states]


def write_running_page(folder: Path, page: RunningPage) -> Path:
    """Write the page into the season folder, whole or not at all, for its owner alone.

    Raises
    ------
    SideonError
        When the folder cannot be written to or the disk is full.
    """
    content = {"page": page, "refresh_s": REFRESH_S}
    return write_page(folder / RUNNING_PAGE, "season_running.html.j2", content)
