"""Reviewing one clip after the other, telling of each as soon as it is done."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import typer

from analysis.coaching.standard import load_standard
from analysis.errors import ClipError
from analysis.output.index import IndexEntry, entry_of
from analysis.output.write import out_names, plain_errors, write_index, write_review
from analysis.review import ReviewOptions, athlete_of, review_clip
from cli.progress import clip_progress
from cli.summary import summary_lines

#: Version of the ``--json`` document.
JSON_SCHEMA = 1

#: Share of a clip's bar that the review takes; the rest is drawing and writing.
_REVIEWED = 0.75


def run(
    paths: list[Path],
    out: Path,
    options: ReviewOptions,
    *,
    standard_name: str,
    draw: bool,
    as_json: bool,
    quiet: bool,
) -> int:
    """Review `paths` and write their pages under `out`.

    Returns
    -------
    int
        How many clips could not be reviewed.
    """
    names = out_names(paths)
    standards = [
        load_standard(standard_name, athlete=options.athlete or athlete_of(path)) for path in paths
    ]
    with plain_errors(out):  # before the first frame is read, not after minutes of work
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out):
            pass
    entries: list[IndexEntry] = []
    reviewed: list[dict[str, Any]] = []
    failed: list[dict[str, str]] = []
    for number, (path, name, standard) in enumerate(
        zip(paths, names, standards, strict=True), start=1
    ):
        label = f"{number}/{len(paths)} {path.name}"
        try:
            with clip_progress(label, shown=not (quiet or as_json)) as tell:
                review = review_clip(
                    path, standard, options, out_name=name, progress=_part(tell, 0.0, _REVIEWED)
                )
                folder = write_review(review, out, draw=draw, progress=_part(tell, _REVIEWED, 1.0))
        except ClipError as error:
            failed.append({"file": str(path), "why": str(error)})
            entries.append(
                IndexEntry(
                    source=str(path),
                    athlete=options.athlete or athlete_of(path),
                    problem=str(error),
                )
            )
            typer.echo(f"{path.name}: {error}", err=True)
            continue
        entries.append(entry_of(review))
        if as_json:
            reviewed.append(json.loads((folder / "review.json").read_text(encoding="utf-8")))
        elif not quiet:
            typer.echo("\n".join(summary_lines(review, folder / "report.html")) + "\n")
    index = write_index(entries, out)
    if as_json:
        typer.echo(
            json.dumps({"schema": JSON_SCHEMA, "reviewed": reviewed, "failed": failed}, indent=1)
        )
    elif not quiet:
        typer.echo(f"{len(paths) - len(failed)} of {len(paths)} reviewed: {index}")
    return len(failed)


def _part(tell: Any, start: float, end: float) -> Any:
    """Map a part's own share done onto its stretch of the whole bar."""
    return lambda share: tell(start + share * (end - start))
