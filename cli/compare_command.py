"""``sideon compare``: before and after."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from analysis.errors import SettingsError
from cli.options import SEASON, SeasonOption
from cli.share_command import warn_without_consent

if TYPE_CHECKING:
    from analysis.output.season.compare_page import ChangeRow
    from analysis.season.compare import Comparison

#: Version of the ``--json`` document.
JSON_SCHEMA = 1


def compare(
    before: Annotated[str, typer.Argument(help="A clip of the season, or a day: 2026-01-31.")],
    after: Annotated[str, typer.Argument(help="Another clip or day.")],
    athlete: Annotated[
        str | None, typer.Option(help="Whose days; whose clips, if the file name leaves it open.")
    ] = None,
    season: SeasonOption = SEASON,
    out: Annotated[
        Path | None, typer.Option(help="Folder for page and clip; else in the season.")
    ] = None,
    clip: Annotated[bool, typer.Option(help="Make the clip of both strokes.")] = True,
    share: Annotated[
        bool, typer.Option("--share", help="To be shown to others, in --out: no faces, no names.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say what has changed between two days or two clips.

    Example: sideon compare 2026-01-12 2026-03-09 --athlete "Ann Lee"
    """
    from analysis.output.season.compare_page import change_rows, headline, side_label, write_compare
    from analysis.output.season.write import write_season_pages
    from analysis.season.compare import compare_sides, find_side
    from analysis.season.store import Season

    if share and out is None:
        raise SettingsError("With --share, name a folder for it: --out FOLDER.")
    with Season(season, create=False) as opened:
        sides = [find_side(opened, _bare(words), athlete) for words in (before, after)]
        found = compare_sides(opened, sides[0], sides[1])
        page, problem = write_compare(opened, found, draw=clip, out=out, share=share)
        if out is None:
            write_season_pages(opened)
    if share:
        warn_without_consent([c.athlete for c in (*found.before, *found.after)], season)
    if as_json:
        _print_json(found, page)
        return
    typer.echo(f"{side_label(found.before)}  →  {side_label(found.after)}: {headline(found)}")
    for line in table(change_rows(found)):
        typer.echo(line)
    typer.echo(
        f"If nothing had changed, about {found.by_chance:.1f} of these would still be told as "
        f"changed, by chance."
    )
    for remark in found.remarks:
        typer.echo(remark)
    if problem:
        typer.echo(f"No clip of both strokes: {problem}", err=True)
    typer.echo(f"page: {page}")


def _bare(words: str) -> str:
    """Take the folders off a path: clips are known by their name."""
    return words.replace("\\", "/").rstrip("/").rsplit("/", 1)[-1]


def table(rows: Sequence[ChangeRow]) -> list[str]:
    """Return the lines of a plain table."""
    head = ("", "before", "after", "change", "95 % interval", "can be told from", "")
    cells = [
        (r.label, r.before, r.after, r.change, r.interval, r.mdc95, f"{r.sign} {r.verdict_words}")
        for r in rows
    ]
    widths = [max(len(row[i]) for row in (head, *cells)) for i in range(len(head))]
    lines = []
    for row in (head, *cells):
        first, *middle, last = row
        numbers = "  ".join(
            cell.rjust(width) for cell, width in zip(middle, widths[1:-1], strict=True)
        )
        lines.append(f"{first.ljust(widths[0])}  {numbers}  {last}".rstrip())
    return lines


def _print_json(found: Comparison, page: Path) -> None:
    import json

    from analysis.output.tables import plain

    def side(clips: Any) -> list[dict[str, str]]:
        return [{"athlete": c.athlete, "date": c.date, "file": c.file} for c in clips]

    document = {
        "schema": JSON_SCHEMA,
        "before": side(found.before),
        "after": side(found.after),
        "stage": found.stage,
        "setting": found.setting,
        "measures": [
            {
                "measure": m.measure,
                "unit": m.unit,
                "judged": m.judged,
                "before": m.change.before.mean,
                "after": m.change.after.mean,
                "change": m.change.change,
                "interval": [m.change.low, m.change.high],
                "sem": m.change.sem,
                "mdc95": m.change.mdc95,
                "basis": m.change.basis,
                "verdict": m.change.verdict,
            }
            for m in found.measures
        ],
        "by_chance": found.by_chance,
        "remarks": list(found.remarks),
        "page": str(page),
    }
    typer.echo(json.dumps(plain(document), ensure_ascii=False, indent=1))
