"""``sideon review``: clips in, pages out."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli import exit_codes


class StageName(StrEnum):
    """Steps of the build-up, as the coach names them."""

    arms_only = "arms_only"
    arms_and_body = "arms_and_body"
    quarter_slide = "quarter_slide"
    half_slide = "half_slide"
    full_slide = "full_slide"


class SettingName(StrEnum):
    """Where the athlete rows."""

    erg = "erg"
    boat = "boat"


def review(
    clips: Annotated[list[Path], typer.Argument(help="Clips, or folders of clips.")],
    out: Annotated[Path, typer.Option("--out", help="Folder for the pages.")] = Path("reviewed"),
    stage: Annotated[
        StageName | None, typer.Option(help="Step of the build-up; recognised when left out.")
    ] = None,
    on: Annotated[
        SettingName | None, typer.Option(help="Machine or boat; recognised when left out.")
    ] = None,
    who: Annotated[
        str,
        typer.Option(help="Which rower: auto, nearest, left, right, 1, 2, … from the bow, or all."),
    ] = "auto",
    from_s: Annotated[float | None, typer.Option("--from", help="Start here, seconds.")] = None,
    to_s: Annotated[float | None, typer.Option("--to", help="Stop here, seconds.")] = None,
    athlete: Annotated[
        str | None, typer.Option(help="Name; else the file name up to the first _.")
    ] = None,
    stature_m: Annotated[
        float | None, typer.Option(help="Body height in metres, for stroke length in metres.")
    ] = None,
    standard: Annotated[
        str, typer.Option(help="Standard to judge by: a shipped name or a TOML file.")
    ] = "novice",
    clip: Annotated[bool, typer.Option(help="Make the annotated clip.")] = True,
    single_file: Annotated[
        bool, typer.Option("--single-file", help="Pack page and clip into one HTML file too.")
    ] = False,
    corrections: Annotated[
        Path | None, typer.Option(help="Corrections saved on the clip's page; for one clip.")
    ] = None,
    language: Annotated[str, typer.Option(help="Language of pages and clips: en or de.")] = "en",
    cache: Annotated[
        bool, typer.Option(help="Keep landmarks, so that another review is quick.")
    ] = True,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Clips at once; by default one a core.")
    ] = None,
    share: Annotated[
        bool, typer.Option("--share", help="To be shown to others: faces blurred, no names.")
    ] = False,
    season: Annotated[
        Path, typer.Option(help="With --share: the season folder that notes consent.")
    ] = Path("season"),
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print only what went wrong.")] = False,
) -> None:
    """Review clips and write a page for each.

    Example: sideon review monday/ --out reviewed
    """
    from analysis.coach_marks import read_marks
    from analysis.output.language import text_of
    from analysis.review import ReviewOptions, find_clips
    from cli.checks import check_corrections, check_options, rower

    options = ReviewOptions(
        stage=stage.value if stage else None,
        setting=on.value if on else None,
        who="auto" if who == "all" else rower(who),
        from_s=from_s,
        to_s=to_s,
        athlete=athlete,
        stature_m=stature_m,
        keep=cache,
        marks=read_marks(corrections) if corrections else None,
    )
    check_options(options)
    text_of(language)
    found = find_clips(clips)
    check_corrections(options, found)
    # Only now: the stages are slow to import, and a wrong option is told at once.
    from cli.review_run import run

    if share:
        from analysis.review import athlete_of
        from cli.share_command import warn_without_consent

        warn_without_consent([athlete or athlete_of(path) for path in found], season)
    failed = run(
        found,
        out,
        options,
        standard_name=standard,
        draw=clip,
        as_json=as_json,
        quiet=quiet,
        workers=workers,
        share=share,
        language=language,
        one_file=single_file,
        everybody=who == "all",
    )
    if failed:
        raise typer.Exit(exit_codes.SOME_FAILED)
