"""``sideon check``: how clips were filmed, and how to film them better."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli import exit_codes
from cli.options import FromOption, SettingOption, ToOption

if TYPE_CHECKING:
    from analysis.filming import Checked

#: Version of the ``--json`` document.
JSON_SCHEMA = 1
_SIGNS = {"good": "✓", "fair": "!", "poor": "✗"}


def check(
    clips: Annotated[list[Path], typer.Argument(help="Clips, or folders of clips.")],
    page: Annotated[
        Path | None, typer.Option(help="Write a page too, with a picture of where to stand.")
    ] = None,
    on: SettingOption = None,
    who: Annotated[
        str, typer.Option(help="Which rower: auto, nearest, left, right, or 1, 2, … from the bow.")
    ] = "auto",
    from_s: FromOption = None,
    to_s: ToOption = None,
    cache: Annotated[
        bool, typer.Option(help="Keep landmarks, so that a review afterwards is quick.")
    ] = True,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Check how clips were filmed, and say how to film them better.

    Of a clip longer than two minutes the minute in the middle is looked at, where that shows enough
    strokes; --from 0 looks at all of it.

    Example: sideon check monday/ --page filming.html
    """
    from analysis.errors import ClipError
    from analysis.review import ReviewOptions, find_clips
    from cli.checks import check_options, rower

    options = ReviewOptions(
        setting=on.value if on else None, who=rower(who), from_s=from_s, to_s=to_s, keep=cache
    )
    check_options(options)
    found = find_clips(clips)
    from analysis.check_filming import check_clip
    from cli.progress import clip_progress

    done: list[Checked] = []
    problems: list[tuple[str, str]] = []
    for path in found:
        try:
            with clip_progress(path.name, shown=not as_json) as tell:
                done.append(check_clip(path, options, progress=tell))
        except ClipError as error:
            problems.append((str(path), str(error)))
            typer.echo(f"{path.name}: {error}", err=True)
            continue
        if not as_json:
            typer.echo("\n".join(_lines(done[-1])) + "\n")
    if page is not None:
        from analysis.output.check_page import write_check

        write_check(done, problems, page)
    if as_json:
        typer.echo(json.dumps(_document(done, problems), indent=1))
    elif page is not None:
        typer.echo(f"Page: {page}")
    if problems:
        raise typer.Exit(exit_codes.SOME_FAILED)


def _lines(checked: Checked) -> list[str]:
    from analysis.output.check_page import view_sentence
    from analysis.output.phone_place import ABOUT_PLACE, PHONE_PLACE

    lines = [checked.file, f"  {checked.seen}"]
    if checked.refused:
        lines.append(f"  {checked.refused}")
    weak = [point for point in checked.points if point.level != "good"]
    for point in weak:
        told = f" {point.costs} {point.remedy}".rstrip()
        lines.append(f"  {_SIGNS[point.level]} {point.label}: {point.level}.{told}")
    rest = "Everything else is filmed well." if weak else "Filmed well."
    lines.append(f"  {_SIGNS['good']} {rest}")
    view = view_sentence(checked)
    lines += [f"  {view}"] if view else []
    if any(p.key in ABOUT_PLACE and p.level != "good" for p in checked.points):
        lines.append(f"  {PHONE_PLACE}")
    return lines


def _document(done: list[Checked], problems: list[tuple[str, str]]) -> dict[str, Any]:
    return {
        "schema": JSON_SCHEMA,
        "checked": [_without_nan(asdict(one)) for one in done],
        "failed": [{"file": file, "why": why} for file, why in problems],
    }


def _without_nan(value: Any) -> Any:
    """Write what cannot be told as null: NaN is no JSON."""
    if isinstance(value, dict):
        return {key: _without_nan(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_without_nan(inner) for inner in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
