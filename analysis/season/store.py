"""The season: athletes, sessions, clips, findings and notes, written one clip at a time.

Every write is one transaction, so that a run killed at any moment loses at most the clip it was
working on, and two runs at once only take turns.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from analysis.errors import SettingsError
from analysis.season.record import ClipRecord, clip_folder_name, folder_name, name_key
from analysis.season.schema import open_database, problems_of, transaction


@dataclass(frozen=True)
class ClipPlace:
    """Which clip it is and whose.

    Attributes
    ----------
    sha256, file : str
        Of the content, and the bare file name.
    path : str
        Relative to the season folder, with ``/``; empty when the clip lies on another drive.
    athlete, date, note : str
        `date` as ``YYYY-MM-DD``.
    settings_key : str
        Fingerprint of everything else that the result depends on.
    """

    sha256: str
    file: str
    path: str
    athlete: str
    date: str
    note: str
    settings_key: str

    @property
    def pages(self) -> str:
        """Folder of the clip's pages, relative to the season folder."""
        clip = clip_folder_name(self.date, self.file, self.sha256)
        return f"athletes/{folder_name(self.athlete)}/{clip}"


@dataclass(frozen=True)
class StandardText:
    """A standard in force, kept word for word."""

    digest: str
    name: str
    title: str
    version: str
    text: str


@dataclass(frozen=True)
class Known:
    """What the season already knows of a clip's content."""

    settings_key: str
    status: str
    error: str
    athlete: str
    date: str
    note: str
    path: str
    pages: str
    again: bool


class Season:
    """An open season folder; a context manager.

    Parameters
    ----------
    folder : Path
    create : bool
        Start a season when there is none.

    Raises
    ------
    SettingsError
        See :func:`analysis.season.schema.open_database`.
    """

    def __init__(self, folder: Path, *, create: bool = True) -> None:
        self.folder = folder
        self.database = open_database(folder, create=create)
        self.database.row_factory = sqlite3.Row

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was written is on the disk already."""
        self.database.close()

    def check(self) -> list[str]:
        """Return what a full check of the file finds wrong, nothing when sound."""
        return problems_of(self.database)

    # --- athletes ---------------------------------------------------------------------------

    def athletes(self) -> list[str]:
        """Return the athletes' names, sorted."""
        rows = self.database.execute("SELECT name FROM athletes ORDER BY name_key")
        return [row["name"] for row in rows]

    def athlete_id(self, name: str) -> int:
        """Return an athlete's row.

        Raises
        ------
        SettingsError
            When nobody of that name is known.
        """
        found = self.database.execute(
            "SELECT id FROM athletes WHERE name_key = ?", (name_key(name),)
        ).fetchone()
        if found is None:
            known = ", ".join(self.athletes()) or "nobody yet"
            raise SettingsError(f"{name} is not known in this season; known are: {known}.")
        return int(found["id"])

    def consent(self, name: str, date: str, by: str) -> None:
        """Note that `by` gave consent for this athlete's video on `date`; adds who is new."""
        with transaction(self.database):
            athlete = self._athlete(name)
            self.database.execute(
                "UPDATE athletes SET consent_date = ?, consent_by = ? WHERE id = ?",
                (date, by, athlete),
            )

    def withdraw_consent(self, name: str) -> None:
        """Note that there is no consent (any more)."""
        with transaction(self.database):
            self.database.execute(
                "UPDATE athletes SET consent_date = NULL, consent_by = NULL WHERE id = ?",
                (self.athlete_id(name),),
            )

    def write_note(self, name: str, date: str, text: str) -> None:
        """Add a coach's note on an athlete."""
        with transaction(self.database):
            self.database.execute(
                "INSERT INTO notes (athlete_id, date, text) VALUES (?, ?, ?)",
                (self.athlete_id(name), date, text),
            )

    def remember_sheet(self, path: str) -> None:
        """Remember where a session sheet lies, relative to the season folder."""
        with transaction(self.database):
            self.database.execute("INSERT OR IGNORE INTO sheets VALUES (?)", (path,))

    def sheets(self) -> list[str]:
        """Return the sheets that were read for this season."""
        return [row["path"] for row in self.database.execute("SELECT path FROM sheets")]

    def remember_shared(self, path: str, hashes: Sequence[str]) -> None:
        """Remember a folder made of clips to be shared, relative to the season folder."""
        with transaction(self.database):
            self.database.execute("DELETE FROM shared WHERE path = ?", (path,))
            self.database.executemany(
                "INSERT OR IGNORE INTO shared VALUES (?, ?)", [(path, sha) for sha in hashes]
            )

    def shared(self) -> list[tuple[str, str]]:
        """Return the folders made to be shared, each with the fingerprints of what it shows."""
        rows = self.database.execute("SELECT path, sha256 FROM shared ORDER BY path, sha256")
        return [(row["path"], row["sha256"]) for row in rows]

    # --- clips ------------------------------------------------------------------------------

    def known(self, sha256: str) -> Known | None:
        """Return what is known of a clip by its content."""
        row = self.database.execute(
            """
            SELECT settings_key, status, error, a.name AS athlete, date, note, path, pages, again
            FROM clips c JOIN athletes a ON a.id = c.athlete_id
            JOIN sessions s ON s.id = c.session_id WHERE sha256 = ?
            """,
            (sha256,),
        ).fetchone()
        return None if row is None else Known(**{**dict(row), "again": bool(row["again"])})

    def save(
        self,
        place: ClipPlace,
        result: ClipRecord | str,
        standard: StandardText,
        *,
        again: bool = False,
    ) -> list[str]:
        """Write a clip with everything that belongs to it, in place of what was there.

        Parameters
        ----------
        place : ClipPlace
        result : ClipRecord or str
            The review, or why there is none.
        standard : StandardText
            The standard that was in force.
        again : bool
            For a failure that another try may mend, such as lack of memory.

        Returns
        -------
        list of str
            Folders of pages that belong to no clip any more, relative to the season folder.
        """
        database = self.database
        with transaction(database):
            # Another content under the same path is the clip's earlier version.
            stale = database.execute(
                "SELECT id, pages, sha256 FROM clips WHERE sha256 = ? OR (path = ? AND path != '')",
                (place.sha256, place.path),
            ).fetchall()
            database.executemany("DELETE FROM clips WHERE id = ?", [(r["id"],) for r in stale])
            # What was shared of the earlier version still shows whoever the clip shows now.
            database.executemany(
                "UPDATE OR IGNORE shared SET sha256 = ? WHERE sha256 = ?",
                [(place.sha256, row["sha256"]) for row in stale],
            )
            database.execute(
                "INSERT INTO standards VALUES (?, ?, ?, ?, ?) ON CONFLICT (digest) DO NOTHING",
                (standard.digest, standard.name, standard.title, standard.version, standard.text),
            )
            facts: dict[str, Any] = {
                "sha256": place.sha256,
                "athlete_id": self._athlete(place.athlete),
                "session_id": self._session(place.date),
                "file": place.file,
                "path": place.path,
                "pages": place.pages,
                "note": place.note,
                "settings_key": place.settings_key,
                "standard": standard.digest,
                "status": "failed" if isinstance(result, str) else "reviewed",
                "error": result if isinstance(result, str) else "",
                "again": int(again),
            }
            if isinstance(result, ClipRecord):
                facts |= _clip_facts(result)
            clip = _insert(database, "clips", facts)
            if isinstance(result, ClipRecord):
                _insert_parts(database, clip, result)
            self.tidy()
        return [row["pages"] for row in stale if row["pages"] != place.pages]

    def move(self, place: ClipPlace) -> None:
        """Note a new path or note of a clip whose result stands."""
        with transaction(self.database):
            self.database.execute(
                "UPDATE clips SET path = ?, file = ?, note = ? WHERE sha256 = ?",
                (place.path, place.file, place.note, place.sha256),
            )

    def _athlete(self, name: str) -> int:
        self.database.execute(
            "INSERT OR IGNORE INTO athletes (name, name_key) VALUES (?, ?)",
            (" ".join(name.split()), name_key(name)),
        )
        return self.athlete_id(name)

    def _session(self, date: str) -> int:
        self.database.execute("INSERT OR IGNORE INTO sessions (date) VALUES (?)", (date,))
        row = self.database.execute("SELECT id FROM sessions WHERE date = ?", (date,)).fetchone()
        return int(row["id"])

    def tidy(self) -> None:
        """Drop what no clip belongs to any more; who has notes or consent stays.

        Inside a transaction of the caller's.
        """
        self.database.execute("DELETE FROM sessions WHERE id NOT IN (SELECT session_id FROM clips)")
        self.database.execute(
            "DELETE FROM standards WHERE digest NOT IN"
            " (SELECT standard FROM clips WHERE standard IS NOT NULL)"
        )
        self.database.execute(
            "DELETE FROM athletes WHERE consent_date IS NULL"
            " AND id NOT IN (SELECT athlete_id FROM clips)"
            " AND id NOT IN (SELECT athlete_id FROM notes)"
        )


def number(value: float) -> float | None:
    """Return a number for the database: NULL when it cannot be told."""
    return value if math.isfinite(value) else None


def _insert(database: sqlite3.Connection, table: str, facts: Mapping[str, Any]) -> int:
    marks = ", ".join("?" for _ in facts)
    done = database.execute(
        f"INSERT INTO {table} ({', '.join(facts)}) VALUES ({marks})", tuple(facts.values())
    )
    return int(done.lastrowid or 0)


def _clip_facts(record: ClipRecord) -> dict[str, Any]:
    drill, ready = record.drill, record.readiness
    return {
        "stage": record.stage,
        "stage_named": int(record.stage_named),
        "setting": record.setting,
        "facing": record.facing,
        "duration_s": number(record.duration_s),
        "strokes": len(record.strokes),
        "neutral_raw_deg": number(record.neutral_raw_deg),
        "first_check": record.first_check,
        "first_text": record.first_text,
        "drill": drill.key if drill else None,
        "drill_name": drill.name if drill else "",
        "drill_do": drill.do if drill else "",
        "next_stage": ready.next_stage,
        "ready": None if ready.ready is None else int(ready.ready),
        "missing": json.dumps(ready.missing, ensure_ascii=False),
        "only_the_clip": int(ready.only_the_clip),
        "quality": json.dumps([asdict(point) for point in record.quality], ensure_ascii=False),
        "versions": json.dumps(dict(record.versions), ensure_ascii=False, sort_keys=True),
    }


def _insert_parts(database: sqlite3.Connection, clip: int, record: ClipRecord) -> None:
    """Write strokes, measures, findings and hints of one clip."""
    for place, stroke in enumerate(record.strokes, 1):
        events = (stroke.catch_s, stroke.release_s, stroke.next_catch_s)
        database.execute(
            "INSERT INTO strokes VALUES (?, ?, ?, ?, ?, ?, ?)",
            (clip, place, *events, number(stroke.full_compression_s), stroke.stage),
        )
        database.executemany(
            "INSERT INTO stroke_values VALUES (?, ?, ?, ?, ?)",
            [(clip, place, m, value, number(se)) for m, (value, se) in stroke.values.items()],
        )
    for place, (measure, (unit, s)) in enumerate(record.measures.items()):
        told = (number(s.mean), number(s.sd), s.n, number(s.se), number(s.bias_se))
        database.execute(
            "INSERT INTO measures VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (clip, measure, place, unit, *told),
        )
    for place, finding in enumerate(record.findings):
        facts = {
            "clip_id": clip,
            "measure": finding.measure,
            "place": place,
            "check_name": finding.check,
            "value": number(finding.value),
            "u": number(finding.u),
            "close": int(finding.close),
        }
        same = ("level", "low", "high", "unit", "side", "strokes_seen", "strokes", "because_of")
        words = ("reason", "title", "athlete_text", "coach_text")
        facts |= {name: getattr(finding, name) for name in (*same, *words)}
        _insert(database, "findings", facts)
    for place, hint in enumerate(record.hints):
        database.execute(
            "INSERT INTO hints VALUES (?, ?, ?, ?, ?, ?)",
            (clip, place, hint.key, hint.text, hint.sure, hint.step),
        )
