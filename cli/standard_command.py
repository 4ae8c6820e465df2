"""``sideon standard``: print the standard in force, write a copy to edit, check an edited one."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from analysis.errors import SettingsError
from cli.options import SettingName, StageName, one_of

if TYPE_CHECKING:
    from analysis.coaching.standard import Limit, Standard
    from analysis.motion.motion import Setting
    from analysis.stroke.strokes import Stage


COLUMNS = ("Check", "Measure", "Steady", "Step", "Max. U", "From")


def standard(
    name: Annotated[
        str, typer.Argument(help="first-weeks, novice, trained, or a TOML file of your own.")
    ] = "novice",
    athlete: Annotated[
        str | None, typer.Option(help="Lay this athlete's own limits over it.")
    ] = None,
    stage: Annotated[
        StageName, one_of("--stage", StageName, "Limits at this stage.")
    ] = StageName.full_slide,
    on: Annotated[
        SettingName, one_of("--on", SettingName, "Limits on a machine or in a boat.")
    ] = SettingName.erg,
    write: Annotated[
        Path | None, typer.Option("--write", help="Write a commented copy to edit.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Let --write replace a file.")] = False,
    check: Annotated[
        Path | None, typer.Option("--check", help="Check an edited copy: 0 good, 2 not.")
    ] = None,
) -> None:
    """Print the limits, write a copy to edit, or check a copy.

    Example: sideon standard novice --write squad.toml
    """
    from analysis.coaching.standard import load_standard

    if check is not None and write is not None:
        raise SettingsError("--write and --check do not go together: give one of them.")
    if check is not None:
        checked = load_standard(check)
        typer.echo(f"{check}: good. {checked.title}, version {checked.version}.")
        if names := sorted({*checked.tables["athlete"], *checked.tables["athlete_neutral"]}):
            typer.echo(f"Athletes with limits of their own: {', '.join(names)}.")
        return
    chosen = load_standard(name, athlete=athlete)
    if write is not None:
        _write(chosen, write, force)
        return
    _print(chosen, stage.value, on.value, athlete)


def _write(chosen: Standard, path: Path, force: bool) -> None:
    from analysis.coaching.standard_text import standard_toml

    try:
        with path.open("w" if force else "x", encoding="utf-8") as file:
            file.write(standard_toml(chosen, path.stem))
    except FileExistsError:
        raise SettingsError(f"{path} is there already: add --force to replace it.") from None
    except OSError as error:
        raise SettingsError(f"{path} cannot be written: {error.strerror}.") from error
    typer.echo(f"Wrote {path}. Edit it, then: sideon standard --check {path}")


def _print(chosen: Standard, stage: Stage, on: Setting, athlete: str | None) -> None:
    who = f", for {chosen.athlete}" if chosen.athlete else ""
    heading = f"{chosen.title}{who}: {chosen.name}, version {chosen.version} ({chosen.digest})"
    limits = chosen.at(stage, on).values()
    rows = [_row(limit) for limit in limits if limit.applies(stage, on)]
    place = f"At {stage.replace('_', ' ')}, {'in a boat' if on == 'boat' else 'on a machine'}."
    neutral = (
        f"Upright back, where nothing shows the athlete's own: {chosen.neutral_raw_deg:g}° (raw)."
    )
    if sys.stdout.isatty():
        _print_table(heading, rows)
    else:
        typer.echo(heading)
        widths = [max(len(row[i]) for row in [COLUMNS, *rows]) for i in range(len(COLUMNS))]
        for row in [COLUMNS, *rows]:
            cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
            typer.echo("  ".join(cells).rstrip())
    typer.echo(place)
    typer.echo("* by the rate. In brackets: set-up hints, never findings.")
    typer.echo(neutral)
    if athlete and not chosen.athlete:
        typer.echo(f"{athlete} has no limits of their own here: these are the squad's.")
    typer.echo("All limits are common coaching practice, not published thresholds.")


def _row(limit: Limit) -> tuple[str, ...]:
    from analysis.coaching.standard import RateLimit
    from analysis.coaching.words import STAGE_WORDS, number

    unit = limit.unit
    if isinstance(limit.low, RateLimit):
        steady = f"≥ {number(limit.low.least, unit)}–{number(limit.low.most, unit)} *"
    elif limit.low is not None and limit.high is not None:
        steady = f"{number(limit.low, unit)} … {number(limit.high, unit)}"
    elif limit.low is not None:
        steady = f"≥ {number(limit.low, unit)}"
    else:
        steady = "open" if limit.high is None else f"≤ {number(limit.high, unit)}"
    first = STAGE_WORDS[limit.first_stage] if limit.first_stage else "never"
    return (
        f"({limit.check})" if limit.hint else limit.check,
        limit.measure,
        steady,
        f"{limit.step:g}",
        f"{limit.max_u:g}",
        first,
    )


def _print_table(heading: str, rows: list[tuple[str, ...]]) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for column in COLUMNS:
        table.add_column(column, no_wrap=column != "From")
    for row in rows:
        table.add_row(*row)
    console = Console()
    console.print(heading, highlight=False, style="bold")
    console.print(table)
