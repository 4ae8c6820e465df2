"""``sideon review``: clips in, pages out."""

from __future__ import annotations

import json
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli import exit_codes
from cli.progress import clip_progress

if TYPE_CHECKING:
    from analysis.review import ReviewOptions


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
        str, typer.Option(help="Which rower: auto, nearest, left, right, or 1, 2, … from the bow.")
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
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print only what went wrong.")] = False,
) -> None:
    """Review clips and write a page for each.

    Example: sideon review monday/ --out reviewed
    """
    from analysis.coaching.standard import load_standard
    from analysis.output.write import out_names, prepare_out, write_index, write_review
    from analysis.review import ReviewOptions, athlete_of, find_clips, review_clip
    from cli.checks import check_options
    from cli.summary import summary_lines

    options = ReviewOptions(
        stage=stage.value if stage else None,
        setting=on.value if on else None,
        who=who,
        from_s=from_s,
        to_s=to_s,
        athlete=athlete,
        stature_m=stature_m,
    )
    check_options(options)
    paths = find_clips(clips)
    standards = {p: load_standard(standard, athlete=athlete or athlete_of(p)) for p in paths}
    prepare_out(out)
