"""Reading the season: what the pages, comparisons and exports are made from."""

from __future__ import annotations

import itertools
import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.coaching.change import Summary
from analysis.coaching.findings import Finding, Hint
from analysis.coaching.repeatability import PooledSem, pooled_sem
from analysis.result import QualityPoint
from analysis.season.store import Season


@dataclass(frozen=True)
class SeasonClip:
    """One clip as the season knows it.

    Attributes
    ----------
    pages : str
        Folder of its pages, relative to the season folder.
    path : str
        The clip itself, relative to the season folder; empty when it lies on another drive.
    status : "reviewed" or "failed"
        `error` says why a failed one is; then everything about the stroke is empty.
    ready : bool or None
        For `next_stage`; `missing` says what still lacks, `only_the_clip` that it is another clip.
    """

    id: int
    sha256: str
    athlete: str
    date: str
    file: str
    path: str
    pages: str
    note: str
    status: str
    error: str
    stage: str
    stage_named: bool
    setting: str
    facing: str
    duration_s: float
    strokes: int
    standard: str
    first_check: str | None
    first_text: str
    drill: str | None
    drill_name: str
    drill_do: str
    next_stage: str | None
    ready: bool | None
    missing: tuple[str, ...]
    only_the_clip: bool
    quality: tuple[QualityPoint, ...]

    @property
    def reviewed(self) -> bool:
        """True when there is a result."""
        return self.status == "reviewed"


@dataclass(frozen=True)
class Athlete:
    """One athlete's register entry; `consent_date` and `consent_by` are empty without consent."""

    name: str
    consent_date: str
    consent_by: str

    @property
    def consented(self) -> bool:
        """True when consent was noted."""
        return bool(self.consent_date)


_CLIPS = """
    SELECT c.*, a.name AS athlete, s.date FROM clips c
    JOIN athletes a ON a.id = c.athlete_id JOIN sessions s ON s.id = c.session_id
"""
_ORDER = " ORDER BY s.date, a.name_key, c.file, c.sha256"


def clips(
    season: Season, *, athlete: str | None = None, date: str | None = None
) -> list[SeasonClip]:
    """Return clips, oldest first; of one athlete or one day when named.

    Raises
    ------
    SettingsError
        When the athlete is not known.
    """
    where: list[str] = []
    values: list[str | int] = []
    if athlete is not None:
        where.append("c.athlete_id = ?")
        values.append(season.athlete_id(athlete))
    if date is not None:
        where.append("s.date = ?")
        values.append(date)
    condition = " WHERE " + " AND ".join(where) if where else ""
    rows = season.database.execute(_CLIPS + condition + _ORDER, values)
    return [_clip(row) for row in rows]


def _clip(row: sqlite3.Row) -> SeasonClip:
    return SeasonClip(
        id=row["id"],
        sha256=row["sha256"],
        athlete=row["athlete"],
        date=row["date"],
        file=row["file"],
        path=row["path"],
        pages=row["pages"],
        note=row["note"],
        status=row["status"],
        error=row["error"],
        stage=row["stage"],
        stage_named=bool(row["stage_named"]),
        setting=row["setting"],
        facing=row["facing"],
        duration_s=known(row["duration_s"]),
        strokes=row["strokes"],
        standard=row["standard"] or "",
        first_check=row["first_check"],
        first_text=row["first_text"],
        drill=row["drill"],
        drill_name=row["drill_name"],
        drill_do=row["drill_do"],
        next_stage=row["next_stage"],
        ready=None if row["ready"] is None else bool(row["ready"]),
        missing=tuple(json.loads(row["missing"])),
        only_the_clip=bool(row["only_the_clip"]),
        quality=tuple(QualityPoint(**point) for point in json.loads(row["quality"])),
    )


def known(value: float | None) -> float:
    """Return a number from the database: NaN for NULL."""
    return math.nan if value is None else float(value)


def athletes(season: Season) -> list[Athlete]:
    """Return the register, sorted by name."""
    rows = season.database.execute(
        "SELECT name, consent_date, consent_by FROM athletes ORDER BY name_key"
    )
    return [Athlete(r["name"], r["consent_date"] or "", r["consent_by"] or "") for r in rows]


def sessions(season: Season) -> list[str]:
    """Return the days with clips, oldest first."""
    return [row["date"] for row in season.database.execute("SELECT date FROM sessions ORDER BY 1")]


def notes(season: Season, athlete: str) -> list[tuple[str, str]]:
    """Return the coach's notes on an athlete, newest first: date and text."""
    rows = season.database.execute(
        "SELECT date, text FROM notes WHERE athlete_id = ? ORDER BY date DESC, id DESC",
        (season.athlete_id(athlete),),
    )
    return [(row["date"], row["text"]) for row in rows]


def measures(season: Season, clip: SeasonClip) -> dict[str, tuple[str, Summary]]:
    """Return a clip's measures: name → (unit, summary), in the order of strokes.csv."""
    rows = season.database.execute(
        "SELECT * FROM measures WHERE clip_id = ? ORDER BY place", (clip.id,)
    )
    return {row["measure"]: (row["unit"], _summary(row)) for row in rows}


def _summary(row: sqlite3.Row) -> Summary:
    return Summary(
        mean=known(row["mean"]),
        sd=known(row["sd"]),
        n=row["n"],
        se=known(row["se"]),
        bias_se=known(row["bias_se"]),
    )


def findings(season: Season, clip: SeasonClip) -> list[Finding]:
    """Return a clip's findings, worst first."""
    rows = season.database.execute(
        "SELECT * FROM findings WHERE clip_id = ? ORDER BY place", (clip.id,)
    )
    return [_finding(dict(row)) for row in rows]


def _finding(row: dict[str, Any]) -> Finding:
    return Finding(
        check=row["check_name"],
        value=known(row["value"]),
        u=known(row["u"]),
        close=bool(row["close"]),
        **{
            name: row[name]
            for name in (
                "measure",
                "level",
                "low",
                "high",
                "unit",
                "side",
                "strokes_seen",
                "strokes",
                "because_of",
                "reason",
                "title",
                "athlete_text",
                "coach_text",
            )
        },
    )


def hints(season: Season, clip: SeasonClip) -> list[Hint]:
    """Return a clip's set-up hints."""
    rows = season.database.execute(
        "SELECT * FROM hints WHERE clip_id = ? ORDER BY place", (clip.id,)
    )
    return [Hint(row["hint"], row["text"], row["sure"], row["step"]) for row in rows]


def measured_sem(season: Season) -> Mapping[str, PooledSem]:
    """Return the SEM of each measure from repeats in the season, in the measure's unit.

    Repeats are clips of one athlete on one day at the same stage and setting, seen from the same
    side, with at least two strokes each; the SEM is that of one clip's mean.
    """
    rows = season.database.execute(
        """
        SELECT m.measure, c.athlete_id, c.session_id, c.stage, c.setting, c.facing, m.mean
        FROM measures m JOIN clips c ON c.id = m.clip_id
        WHERE m.n >= 2 AND m.mean IS NOT NULL
        ORDER BY m.measure, c.athlete_id, c.session_id, c.stage, c.setting, c.facing, c.sha256
        """
    )
    groups: dict[str, dict[tuple[Any, ...], list[float]]] = {}
    for row in rows:
        groups.setdefault(row["measure"], {}).setdefault(tuple(row)[1:6], []).append(row["mean"])
    return {
        measure: pooled_sem([np.array(means) for means in found.values()])
        for measure, found in groups.items()
    }


def squad_sem(season: Season, *, without: str) -> Mapping[str, PooledSem]:
    """Return the SEM of each measure from how the squad changed between days, in its unit.

    The day means of each athlete but one, at one stage and setting and from one side, are
    subtracted from those of the athlete's day before; what all who were filmed on the same two days
    have in common is taken out, and √2 as well: SEM = SD of the differences ÷ √2 (Weir JP,
    J Strength Cond Res 2005;19:231–240).

    Parameters
    ----------
    season : Season
    without : str
        The athlete who is to be judged by it.
    """
    rows = season.database.execute(
        """
        SELECT m.measure, c.athlete_id, c.stage, c.setting, c.facing, s.date,
            sum(m.n * m.mean) / sum(m.n) AS mean
        FROM measures m JOIN clips c ON c.id = m.clip_id JOIN sessions s ON s.id = c.session_id
        WHERE m.n >= 2 AND m.mean IS NOT NULL AND c.athlete_id != ?
        GROUP BY m.measure, c.athlete_id, c.stage, c.setting, c.facing, s.date
        ORDER BY m.measure, c.athlete_id, c.stage, c.setting, c.facing, s.date
        """,
        (season.athlete_id(without),),
    ).fetchall()
    changes: dict[str, dict[tuple[Any, ...], list[float]]] = {}
    for one, other in itertools.pairwise(rows):
        if tuple(one)[:5] == tuple(other)[:5]:
            days = (one["stage"], one["setting"], one["date"], other["date"])
            of_measure = changes.setdefault(one["measure"], {})
            of_measure.setdefault(days, []).append(other["mean"] - one["mean"])
    pooled = {
        measure: pooled_sem([np.array(group) for group in groups.values()])
        for measure, groups in changes.items()
    }
    return {m: PooledSem(found.sem / math.sqrt(2.0), found.df) for m, found in pooled.items()}


def latest(found: Sequence[SeasonClip]) -> SeasonClip | None:
    """Return the clip that tells how an athlete rows now: of the last day, with most strokes."""
    reviewed = [clip for clip in found if clip.reviewed]
    return max(reviewed, key=lambda c: (c.date, c.strokes, c.file), default=None)
