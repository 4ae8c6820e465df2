"""Putting the season's pages on disk, each whole or not at all, for their owner alone."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analysis.output.html import environment
from analysis.output.places import plain_errors
from analysis.output.rows import SIGNS
from analysis.output.season.athlete_page import athlete_page
from analysis.output.season.squad_page import squad_page
from analysis.season import read
from analysis.season.record import folder_name
from analysis.season.store import Season

#: The page of the session that is running, inside the season folder.
RUNNING_PAGE = "running.html"


def write_season_pages(season: Season) -> Path:
    """Write the squad page and every athlete's page.

    Returns
    -------
    Path
        The squad page.

    Raises
    ------
    SideonError
        When the folder cannot be written to or the disk is full.
    """
    for athlete in read.athletes(season):
        folder = season.folder / "athletes" / folder_name(athlete.name)
        write_page(
            folder / "index.html", "season_athlete.html.j2", {"page": athlete_page(season, athlete)}
        )
    running = RUNNING_PAGE if (season.folder / RUNNING_PAGE).exists() else ""
    return write_page(
        season.folder / "index.html",
        "season_squad.html.j2",
        {"page": squad_page(season), "running": running},
    )


def write_page(path: Path, template: str, content: Mapping[str, Any]) -> Path:
    """Render `template` to `path`; an earlier page is replaced when the new one is whole."""
    text = environment().get_template(template).render(signs=SIGNS, **content)
    # Two runs may write the same page at once: each has a part of its own.
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    with plain_errors(path.parent):
        private_folders(path.parent)
        try:
            with os.fdopen(
                os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "w", encoding="utf-8"
            ) as file:
                file.write(text)
            os.replace(part, path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    return path


def private_folders(folder: Path) -> None:
    """Make a folder and those above it, for their owner alone."""
    if not folder.exists():
        private_folders(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)
