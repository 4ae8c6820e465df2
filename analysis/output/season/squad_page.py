"""The squad at a glance: who needs what, who works together, who is ready, who was not filmed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.output import words
from analysis.output.page import date_words
from analysis.season import read
from analysis.season.read import Athlete, SeasonClip
from analysis.season.record import folder_name
from analysis.season.store import Season

#: Who was not on film in so many of the last days of filming is named.
MISSED = 2


@dataclass(frozen=True)
class SquadRow:
    """One athlete as filmed last; ``ready`` is ``None`` at the last stage or when nothing is told.

    ``only_the_clip`` tells that nothing speaks against the next step but that the clip shows too
    little. ``missed`` counts the days of filming since then.
    """

    name: str
    folder: str
    consented: bool
    filmed: str = ""
    missed: int = 0
    stage: str = ""
    next_stage: str = ""
    first_check: str | None = None
    first: str = ""
    drill: str = ""
    ready: bool | None = None
    only_the_clip: bool = False
    problem: str = ""


@dataclass(frozen=True)
class Group:
    """Athletes with the same first thing to fix, and the drill for it."""

    title: str
    drill: str
    do: str
    names: tuple[str, ...]


@dataclass(frozen=True)
class SquadPage:
    """Everything on the squad page, in its order."""

    filmed: str
    sessions: int
    rows: tuple[SquadRow, ...]
    groups: tuple[Group, ...]
    ready: tuple[tuple[str, tuple[str, ...]], ...]
    missing: tuple[tuple[str, str], ...]
    failed: tuple[SeasonClip, ...]
    unconsented: tuple[str, ...]


def squad_page(season: Season) -> SquadPage:
    """Gather the squad page from the season."""
    days = read.sessions(season)
    by_athlete: dict[str, list[SeasonClip]] = {}
    for clip in read.clips(season):
        by_athlete.setdefault(clip.athlete, []).append(clip)
    register = read.athletes(season)
    current = {a.name: read.latest(by_athlete.get(a.name, [])) for a in register}
    rows = tuple(
        _row(season, a, current[a.name], by_athlete.get(a.name, []), days) for a in register
    )
    clip_of = {row.name: current[a.name] for row, a in zip(rows, register, strict=True)}
    last_day = days[-1] if days else ""
    return SquadPage(
        filmed=date_words(last_day),
        sessions=len(days),
        rows=rows,
        groups=_groups(rows, clip_of),
        ready=_ready(rows),
        missing=tuple((r.name, _since(r)) for r in rows if r.missed >= MISSED or not r.filmed),
        failed=tuple(
            clip
            for clips in by_athlete.values()
            for clip in clips
            if not clip.reviewed and clip.date == last_day
        ),
        unconsented=tuple(row.name for row in rows if not row.consented),
    )


def _row(
    season: Season,
    athlete: Athlete,
    clip: SeasonClip | None,
    clips: Sequence[SeasonClip],
    days: Sequence[str],
) -> SquadRow:
    folder = f"athletes/{folder_name(athlete.name)}"
    if clip is None:
        problem = clips[-1].error if clips else ""
        return SquadRow(words.name(athlete.name), folder, athlete.consented, problem=problem)
    return SquadRow(
        name=words.name(athlete.name),
        folder=folder,
        consented=athlete.consented,
        filmed=date_words(clip.date),
        missed=sum(day > clip.date for day in days),
        stage=words.stage_label(clip.stage),
        next_stage=words.stage_label(clip.next_stage) if clip.next_stage else "",
        first_check=clip.first_check,
        first=first_title(season, clip),
        drill=clip.drill_name,
        ready=clip.ready,
        only_the_clip=clip.only_the_clip,
    )


def first_title(season: Season, clip: SeasonClip) -> str:
    """Return the first thing to fix in few words; empty when nothing is."""
    for finding in read.findings(season, clip):
        if finding.check == clip.first_check and finding.level == "work on":
            return finding.title or words.check_label(finding.check)
    return ""


def _groups(rows: Sequence[SquadRow], current: dict[str, SeasonClip | None]) -> tuple[Group, ...]:
    """Athletes who share the first thing to fix and its drill, the largest group first."""
    found: dict[tuple[str, str], list[SquadRow]] = {}
    for row in rows:
        if row.first_check:
            found.setdefault((row.first_check, row.drill), []).append(row)
    groups = []
    for (check, drill), members in found.items():
        clip = current[members[0].name]
        groups.append(
            Group(
                title=words.check_label(check),
                drill=drill,
                do=clip.drill_do if clip else "",
                names=tuple(member.name for member in members),
            )
        )
    return tuple(sorted(groups, key=lambda g: (-len(g.names), g.title, g.drill)))


def _ready(rows: Sequence[SquadRow]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found: dict[str, list[str]] = {}
    for row in rows:
        if row.ready:
            found.setdefault(row.next_stage, []).append(row.name)
    return tuple((stage, tuple(names)) for stage, names in found.items())


def _since(row: SquadRow) -> str:
    if not row.filmed:
        return "not filmed yet" if not row.problem else "no clip that could be reviewed"
    days = "day" if row.missed == 1 else "days"
    return f"last on {row.filmed}, {row.missed} {days} of filming ago"
