"""``sideon watch``: clips reviewed as they arrive from a phone's sync."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from analysis.errors import SettingsError
from cli.options import (
    SEASON,
    AddOption,
    DateOption,
    LanguageOption,
    SeasonOption,
    SheetOption,
    StandardOption,
    WorkersOption,
    day_of,
)


def watch(
    folder: Annotated[Path, typer.Argument(help="The folder that clips arrive in.")],
    sheet: SheetOption = None,
    season: SeasonOption = SEASON,
    standard: StandardOption = "novice",
    date: DateOption = "",
    add: AddOption = None,
    language: LanguageOption = "en",
    workers: WorkersOption = None,
    clip: Annotated[bool, typer.Option(help="Make the annotated clips.")] = True,
) -> None:
    """Review clips as they arrive in a folder, until Ctrl-C.

    The pages are renewed after each. A clip is taken once it is whole. What is done already is not
    done again; what cannot be read is told once, and tried again when its file changes.

    Example: sideon watch ~/PhoneSync --season season
    """
    from analysis.output.season.running_page import RUNNING_PAGE
    from analysis.season.schema import FILE_NAME
    from analysis.season.store import Season
    from analysis.squad.plan import SquadSettings, check_settings
    from analysis.squad.watch import Watch

    day = day_of(date)
    if not folder.is_dir():
        raise SettingsError(f"{folder} is no folder: name the one that clips arrive in.")
    settings = SquadSettings(
        season=season,
        sheet=sheet,
        standard=standard,
        draw=clip,
        date=day,
        added=tuple(add or ()),
        language=language,
    )
    check_settings(settings)
    begun = (season / FILE_NAME).exists()
    with until_told_to_stop() as stop, Season(season) as opened:
        session = Watch(folder, opened, settings, workers=workers, tell=typer.echo)
        typer.echo(f"Watching {folder}. The session now: {season / RUNNING_PAGE}. Ctrl-C stops.")
        if not begun:
            typer.echo(f"A new season was begun in {season}.")
        session.run(stop.is_set)
    typer.echo("Stopped; what was finished is kept.")


@contextmanager
def until_told_to_stop() -> Iterator[threading.Event]:
    """Give an event that Ctrl-C and a request to end set, instead of breaking anything off."""
    told = threading.Event()
    signals = [signal.SIGINT, signal.SIGTERM]
    before = {number: signal.signal(number, lambda *_: told.set()) for number in signals}
    try:
        yield told
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
