"""``sideon export``: the season in open formats."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli.options import SEASON, SeasonOption, one_of


class Format(StrEnum):
    """Formats of an export."""

    csv = "csv"
    json = "json"


def export(
    season: SeasonOption = SEASON,
    out: Annotated[
        Path | None, typer.Option(help="Folder (CSV) or file (JSON); JSON goes to the terminal.")
    ] = None,
    kind: Annotated[
        Format, one_of("--format", Format, "One file a table, or one document.")
    ] = Format.csv,
) -> None:
    """Write everything the season knows as CSV or JSON.

    Example: sideon export --out season_csv
    """
    from analysis.season.export import export_csv, export_json, write_json
    from analysis.season.store import Season

    with Season(season, create=False) as opened:
        if kind is Format.csv:
            for path in export_csv(opened, out or Path("season_csv")):
                typer.echo(path)
        elif out is None:
            typer.echo(export_json(opened), nl=False)
        else:
            write_json(opened, out)
            typer.echo(out)
