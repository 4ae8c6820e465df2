"""Everything the season knows, in open formats.

CSV: one file a table, UTF-8 with its mark, one header line. JSON: one document. Neither holds row
numbers of the database: clips are told apart by their SHA-256.
"""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analysis.errors import SettingsError
from analysis.season.store import Season

#: Version of names, columns and keys.
SCHEMA = 2

_CLIP = "c.sha256, a.name AS athlete, s.date, c.file"
_JOIN = (
    " JOIN clips c ON c.id = t.clip_id JOIN athletes a ON a.id = c.athlete_id"
    " JOIN sessions s ON s.id = c.session_id"
)
_ORDER = " ORDER BY s.date, a.name_key, c.file, c.sha256"

#: The tables of an export and what fills them.
QUERIES: Mapping[str, str] = {
    "athletes": "SELECT name, consent_date, consent_by FROM athletes ORDER BY name_key",
    "clips": (
        "SELECT c.sha256, a.name AS athlete, s.date, c.file, c.path, c.pages, c.note, c.status,"
        " c.error, c.stage, c.stage_named, c.setting, c.facing, c.duration_s, c.strokes,"
        " c.neutral_raw_deg, c.standard, c.first_check, c.first_text, c.drill, c.drill_name,"
        " c.next_stage, c.ready, c.missing, c.only_the_clip, c.quality, c.versions, c.settings_key"
        " FROM clips c JOIN athletes a ON a.id = c.athlete_id"
        " JOIN sessions s ON s.id = c.session_id" + _ORDER
    ),
    "measures": (
        f"SELECT {_CLIP}, t.measure, t.unit, t.mean, t.sd, t.n, t.se, t.bias_se"
        f" FROM measures t{_JOIN}{_ORDER}, t.place"
    ),
    "strokes": (
        f"SELECT {_CLIP}, t.stroke, t.catch_s, t.release_s, t.next_catch_s, t.full_compression_s,"
        f" t.stage FROM strokes t{_JOIN}{_ORDER}, t.stroke"
    ),
    "stroke_values": (
        f"SELECT {_CLIP}, t.stroke, t.measure, t.value, t.se"
        f" FROM stroke_values t{_JOIN}{_ORDER}, t.stroke, t.measure"
    ),
    "findings": (
        f'SELECT {_CLIP}, t.check_name AS "check", t.measure, t.level, t.value, t.u, t.low,'
        " t.high, t.unit, t.side, t.strokes_seen, t.strokes, t.close, t.because_of, t.reason,"
        f" t.title, t.athlete_text, t.coach_text FROM findings t{_JOIN}{_ORDER}, t.place"
    ),
    "hints": (
        f"SELECT {_CLIP}, t.hint, t.text, t.sure, t.step FROM hints t{_JOIN}{_ORDER}, t.place"
    ),
    "notes": (
        "SELECT a.name AS athlete, t.date, t.text FROM notes t"
        " JOIN athletes a ON a.id = t.athlete_id ORDER BY a.name_key, t.date, t.id"
    ),
    "shared": "SELECT path, sha256 FROM shared ORDER BY path, sha256",
    "standards": "SELECT digest, name, title, version, text FROM standards ORDER BY digest",
}

#: Columns that the database keeps as JSON.
_NESTED = ("missing", "quality", "versions")


def season_data(season: Season) -> dict[str, Any]:
    """Return the whole season as plain data, one list of rows a table; missing is ``None``."""
    data: dict[str, Any] = {"schema": SCHEMA}
    for table, query in QUERIES.items():
        rows = [dict(row) for row in season.database.execute(query)]
        for row in rows:
            for name in _NESTED:
                if name in row:
                    row[name] = json.loads(row[name])
        data[table] = rows
    return data


def export_json(season: Season) -> str:
    """Return the whole season as one JSON document."""
    return json.dumps(season_data(season), ensure_ascii=False, indent=1) + "\n"


def write_json(season: Season, path: Path) -> None:
    """Write the whole season as one JSON document, readable for its owner alone.

    Raises
    ------
    SettingsError
        When the file cannot be written.
    """
    try:
        write_private(path, export_json(season).encode())
    except OSError as error:
        raise SettingsError(
            f"The export cannot be written to {path} ({error.strerror}): name another --out."
        ) from error


def export_csv(season: Season, folder: Path) -> list[Path]:
    """Write the season as CSV files into `folder`, readable for their owner alone.

    Text that a spreadsheet would take for a formula gets a ``'`` before it.

    Raises
    ------
    SettingsError
        When the folder cannot be written to.
    """
    written = []
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for table, query in QUERIES.items():
            found = season.database.execute(query)
            text = io.StringIO()
            writer = csv.writer(text, lineterminator="\n")
            writer.writerow([column[0] for column in found.description])
            writer.writerows([_cell(value) for value in row] for row in found)
            path = folder / f"{table}.csv"
            write_private(path, text.getvalue().encode("utf-8-sig"))
            written.append(path)
    except OSError as error:
        raise SettingsError(
            f"The export cannot be written to {folder} ({error.strerror}): name another --out."
        ) from error
    return written


def write_private(path: Path, content: bytes) -> None:
    """Write a file for its owner alone, whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        handle = os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.replace(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return "'" + value
    return "" if value is None else value
