"""Reviewing clips on all cores, telling of each in the order in which they were given."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from analysis.clip import content_hash
from analysis.coaching.standard import load_standard
from analysis.errors import ClipError
from analysis.job import Event, Job, Outcome, ReviewJob, private_files, review_job
from analysis.output.language import text_of
from analysis.output.places import out_names, plain_errors
from analysis.review import ReviewOptions, athlete_of
from cli.progress import clip_progress
from cli.squad_progress import squad_progress

# What writes pages is loaded where it is needed: reading the clip need not wait for it.
if TYPE_CHECKING:
    from analysis.output.index import IndexEntry
    from analysis.result import Review

#: Version of the ``--json`` document.
JSON_SCHEMA = 1


@dataclass(frozen=True)
class Told:
    """What of a review is shown in the terminal and on the page over all clips."""

    entry: IndexEntry
    lines: tuple[str, ...]


def gather_told(review: Review, folder: Path, language: str = "en") -> Told:
    """Return what is told of a review; runs where it was made."""
    from analysis.output.index import entry_of
    from cli.summary import summary_lines

    return Told(
        entry_of(review, text_of(language)), tuple(summary_lines(review, folder / "report.html"))
    )


def gather_packed(review: Review, folder: Path, language: str = "en") -> Told:
    """Return what is told of a review that was packed into one file too."""
    from analysis.output.one_file import one_file_words

    told = gather_told(review, folder, language)
    packed = f"  one file  {one_file_words(folder, review.out_name)}"
    return replace(told, lines=(*told.lines, packed))


def run(
    paths: list[Path],
    out: Path,
    options: ReviewOptions,
    *,
    standard_name: str,
    draw: bool,
    as_json: bool,
    quiet: bool,
    workers: int | None = None,
    share: bool = False,
    language: str = "en",
    one_file: bool = False,
    everybody: bool = False,
    review: ReviewJob = review_job,
) -> int:
    """Review `paths` and write their pages under `out`.

    Several clips are shared out between processes; a single one stays in this one. With
    `everybody` each rower of a clip gets a review of their own.

    Returns
    -------
    int
        How many clips could not be reviewed.
    """
    for path in paths:  # a standard that cannot be used is told before anything is done
        load_standard(standard_name, athlete=options.athlete or athlete_of(path))
    with plain_errors(out):  # before the first frame is read, not after minutes of work
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out):
            pass
    wanted = [(path, options) for path in paths]
    if everybody:
        wanted = [seat for path in paths for seat in _seats(path, options)]
    paths = [path for path, _ in wanted]
    jobs = [
        Job(
            path=str(path),
            out_dir=str(out),
            out_name=name,
            standard=standard_name,
            options=own,
            draw=draw,
            gather=partial(gather_packed if one_file else gather_told, language=language),
            share=share,
            private=share,
            language=language,
            one_file=one_file,
        )
        for (path, own), name in zip(wanted, _names(paths, out, share=share), strict=True)
    ]
    shown = not (quiet or as_json)
    if len(jobs) == 1:
        outcomes = [_one(jobs[0], review, shown=shown)]
    else:
        outcomes = _many(jobs, workers, review, shown=shown)
    failed = [o for o in outcomes if o.status != "done"]
    named = _names_left(outcomes) if share else 0
    index = None if share else _write_index(outcomes, out, language)
    if as_json:
        _print_json(outcomes)
    elif not quiet:
        place = f": {index}" if index else ", to be looked through before anybody sees them."
        typer.echo(f"{len(outcomes) - len(failed)} of {len(outcomes)} reviewed{place}")
    return len(failed) + named


def _write_index(outcomes: Sequence[Outcome], out: Path, language: str) -> Path:
    from analysis.output.write import write_index

    return write_index([_entry(outcome) for outcome in outcomes], out, text_of(language))


def _seats(path: Path, options: ReviewOptions) -> list[tuple[Path, ReviewOptions]]:
    """Return one set of options for each rower of a clip, from the bow."""
    from analysis.pose.crew import count_rowers

    try:
        count = count_rowers(path, from_s=options.from_s, to_s=options.to_s)
    except ClipError:
        count = 0  # the review says why
    if count < 2:
        return [(path, options)]
    name = options.athlete or athlete_of(path)
    return [
        (path, replace(options, who=seat, athlete=f"{name}, seat {seat} from the bow"))
        for seat in range(1, count + 1)
    ]


def _names(paths: list[Path], out: Path, *, share: bool) -> list[str]:
    if not share:
        return out_names(paths)
    from analysis.squad.share import free_names

    return free_names(out, [""] * len(paths))


def _one(job: Job, review: ReviewJob, *, shown: bool) -> Outcome:
    """Review one clip here; what is not the clip's own fault goes on to the caller."""
    try:
        with clip_progress(_label(job), shown=shown) as tell, private_files(job.private):
            folder, told = review(job, tell)
        outcome = Outcome(job, "done", folder=folder, gathered=told)
    except ClipError as error:
        outcome = Outcome(job, "failed", why=str(error))
    _say(outcome, shown=shown)
    return outcome


def _many(
    jobs: Sequence[Job], workers: int | None, review: ReviewJob, *, shown: bool
) -> list[Outcome]:
    """Review clips in other processes; each is told of once those before it have been."""
    from analysis.batch import run_reviews

    waiting: dict[int, Outcome] = {}
    told = 0
    with squad_progress(shown=shown, failures=False) as watch:
        watch.begin_with([_athlete(job) for job in jobs])

        def on_event(event: Event) -> None:
            nonlocal told
            watch.event(event)
            if event.outcome is None:
                return
            waiting[event.index] = event.outcome
            while told in waiting:
                with watch.aside():
                    _say(waiting.pop(told), shown=shown)
                told += 1

        return run_reviews(jobs, workers, on_event, review=review)


def _say(outcome: Outcome, *, shown: bool) -> None:
    if outcome.status != "done":
        typer.echo(f"{_label(outcome.job)}: {outcome.why}", err=True)
    elif shown:
        told: Told = outcome.gathered
        typer.echo("\n".join((_label(outcome.job), *told.lines[1:])) + "\n")


def _entry(outcome: Outcome) -> IndexEntry:
    from analysis.output.index import problem_entry

    if outcome.status == "done":
        told: Told = outcome.gathered
        return told.entry
    return problem_entry(outcome.job.path + _whose(outcome.job), _athlete(outcome.job), outcome.why)


def _names_left(outcomes: Sequence[Outcome]) -> int:
    """Say which files made to be shared still name somebody, and count the clips concerned."""
    from analysis.squad.share import files_that_name

    count = 0
    for outcome in outcomes:
        if outcome.status != "done":
            continue
        path = Path(outcome.job.path)
        marks = (path.name, path.stem, content_hash(path))
        found = files_that_name(Path(outcome.folder), _athlete(outcome.job), marks)
        for path in found:
            typer.echo(f"Do not share {path}: it still names the athlete.", err=True)
        count += bool(found)
    return count


def _print_json(outcomes: Sequence[Outcome]) -> None:
    done = [Path(outcome.folder) for outcome in outcomes if outcome.status == "done"]
    document: dict[str, Any] = {
        "schema": JSON_SCHEMA,
        "reviewed": [
            json.loads((folder / "review.json").read_text(encoding="utf-8")) for folder in done
        ],
        "failed": [
            {"file": outcome.job.path, "why": outcome.why}
            for outcome in outcomes
            if outcome.status != "done"
        ],
    }
    typer.echo(json.dumps(document, indent=1))


def _athlete(job: Job) -> str:
    named = job.options.athlete if job.options else None
    return named or athlete_of(Path(job.path))


def _label(job: Job) -> str:
    return Path(job.path).name + _whose(job)


def _whose(job: Job) -> str:
    """Say which rower of a clip a job is about, where it was not left to be chosen."""
    who = job.options.who if job.options else "auto"
    return f" (seat {who} from the bow)" if isinstance(who, int) else ""
