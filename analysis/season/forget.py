"""Forgetting an athlete: what there is, taking it away, and showing that it has gone.

What was exported, shared or printed before is out of reach; the words for the coach say so.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from markupsafe import escape

from analysis.season import read
from analysis.season.export import write_private
from analysis.season.record import folder_name, name_key
from analysis.season.schema import FILE_NAME, transaction
from analysis.season.sheet import without_athlete
from analysis.season.store import Season

_TABLES = ("clips", "strokes", "stroke_values", "measures", "findings", "hints")

#: Files of corrections are smaller.
_CORRECTIONS_BYTES = 1_000_000

#: Files in which names are written as text.
_TEXTS = (".html", ".json", ".csv", ".toml", ".txt", ".svg", ".log", ".md", ".part")


@dataclass(frozen=True)
class Traces:
    """Everything of one athlete.

    Attributes
    ----------
    athlete : str
        As the season writes it.
    rows : mapping of str to int
        Rows in each table of the season.
    folders : tuple of Path
        Pages, annotated clips, stills and comparisons.
    shared : tuple of Path
        Folders that were made to be shared and are still where they were made.
    clips : tuple of Path
        The filmed clips themselves, copies in the same folder included.
    corrections : tuple of Path
        Files of corrections to them, in the same folders.
    sheets : tuple of (Path, int)
        Session sheets that name the athlete, and in how many lines.
    hashes, files : tuple of str
        Fingerprints of the clips, and those of their file names that no other athlete's clip has:
        what to search for afterwards.
    """

    athlete: str
    rows: Mapping[str, int]
    folders: tuple[Path, ...]
    shared: tuple[Path, ...]
    clips: tuple[Path, ...]
    corrections: tuple[Path, ...]
    sheets: tuple[tuple[Path, int], ...]
    hashes: tuple[str, ...]
    files: tuple[str, ...]


def traces(season: Season, name: str) -> Traces:
    """Find everything of one athlete; nothing is changed.

    Raises
    ------
    SettingsError
        When nobody of that name is known.
    """
    athlete = season.athlete_id(name)
    written = season.database.execute(
        "SELECT name FROM athletes WHERE id = ?", (athlete,)
    ).fetchone()["name"]
    clips = read.clips(season, athlete=name)
    mine = "(SELECT id FROM clips WHERE athlete_id = ?)"
    rows = {"athletes": 1}
    for table in _TABLES:
        which = "athlete_id = ?" if table == "clips" else f"clip_id IN {mine}"
        query = f"SELECT count(*) FROM {table} WHERE {which}"
        rows[table] = season.database.execute(query, (athlete,)).fetchone()[0]
    rows["notes"] = season.database.execute(
        "SELECT count(*) FROM notes WHERE athlete_id = ?", (athlete,)
    ).fetchone()[0]
    home = season.folder / "athletes" / folder_name(written)
    folders = {home} | {season.folder / clip.pages for clip in clips}
    hashes = tuple(clip.sha256 for clip in clips)
    others = {clip.file for clip in read.clips(season) if clip.sha256 not in hashes}
    return Traces(
        athlete=written,
        rows=rows,
        folders=tuple(sorted(f for f in folders if f.exists() and not _inside(f, home))),
        shared=tuple(_shared(season, hashes)),
        clips=tuple(_clip_files(season, clips)),
        corrections=tuple(_corrections(season, clips)),
        sheets=tuple(_sheets(season, name_key(written))),
        hashes=hashes,
        files=tuple(sorted({clip.file for clip in clips} - others)),
    )


def _inside(folder: Path, home: Path) -> bool:
    return folder != home and home in folder.parents and home.exists()


def _shared(season: Season, hashes: tuple[str, ...]) -> Iterator[Path]:
    paths = {path: None for path, sha256 in season.shared() if sha256 in hashes}
    for path in paths:
        folder = season.folder / path
        # Another thing that was put there since is none of ours.
        if any((folder / name).is_file() for name in ("review.json", "in_step.mp4")):
            yield folder.resolve()


def _clip_files(season: Season, clips: list[read.SeasonClip]) -> Iterator[Path]:
    """Give the clips' own files and copies of them beside; another file of that name stays."""
    hashes = {clip.sha256 for clip in clips}
    seen: set[Path] = set()
    for clip in clips:
        path = season.folder / clip.path
        if not clip.path or not path.is_file():
            continue
        size = path.stat().st_size
        for beside in sorted(path.parent.iterdir()):
            place = beside.resolve()
            if place in seen or not beside.is_file() or beside.stat().st_size != size:
                continue
            with beside.open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
            if found in hashes:
                seen.add(place)
                yield place


def _corrections(season: Season, clips: list[read.SeasonClip]) -> Iterator[Path]:
    """Give small JSON files beside the clips that say which clip they are for."""
    marks = [clip.sha256.encode() for clip in clips]
    folders = {(season.folder / clip.path).parent.resolve() for clip in clips if clip.path}
    for folder in sorted(folder for folder in folders if folder.is_dir()):
        for path in sorted(folder.glob("*.json")):
            if path.is_file() and path.stat().st_size <= _CORRECTIONS_BYTES:
                content = path.read_bytes()
                if any(mark in content for mark in marks):
                    yield path


def _sheets(season: Season, key: str) -> Iterator[tuple[Path, int]]:
    for sheet in season.sheets():
        path = season.folder / sheet
        if path.is_file():
            lines = without_athlete(path.read_bytes(), key)[1]
            if lines:
                yield path.resolve(), lines


def forget(season: Season, found: Traces, *, keep_clips: bool = False) -> None:
    """Remove what was found: files first, rows last, so that a killed run can be repeated.

    Parameters
    ----------
    season : Season
    found : Traces
    keep_clips : bool
        Leave the filmed clips and the sheets as they are.

    Raises
    ------
    OSError
        When a file cannot be removed; the rows are still there then.
    SideonError
        The same for landmarks that were kept of a clip.
    """
    from analysis.kept_files import drop

    for folder in (*found.folders, *found.shared):
        shutil.rmtree(folder)
    for sha256 in found.hashes:
        drop(sha256)
    if not keep_clips:
        for file in (*found.clips, *found.corrections):
            file.unlink(missing_ok=True)
        for sheet, _ in found.sheets:
            content, _ = without_athlete(sheet.read_bytes(), name_key(found.athlete))
            write_private(sheet, content)
    database = season.database
    with transaction(database):
        database.executemany(
            "DELETE FROM shared WHERE sha256 = ?", [(sha256,) for sha256 in found.hashes]
        )
        database.execute("DELETE FROM athletes WHERE name_key = ?", (name_key(found.athlete),))
        season.tidy()
    # Rows are overwritten as they are deleted; this also rids the file of freed pages and the
    # journal of earlier versions of them.
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    database.execute("VACUUM")
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def remains(season: Season, found: Traces) -> list[str]:
    """Search the whole season folder for what should be gone; name every place still found.

    The athlete's name as a word of its own (unless it is part of another athlete's name) in every
    table and page; the clips' fingerprints and file names in every byte of every file. Also whether
    a folder made to be shared or landmarks kept of a clip are still there.
    """
    from analysis.kept_files import cache_folder

    places = [str(folder) for folder in (*found.folders, *found.shared) if folder.exists()]
    for sha256 in found.hashes:
        places += [str(path) for path in sorted(cache_folder().glob(f"{sha256}*"))]
    others = [n for n in season.athletes() if name_key(n) != name_key(found.athlete)]
    word = _word(found.athlete)
    places += _in_tables(season, word, others)
    escaped = _word(str(escape(found.athlete)))
    marks = [mark.encode() for mark in (*found.hashes, *found.files)]
    # In the database's raw bytes only a name that is long enough not to stand there by chance.
    inside = any(found.athlete.casefold() in other.casefold() for other in others)
    sought = len(found.athlete) >= 6 and not inside
    for path in _files(season.folder):
        content = path.read_bytes()
        named = False
        if path.suffix in _TEXTS:
            text = _without(content.decode(errors="replace"), others)
            named = bool(word.search(text) or escaped.search(text))
        if named or any(mark in content for mark in marks):
            places.append(str(path))
        elif sought and path.name.startswith(FILE_NAME) and found.athlete.encode() in content:
            places.append(f"{path}, in bytes that belong to no row")
    return list(dict.fromkeys(places))


def _word(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.IGNORECASE)


def _without(text: str, others: list[str]) -> str:
    """Take other athletes' names out of a text, the longest first."""
    for other in sorted(others, key=len, reverse=True):
        text = _word(other).sub("", text)
        text = _word(str(escape(other))).sub("", text)
    return text


def _in_tables(season: Season, word: re.Pattern[str], others: list[str]) -> Iterator[str]:
    names = [
        row["name"]
        for row in season.database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    ]
    for table in names:
        for row in season.database.execute(f"SELECT * FROM {table}"):
            for column in row.keys():  # noqa: SIM118 – a Row's iteration gives values
                value = row[column]
                if isinstance(value, str) and word.search(_without(value, others)):
                    yield f"the season's {table}, {column}: {value[:80]}"


def _files(folder: Path) -> Iterator[Path]:
    for place, _, names in os.walk(folder):
        yield from (Path(place) / name for name in sorted(names))
