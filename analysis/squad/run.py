"""Reviewing a squad's clips into the season, each kept as soon as it is done."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.batch import run_reviews
from analysis.job import Event, OnEvent, Outcome, ReviewJob, review_job
from analysis.output.season.write import write_season_pages
from analysis.season.store import Season
from analysis.squad.plan import Fingerprints, Plan, Planned, SquadSettings, make_plan, relative

Runner = Callable[..., list[Outcome]]


@dataclass(frozen=True)
class SquadResult:
    """What a run came to.

    Attributes
    ----------
    plan : Plan
    reviewed : int
        Done in this run.
    failed : tuple of (str, str)
        Clips that could not be reviewed, in this run or, with nothing changed since, in an
        earlier one: file and reason.
    stopped : int
        Clips that were given up because the run was told to stop.
    page : Path
        The squad page.
    """

    plan: Plan
    reviewed: int
    failed: tuple[tuple[str, str], ...]
    stopped: int
    page: Path


def run_squad(
    paths: Sequence[Path],
    season: Season,
    settings: SquadSettings,
    *,
    workers: int | None = None,
    on_plan: Callable[[Plan], None] | None = None,
    on_event: OnEvent | None = None,
    stop: Callable[[], bool] | None = None,
    fingerprints: Fingerprints | None = None,
    review: ReviewJob = review_job,
    runner: Runner = run_reviews,
) -> SquadResult:
    """Review the clips at `paths` that are new or changed, and write the season's pages.

    Parameters
    ----------
    paths : sequence of Path
    season : Season
        Open, for `settings.season`.
    settings : SquadSettings
    workers : int, optional
    on_plan : callable, optional
        Called with the plan before anything is done.
    on_event : callable, optional
        Called with every event; after a finished clip is safely kept.
    stop, fingerprints : optional
        See :func:`analysis.batch.run_reviews` and :func:`analysis.squad.plan.make_plan`.
    review, runner : callable
        What reviews one clip, and what distributes the work.

    Raises
    ------
    SettingsError
        When the sheet or the standard cannot be used; nothing was done then.
    """
    plan = make_plan(paths, season, settings, fingerprints)
    if on_plan is not None:
        on_plan(plan)
    note_plan(season, settings, plan)

    def keep(event: Event) -> None:
        if event.outcome is not None:
            keep_outcome(season, plan.to_do[event.index], event.outcome)
        if on_event is not None:
            on_event(event)

    try:
        jobs = [planned.job for planned in plan.to_do]
        outcomes = runner(jobs, workers, keep, review=review, stop=stop)
    finally:
        page = write_season_pages(season)
    return SquadResult(
        plan=plan,
        reviewed=sum(outcome.status == "done" for outcome in outcomes),
        failed=_failures(season, plan, outcomes),
        stopped=len(jobs) - len(outcomes),
        page=page,
    )


def note_plan(season: Season, settings: SquadSettings, plan: Plan) -> None:
    """Note in the season what a plan found that needs no review: sheets and moved clips."""
    if settings.sheet is not None:
        season.remember_sheet(relative(settings.sheet, settings.season))
    for place, known in plan.done:
        if known.path != place.path:
            season.move(place)


def keep_outcome(season: Season, planned: Planned, outcome: Outcome) -> None:
    """Write one outcome into the season, and remove pages that it has made stale."""
    if outcome.status == "elsewhere":
        return
    place = planned.place
    failed = outcome.status != "done"
    stale = season.save(
        place,
        outcome.why if failed else outcome.gathered,
        planned.standard,
        again=outcome.status == "crashed",
    )
    if failed:
        stale.append(place.pages)
    for folder in stale:
        shutil.rmtree(season.folder / folder, ignore_errors=True)


def _failures(
    season: Season, plan: Plan, outcomes: Sequence[Outcome]
) -> tuple[tuple[str, str], ...]:
    """Return file and reason of every clip of the plan that has no result."""
    found = [(p.file, known.error) for p, known in plan.done if known.status == "failed"]
    places = {planned.job.path: planned.place for planned in plan.to_do}
    for outcome in outcomes:
        place = places[outcome.job.path]
        if outcome.status in ("failed", "crashed"):
            found.append((place.file, outcome.why))
        elif outcome.status == "elsewhere":
            known = season.known(place.sha256)
            if known is None or known.settings_key != place.settings_key:
                found.append((place.file, outcome.why))
    return tuple(found)
