"""``sideon squad``: a session's clips into the season."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli import exit_codes
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

if TYPE_CHECKING:
    from analysis.squad.plan import Plan, SquadSettings
    from analysis.squad.run import Runner, SquadResult

#: Version of the ``--json`` document.
JSON_SCHEMA = 1


def squad(
    clips: Annotated[list[Path], typer.Argument(help="Folders of clips, or clips.")],
    sheet: SheetOption = None,
    season: SeasonOption = SEASON,
    new_sheet: Annotated[
        bool,
        typer.Option(
            "--new-sheet", help="Only write a sheet to fill in: session.csv, or --sheet FILE."
        ),
    ] = False,
    standard: StandardOption = "novice",
    date: DateOption = "",
    add: AddOption = None,
    language: LanguageOption = "en",
    workers: WorkersOption = None,
    scheduler: Annotated[
        str | None, typer.Option(help="Address of a Dask cluster that does the work.")
    ] = None,
    clip: Annotated[bool, typer.Option(help="Make the annotated clips.")] = True,
    again: Annotated[bool, typer.Option("--again", help="Review also what is done.")] = False,
    plan_only: Annotated[
        bool, typer.Option("--dry-run", help="Only say what would be done.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print only what went wrong.")] = False,
) -> None:
    """Review a squad's clips; what is done already is not done again.

    Example: sideon squad monday/ --sheet monday/session.csv
    """
    from analysis.review import find_clips

    paths = find_clips(clips)
    # Only now: the stages are slow to import, and a wrong name is told at once.
    from analysis.season.store import Season
    from analysis.squad.plan import SquadSettings, check_settings
    from analysis.squad.run import run_squad
    from cli.squad_progress import squad_progress

    if new_sheet:
        _write_sheet(paths, sheet or _beside(clips))
        return
    settings = SquadSettings(
        season=season,
        sheet=sheet,
        standard=standard,
        draw=clip,
        again=again,
        date=day_of(date),
        added=tuple(add or ()),
        language=language,
    )
    check_settings(settings)
    shown = not (as_json or quiet)
    if plan_only:
        plan = _plan_only(paths, settings)
        say_plan(plan, detailed=True)
        raise typer.Exit(exit_codes.SOME_FAILED if plan.problems else exit_codes.ALL_DONE)
    with Season(season) as opened, squad_progress(shown=shown) as watch:

        def begin(plan: Plan) -> None:
            say_plan(plan, quiet=not shown)
            watch.begin(plan)

        result = run_squad(
            paths,
            opened,
            settings,
            workers=workers,
            on_plan=begin,
            on_event=watch.event,
            runner=_runner(scheduler),
        )
    if as_json:
        _print_json(result)
    else:
        _say_result(result, quiet=quiet)
    unclear = result.plan.problems or result.failed or result.stopped
    raise typer.Exit(exit_codes.SOME_FAILED if unclear else exit_codes.ALL_DONE)


def _plan_only(paths: list[Path], settings: SquadSettings) -> Plan:
    """Make the plan; a season that is not there yet is not begun."""
    import tempfile

    from analysis.season.schema import FILE_NAME
    from analysis.season.store import Season
    from analysis.squad.plan import make_plan

    with tempfile.TemporaryDirectory() as empty:
        there = (settings.season / FILE_NAME).exists()
        with Season(settings.season if there else Path(empty)) as opened:
            return make_plan(paths, opened, settings)


def _runner(scheduler: str | None) -> Runner:
    if scheduler is None:
        from analysis.batch import run_reviews

        return run_reviews
    from analysis.cluster import on_cluster

    return on_cluster(scheduler)


def _beside(clips: list[Path]) -> Path:
    first = clips[0]
    return (first if first.is_dir() else first.parent) / "session.csv"


def _write_sheet(paths: list[Path], sheet: Path) -> None:
    from analysis.season.sheet import write_new_sheet
    from analysis.squad.whose import guess_row

    write_new_sheet(sheet, [guess_row(line, path) for line, path in enumerate(paths, 2)])
    typer.echo(f"{sheet}: fill in who is on each of {len(paths)} clips, then run")
    typer.echo(f"  sideon squad {paths[0].parent} --sheet {sheet}")


def say_plan(plan: Plan, *, quiet: bool = False, detailed: bool = False) -> None:
    """Say on stderr what is unclear and, unless `quiet`, what will be done."""
    if plan.problems:
        typer.echo("To be made clear; these clips are left out until then:", err=True)
        for problem in plan.problems:
            typer.echo(f"  {problem}", err=True)
    if quiet:
        return
    for remark in plan.remarks:
        typer.echo(remark, err=True)
    if plan.new_athletes:
        typer.echo(f"New athletes: {', '.join(plan.new_athletes)}", err=True)
    typer.echo(f"{len(plan.to_do)} to review, {_done(plan)} done already.", err=True)
    if detailed:
        for planned in plan.to_do:
            place = planned.place
            typer.echo(f"  {place.date}  {place.athlete}: {place.file}", err=True)


def _done(plan: Plan) -> int:
    """Count clips that have their review already; one that could not be reviewed has none."""
    return sum(known.status != "failed" for _, known in plan.done)


def _say_result(result: SquadResult, *, quiet: bool) -> None:
    if result.failed:
        typer.echo("Could not be reviewed:", err=True)
        for file, why in result.failed:
            typer.echo(f"  {file}: {why}", err=True)
    if not quiet:
        done = f", {_done(result.plan)} done already" if result.plan.done else ""
        typer.echo(f"{result.reviewed} reviewed{done}: {result.page}")


def _print_json(result: SquadResult) -> None:
    import json

    document = {
        "schema": JSON_SCHEMA,
        "reviewed": result.reviewed,
        "done_already": _done(result.plan),
        "failed": [{"file": file, "why": why} for file, why in result.failed],
        "unclear": list(result.plan.problems),
        "new_athletes": list(result.plan.new_athletes),
        "page": str(result.page),
    }
    typer.echo(json.dumps(document, ensure_ascii=False, indent=1))
