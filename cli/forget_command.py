"""``sideon forget``: an athlete out of the season, shown first, proved after."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from analysis.errors import SettingsError
from cli import exit_codes
from cli.options import SEASON, SeasonOption

if TYPE_CHECKING:
    from analysis.season.forget import Traces


def forget(
    athlete: Annotated[str, typer.Argument(help="The athlete's name.")],
    season: SeasonOption = SEASON,
    yes: Annotated[bool, typer.Option("--yes", help="Do it without asking.")] = False,
    keep_clips: Annotated[
        bool, typer.Option("--keep-clips", help="Leave the filmed clips and the sheets.")
    ] = False,
) -> None:
    """Remove every trace of an athlete, and prove it.

    Rows of the season, pages, filmed and shared clips, and lines of sheets. Shows
    what will go, asks, does it, and searches for anything left.

    Example: sideon forget "Ann Lee"
    """
    from analysis.output.season.running_page import RUNNING_PAGE
    from analysis.output.season.write import write_season_pages
    from analysis.season import forget as forgetting
    from analysis.season.store import Season

    with Season(season, create=False) as opened:
        found = forgetting.traces(opened, athlete)
        for line in _what(found, keep_clips=keep_clips):
            typer.echo(line)
        if not yes:
            if not sys.stdin.isatty():
                raise SettingsError("Nothing was removed: say --yes to remove all of this.")
            if not typer.confirm("Remove all of this? It cannot be brought back."):
                typer.echo("Nothing was removed.")
                raise typer.Exit(exit_codes.ALL_DONE)
        try:
            forgetting.forget(opened, found, keep_clips=keep_clips)
        except OSError as error:
            raise SettingsError(
                f"{error.filename} could not be removed ({error.strerror}): close what uses it and "
                f"run this again."
            ) from error
        (season / RUNNING_PAGE).unlink(missing_ok=True)
        write_season_pages(opened)
        left = forgetting.remains(opened, found)
    if left:
        typer.echo(f"Removed, but {found.athlete} is still found in:", err=True)
        for place in left:
            typer.echo(f"  {place}", err=True)
        raise typer.Exit(exit_codes.SOME_FAILED)
    kept = " The filmed clips and sheets were left." if keep_clips else ""
    typer.echo(
        f"{found.athlete} is forgotten: the season, what was made to be shared and the kept "
        f"landmarks were searched, and nothing is left.{kept}"
    )
    typer.echo(
        "Copies, exports, prints, backups and what sideon review made outside the season are yours "
        "to look for."
    )


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _what(found: Traces, *, keep_clips: bool) -> list[str]:
    rows = sum(found.rows.values())
    lines = [
        f"{found.athlete}: {_counted(found.rows['clips'], 'clip')}, "
        f"{_counted(found.rows['strokes'], 'stroke')}, {_counted(found.rows['notes'], 'note')} "
        f"({_counted(rows, 'row')} in all)"
    ]
    lines += [f"  pages   {folder}" for folder in found.folders]
    lines += [f"  shared  {folder}" for folder in found.shared]
    if not keep_clips:
        lines += [f"  clip    {clip}" for clip in found.clips]
        lines += [f"  marks   {file}" for file in found.corrections]
        lines += [
            f"  sheet   {sheet}: {_counted(count, 'line')} of it" for sheet, count in found.sheets
        ]
    return lines
