"""One athlete through the season: progress, findings come and gone, stills, clips, notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.coaching.change import pool
from analysis.coaching.findings import Finding, Readiness
from analysis.coaching.readiness import readiness_text
from analysis.output import words
from analysis.output.figures import Picture
from analysis.output.page import date_words
from analysis.output.rows import SIGNS
from analysis.output.season.progress import Point, progress_picture
from analysis.output.season.squad_page import first_title
from analysis.season import read
from analysis.season.read import Athlete, SeasonClip
from analysis.season.record import folder_name
from analysis.season.store import Season

#: Levels from the one that matters most on; of several clips of a day the first is shown.
_ORDER = ("work on", "watch", "cannot tell", "steady")


@dataclass(frozen=True)
class ClipRow:
    """One clip of the athlete; `folder` is relative to the athlete's own."""

    folder: str
    date: str
    file: str
    stage: str
    strokes: int
    first: str
    note: str
    problem: str
    has_clip: bool
    has_stills: bool


@dataclass(frozen=True)
class CheckRow:
    """One check over the days: (level, sign, word) of each, in their order."""

    label: str
    cells: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Still:
    """A clip whose catch and release are shown: folder, day, and stage and place."""

    folder: str
    date: str
    where: str


@dataclass(frozen=True)
class AthletePage:
    """Everything on an athlete's page, in its order."""

    name: str
    consent: str
    filmed: str
    stage: str
    first: str
    first_text: str
    drill: str
    drill_do: str
    ready_text: str
    pictures: tuple[Picture, ...]
    compared_at: str
    days: tuple[str, ...]
    checks: tuple[CheckRow, ...]
    come: tuple[str, ...]
    gone: tuple[str, ...]
    stills: tuple[Still, ...]
    clips: tuple[ClipRow, ...]
    comparisons: tuple[tuple[str, str], ...]
    notes: tuple[tuple[str, str], ...]


def athlete_page(season: Season, athlete: Athlete) -> AthletePage:
    """Gather an athlete's page from the season."""
    clips = read.clips(season, athlete=athlete.name)
    now = read.latest(clips)
    findings = {clip.id: read.findings(season, clip) for clip in clips if clip.reviewed}
    alike = [
        c for c in clips if now and c.reviewed and (c.stage, c.setting) == (now.stage, now.setting)
    ]
    days = list(dict.fromkeys(clip.date for clip in clips if clip.reviewed))
    rows = tuple(_clip_row(season, clip) for clip in reversed(clips))
    checks = _check_rows(clips, findings, days)
    come, gone = _come_and_gone(checks)
    return AthletePage(
        name=words.name(athlete.name),
        consent=(
            f"Consent given on {date_words(athlete.consent_date)} by {athlete.consent_by}."
            if athlete.consented
            else "No consent is noted: keep these pages to yourself."
        ),
        filmed=date_words(now.date) if now else "",
        stage=words.stage_label(now.stage) if now else "",
        first=first_title(season, now) if now else "",
        first_text=now.first_text if now else "",
        drill=now.drill_name if now else "",
        drill_do=now.drill_do if now else "",
        ready_text=_ready_text(now) if now else "",
        pictures=_pictures(season, alike, _ever_first(findings, now)) if now else (),
        compared_at=_where(now) if now else "",
        days=tuple(date_words(day) for day in days),
        checks=checks,
        come=come,
        gone=gone,
        stills=_first_and_last(season, clips, alike),
        clips=rows,
        comparisons=_comparisons(season, athlete, clips),
        notes=tuple((date_words(d), text) for d, text in read.notes(season, athlete.name)),
    )


def _where(clip: SeasonClip) -> str:
    place = "on the machine" if clip.setting == "erg" else "in the boat"
    return f"{words.stage_label(clip.stage).lower()}, {place}"


def _ready_text(clip: SeasonClip) -> str:
    answer = Readiness(clip.stage, clip.next_stage, clip.ready, clip.missing, clip.only_the_clip)
    return readiness_text(answer)


def _ever_first(findings: dict[int, list[Finding]], now: SeasonClip) -> list[Finding]:
    """Return the latest clip's findings, those first that were ever to be worked on or watched."""
    ever = {f.measure for found in findings.values() for f in found if f.level in _ORDER[:2]}
    return sorted(findings[now.id], key=lambda f: f.measure not in ever)


def _pictures(
    season: Season, clips: Sequence[SeasonClip], findings: Sequence[Finding]
) -> tuple[Picture, ...]:
    """Draw the progress of every judged measure over the days at the present stage and setting."""
    by_day: dict[str, list[SeasonClip]] = {}
    for clip in clips:
        by_day.setdefault(clip.date, []).append(clip)
    measured = {clip.id: read.measures(season, clip) for clip in clips}
    pictures = []
    for finding in findings:
        if finding.level == "not applicable":
            continue
        points = []
        for day, of_day in by_day.items():
            found = [measured[c.id].get(finding.measure) for c in of_day]
            summaries = [pair[1] for pair in found if pair]
            if summaries:
                points.append(Point(day, pool(summaries)))
        picture = progress_picture(
            finding.measure, finding.unit, points, finding.low, finding.high, clips[-1].stage
        )
        if picture is not None:
            pictures.append(picture)
    return tuple(pictures)


def _check_rows(
    clips: Sequence[SeasonClip], findings: dict[int, list[Finding]], days: Sequence[str]
) -> tuple[CheckRow, ...]:
    """Return checks that were ever to be worked on or watched, those of the last day first."""
    levels: dict[str, dict[str, str]] = {}
    for clip in clips:
        for finding in findings.get(clip.id, ()):
            if finding.level in _ORDER:
                of_day = levels.setdefault(finding.check, {})
                had = of_day.get(clip.date, "steady")
                of_day[clip.date] = min(had, finding.level, key=_ORDER.index)
    shown = {c: d for c, d in levels.items() if {"work on", "watch"} & set(d.values())}
    last = days[-1] if days else ""

    def place(check: str) -> tuple[int, str]:
        level = shown[check].get(last)
        return (_ORDER.index(level) if level else len(_ORDER), check)

    return tuple(
        CheckRow(words.check_label(check), tuple(_cell(shown[check].get(day)) for day in days))
        for check in sorted(shown, key=place)
    )


def _cell(level: str | None) -> tuple[str, str, str]:
    if level is None:
        return ("none", "", "Not judged")
    return (level.replace(" ", "-"), SIGNS[level], words.LEVELS[level])


def _clip_row(season: Season, clip: SeasonClip) -> ClipRow:
    folder = season.folder / clip.pages
    return ClipRow(
        folder=folder.name,
        date=date_words(clip.date),
        file=clip.file,
        stage=words.stage_label(clip.stage) if clip.reviewed else "",
        strokes=clip.strokes,
        first=first_title(season, clip) if clip.reviewed else "",
        note=clip.note,
        problem=clip.error,
        has_clip=clip.reviewed and (folder / "annotated.mp4").exists(),
        has_stills=clip.reviewed and (folder / "catch.jpg").exists(),
    )


def _come_and_gone(rows: Sequence[CheckRow]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what is there on the last day and was not on the day before it, and the reverse.

    The day before is the last one on which that check could be told.
    """
    there, away = ("work-on", "watch"), "steady"
    come, gone = [], []
    for row in rows:
        told = [level for level, _, _ in row.cells if level in (*there, away)]
        if len(told) < 2 or row.cells[-1][0] not in (*there, away):
            continue
        if told[-2] == away and told[-1] in there:
            come.append(row.label)
        elif told[-2] in there and told[-1] == away:
            gone.append(row.label)
    return tuple(come), tuple(gone)


def _first_and_last(
    season: Season, clips: Sequence[SeasonClip], alike: Sequence[SeasonClip]
) -> tuple[Still, ...]:
    """Return the first and the latest clip with stills: of the present stage and place if any."""

    def stilled(some: Sequence[SeasonClip]) -> list[SeasonClip]:
        return [c for c in some if c.reviewed and (season.folder / c.pages / "catch.jpg").exists()]

    found = stilled(alike)
    if len({clip.date for clip in found}) < 2:
        found = stilled(clips)
    chosen = [found[0], found[-1]] if len(found) > 1 else found
    return tuple(
        Still((season.folder / c.pages).name, date_words(c.date), _where(c)) for c in chosen
    )


def _comparisons(
    season: Season, athlete: Athlete, clips: Sequence[SeasonClip]
) -> tuple[tuple[str, str], ...]:
    """Return comparisons that were made for this athlete: folder and title, by name."""
    home = season.folder / "athletes" / folder_name(athlete.name)
    found = sorted(home.glob("compared_*/index.html")) if home.is_dir() else []
    return tuple((page.parent.name, _title(page.parent.name, clips)) for page in found)


def _title(folder: str, clips: Sequence[SeasonClip]) -> str:
    before, _, after = folder.removeprefix("compared_").partition("_to_")
    return f"{_named(before, clips)} and {_named(after, clips)}"


def _named(side: str, clips: Sequence[SeasonClip]) -> str:
    """Name a side of a comparison: its day, and its clip where there are several of that day."""
    date, _, start = side.partition("_")
    of_day = [clip for clip in clips if clip.reviewed and clip.date == date]
    named = [clip.file for clip in of_day if start and clip.sha256.startswith(start)]
    if named and len(of_day) > 1:
        return f"{date_words(date)} ({named[0]})"
    return date_words(date)
