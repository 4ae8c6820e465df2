"""``sideon review``: clips in, pages out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli import exit_codes
from cli.options import (
    SEASON,
    FromOption,
    LanguageOption,
    SettingOption,
    StageOption,
    StandardOption,
    ToOption,
    WorkersOption,
    number,
)


def review(
    clips: Annotated[list[Path], typer.Argument(help="Clips, or folders of clips.")],
    out: Annotated[Path, typer.Option("--out", help="Folder for the pages.")] = Path("reviewed"),
    stage: StageOption = None,
    on: SettingOption = None,
    who: Annotated[
        str,
        typer.Option(help="Which rower: auto, nearest, left, right, 1, 2, … from the bow, or all."),
    ] = "auto",
    from_s: FromOption = None,
    to_s: ToOption = None,
    athlete: Annotated[
        str | None, typer.Option(help="Name; else the file name up to the first _.")
    ] = None,
    stature_m: Annotated[
        float | None,
        number(
            "--stature-m", "metres", "1.72", "Body height in metres, for stroke length in metres."
        ),
    ] = None,
    standard: StandardOption = "novice",
    clip: Annotated[bool, typer.Option(help="Make the annotated clip.")] = True,
    single_file: Annotated[
        bool, typer.Option("--single-file", help="Pack page and clip into one HTML file too.")
    ] = False,
    corrections: Annotated[
        Path | None, typer.Option(help="Corrections saved on the clip's page; for one clip.")
    ] = None,
    language: LanguageOption = "en",
    cache: Annotated[
        bool, typer.Option(help="Keep landmarks, so that another review is quick.")
    ] = True,
    workers: WorkersOption = None,
    share: Annotated[
        bool, typer.Option("--share", help="To be shown to others: faces blurred, no names.")
    ] = False,
    season: Annotated[
        Path, typer.Option(help="With --share: the season folder that notes consent.")
    ] = SEASON,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print only what went wrong.")] = False,
) -> None:
    """Review clips and write a page for each.

    Example: sideon review monday/ --out reviewed
    """
    from analysis.coach_marks import read_marks
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
