"""The season's one SQLite file: how it is opened, and how its tables came to be.

Each migration runs in one transaction together with its own record, so that a file is always at
one version or the next. Migrations that have been released are never edited: add one.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from analysis.errors import SettingsError

#: The file's name inside the season folder.
FILE_NAME = "season.sqlite"

#: How long one run waits for another that is writing, s.
BUSY_S = 30.0

#: "SIDE" in ASCII: tells the file apart from any other SQLite file.
APPLICATION_ID = 0x53494445

_FIRST = (
    """
    CREATE TABLE athletes (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        name_key TEXT NOT NULL UNIQUE,
        consent_date TEXT,
        consent_by TEXT,
        CHECK ((consent_date IS NULL) = (consent_by IS NULL))
    )
    """,
    """
    CREATE TABLE sessions (
        id INTEGER PRIMARY KEY,
        date TEXT NOT NULL UNIQUE CHECK (date GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')
    )
    """,
    """
    CREATE TABLE sheets (
        path TEXT PRIMARY KEY
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE standards (
        digest TEXT PRIMARY KEY,
        name TEXT NOT NULL,
        title TEXT NOT NULL,
        version TEXT NOT NULL,
        text TEXT NOT NULL
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE clips (
        id INTEGER PRIMARY KEY,
        sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
        athlete_id INTEGER NOT NULL REFERENCES athletes (id) ON DELETE CASCADE,
        session_id INTEGER NOT NULL REFERENCES sessions (id),
        file TEXT NOT NULL,
        path TEXT NOT NULL,
        pages TEXT NOT NULL,
        note TEXT NOT NULL,
        settings_key TEXT NOT NULL,
        status TEXT NOT NULL CHECK (status IN ('reviewed', 'failed')),
        error TEXT NOT NULL DEFAULT '',
        again INTEGER NOT NULL DEFAULT 0 CHECK (again IN (0, 1)),
        stage TEXT NOT NULL DEFAULT '',
        stage_named INTEGER NOT NULL DEFAULT 0,
        setting TEXT NOT NULL DEFAULT '',
        facing TEXT NOT NULL DEFAULT '',
        duration_s REAL,
        strokes INTEGER NOT NULL DEFAULT 0,
        neutral_raw_deg REAL,
        standard TEXT REFERENCES standards (digest),
        first_check TEXT,
        first_text TEXT NOT NULL DEFAULT '',
        drill TEXT,
        drill_name TEXT NOT NULL DEFAULT '',
        drill_do TEXT NOT NULL DEFAULT '',
        next_stage TEXT,
        ready INTEGER,
        missing TEXT NOT NULL DEFAULT '[]',
        quality TEXT NOT NULL DEFAULT '[]',
        versions TEXT NOT NULL DEFAULT '{}'
    )
    """,
    "CREATE INDEX clips_of_athlete ON clips (athlete_id, session_id)",
    "CREATE INDEX clips_by_path ON clips (path)",
    """
    CREATE TABLE strokes (
        clip_id INTEGER NOT NULL REFERENCES clips (id) ON DELETE CASCADE,
        stroke INTEGER NOT NULL,
        catch_s REAL NOT NULL,
        release_s REAL NOT NULL,
        next_catch_s REAL NOT NULL,
        full_compression_s REAL,
        stage TEXT NOT NULL,
        PRIMARY KEY (clip_id, stroke)
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE stroke_values (
        clip_id INTEGER NOT NULL,
        stroke INTEGER NOT NULL,
        measure TEXT NOT NULL,
        value REAL NOT NULL,
        se REAL,
        PRIMARY KEY (clip_id, stroke, measure),
        FOREIGN KEY (clip_id, stroke) REFERENCES strokes (clip_id, stroke) ON DELETE CASCADE
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE measures (
        clip_id INTEGER NOT NULL REFERENCES clips (id) ON DELETE CASCADE,
        measure TEXT NOT NULL,
        place INTEGER NOT NULL,
        unit TEXT NOT NULL,
        mean REAL,
        sd REAL,
        n INTEGER NOT NULL,
        se REAL,
        bias_se REAL,
        PRIMARY KEY (clip_id, measure)
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE findings (
        clip_id INTEGER NOT NULL REFERENCES clips (id) ON DELETE CASCADE,
        measure TEXT NOT NULL,
        place INTEGER NOT NULL,
        check_name TEXT NOT NULL,
        level TEXT NOT NULL,
        value REAL,
        u REAL,
        low REAL,
        high REAL,
        unit TEXT NOT NULL,
        side TEXT,
        strokes_seen INTEGER NOT NULL,
        strokes INTEGER NOT NULL,
        close INTEGER NOT NULL,
        because_of TEXT,
        reason TEXT NOT NULL,
        title TEXT NOT NULL,
        athlete_text TEXT NOT NULL,
        coach_text TEXT NOT NULL,
        PRIMARY KEY (clip_id, measure)
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE hints (
        clip_id INTEGER NOT NULL REFERENCES clips (id) ON DELETE CASCADE,
        place INTEGER NOT NULL,
        hint TEXT NOT NULL,
        text TEXT NOT NULL,
        sure TEXT NOT NULL,
        step TEXT NOT NULL,
        PRIMARY KEY (clip_id, place)
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE notes (
        id INTEGER PRIMARY KEY,
        athlete_id INTEGER NOT NULL REFERENCES athletes (id) ON DELETE CASCADE,
        date TEXT NOT NULL,
        text TEXT NOT NULL
    )
    """,
)

_SHARED = (
    # Folders made to be shared, relative to the season; found again when somebody is forgotten.
    """
    CREATE TABLE shared (
        path TEXT NOT NULL,
        sha256 TEXT NOT NULL,
        PRIMARY KEY (path, sha256)
    ) WITHOUT ROWID
    """,
)

_ONLY_THE_CLIP = (
    # Of what lacks for the next step: whether all of it is another clip. Clips that were written
    # before are told by how those sentences began then.
    "ALTER TABLE clips ADD COLUMN only_the_clip INTEGER NOT NULL DEFAULT 0",
    """
    UPDATE clips SET only_the_clip = 1 WHERE missing <> '[]' AND NOT EXISTS
    (SELECT 1 FROM json_each(clips.missing) WHERE value NOT LIKE 'a clip %')
    """,
)

#: Every step from an empty file to the present one, in order; its number is its place from 1.
MIGRATIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("athletes, clips, findings", _FIRST),
    ("what was made to be shared", _SHARED),
    ("whether only another clip lacks", _ONLY_THE_CLIP),
)


def open_database(folder: Path, *, create: bool = True) -> sqlite3.Connection:
    """Open the season's database, bringing it to the present version.

    Parameters
    ----------
    folder : Path
        The season folder; made for its owner alone when `create` and it is not there yet.

    Returns
    -------
    sqlite3.Connection
        In autocommit; writes go through :func:`transaction`.

    Raises
    ------
    SettingsError
        When there is no season, the file is damaged, something else, or of a newer version.
    """
    path = folder / FILE_NAME
    if not path.exists():
        if not create:
            raise SettingsError(
                f"There is no season in {folder}: name it with --season, "
                f"or start one with  sideon squad CLIPS --season {folder}"
            )
        _make_private(folder, path)
    database = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    try:
        _refuse_strangers(database, path)
        _set_up(database)
        migrate(database)
    except sqlite3.DatabaseError as error:
        database.close()
        if isinstance(error, sqlite3.OperationalError):
            raise SettingsError(
                f"{path} cannot be opened ({error}): is another program holding it, or may it not "
                f"be written?"
            ) from error
        raise SettingsError(
            f"{path} is damaged or no season file ({error}): put back a copy of it, or move it "
            f"away and review the clips again."
        ) from error
    except SettingsError:
        database.close()
        raise
    return database


def _make_private(folder: Path, path: Path) -> None:
    if not folder.exists():
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)  # another run may just have
    try:
        # SQLite gives its journal files the permissions of the database itself.
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        raise SettingsError(
            f"No season can be kept in {folder} ({error.strerror}): choose another folder."
        ) from error


def _set_up(database: sqlite3.Connection) -> None:
    _use_wal(database)
    database.execute("PRAGMA synchronous = FULL")
    database.execute("PRAGMA foreign_keys = ON")
    # What is deleted is overwritten at once: an athlete who is forgotten leaves no bytes behind.
    database.execute("PRAGMA secure_delete = ON")
    database.execute("PRAGMA temp_store = MEMORY")


def _use_wal(database: sqlite3.Connection) -> None:
    """Switch to WAL; SQLite's own busy time-out does not wait for this switch, so we do."""
    give_up_at = time.monotonic() + BUSY_S
    while True:
        try:
            database.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > give_up_at:
                raise
            time.sleep(0.01)


def _refuse_strangers(database: sqlite3.Connection, path: Path) -> None:
    # In one snapshot: another run may be making the tables at this very moment.
    database.execute("BEGIN")
    found = database.execute("PRAGMA application_id").fetchone()[0]
    tables = database.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    database.execute("COMMIT")
    if found != APPLICATION_ID and (found or tables):
        raise SettingsError(f"{path} is some other program's file: choose another season folder.")
    version = version_of(database)
    if version > len(MIGRATIONS):
        raise SettingsError(
            f"{path} was written by a newer sideon (version {version} of its tables, this one "
            f"knows {len(MIGRATIONS)}): update sideon."
        )
    problems = [row[0] for row in database.execute("PRAGMA quick_check(3)") if row[0] != "ok"]
    if problems:
        raise sqlite3.DatabaseError("; ".join(problems))


def version_of(database: sqlite3.Connection) -> int:
    """Return how many migrations the file has had."""
    return int(database.execute("PRAGMA user_version").fetchone()[0])


def migrate(
    database: sqlite3.Connection,
    migrations: tuple[tuple[str, tuple[str, ...]], ...] = MIGRATIONS,
) -> None:
    """Bring the file to the present version; what is already there is left alone."""
    while version_of(database) < len(migrations):
        with transaction(database):
            # Another run may have done it while this one waited for the lock.
            done = version_of(database)
            if done >= len(migrations):
                return
            if done == 0:
                database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                database.execute(
                    "CREATE TABLE migrations (version INTEGER PRIMARY KEY, name TEXT NOT NULL)"
                )
            name, statements = migrations[done]
            for statement in statements:
                database.execute(statement)
            database.execute("INSERT INTO migrations VALUES (?, ?)", (done + 1, name))
            database.execute(f"PRAGMA user_version = {done + 1}")


@contextmanager
def transaction(database: sqlite3.Connection) -> Iterator[None]:
    """Write all or nothing: waits for its turn, rolls back on any exception."""
    database.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        database.execute("ROLLBACK")
        raise
    database.execute("COMMIT")


def problems_of(database: sqlite3.Connection) -> list[str]:
    """Return what a full check of the file finds wrong: damage, and rows that point nowhere."""
    found = [row[0] for row in database.execute("PRAGMA integrity_check") if row[0] != "ok"]
    found += [
        f"{table}: row {row} points to a missing {parent}"
        for table, row, parent, _ in database.execute("PRAGMA foreign_key_check")
    ]
    return found
