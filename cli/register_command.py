"""``sideon consent`` and ``sideon note``: what the coach writes down about an athlete."""

from __future__ import annotations

from typing import Annotated

import typer

from analysis.errors import SettingsError
from cli.options import SEASON, SeasonOption, day_of


def consent(
    athlete: Annotated[str, typer.Argument(help="The athlete's name.")],
    date: Annotated[str, typer.Argument(help="Day on which consent was given.")] = "",
    by: Annotated[
        str, typer.Option(help="Who gave it: the athlete, and a parent for a minor.")
    ] = "",
    withdraw: Annotated[bool, typer.Option("--withdraw", help="There is none any more.")] = False,
    season: SeasonOption = SEASON,
) -> None:
    """Note who consented to an athlete's being filmed, and when.

    Example: sideon consent "Ann Lee" 2026-01-31 --by "Ann and her father"
    """
    from analysis.output.season.write import write_season_pages
    from analysis.season.sheet import read_date
    from analysis.season.store import Season

    try:
        day = read_date(date)
    except ValueError as error:
        raise SettingsError(f"The day of the consent: {error}.") from error
    if not withdraw and not (day and by.strip()):
        raise SettingsError(
            "Consent needs its day and who gave it: "
            f'sideon consent "{athlete}" 2026-01-31 --by "the athlete and a parent"'
        )
    with Season(season, create=False) as opened:
        if withdraw:
            opened.withdraw_consent(athlete)
        else:
            opened.consent(athlete, day, by.strip())
        write_season_pages(opened)
    said = "no consent" if withdraw else f"consent of {day} by {by.strip()}"
    typer.echo(f"{athlete}: {said} noted.")


def note(
    athlete: Annotated[str, typer.Argument(help="The athlete's name.")],
    text: Annotated[str, typer.Argument(help="What to remember.")],
    date: Annotated[str, typer.Option(help="Its day; today when left out.")] = "",
    season: SeasonOption = SEASON,
) -> None:
    """Write a coach's note onto an athlete's page.

    Example: sideon note "Ann Lee" "Told to count two on the recovery."
    """
    import datetime

    from analysis.output.season.write import write_season_pages
    from analysis.season.store import Season

    day = day_of(date) or datetime.date.today().isoformat()
    if not text.strip():
        raise SettingsError("The note is empty: write what to remember.")
    with Season(season, create=False) as opened:
        opened.write_note(athlete, day, text.strip())
        write_season_pages(opened)
    typer.echo(f"Noted on {athlete}'s page.")
