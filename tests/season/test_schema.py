"""The season's file: made, migrated, refused, found damaged."""

import json
import sqlite3
import stat
import sys

import pytest

from analysis.errors import SettingsError
from analysis.season.schema import (
    FILE_NAME,
    MIGRATIONS,
    migrate,
    open_database,
    problems_of,
    transaction,
    version_of,
)


def test_a_new_season_is_sound_and_in_wal(tmp_path):
    database = open_database(tmp_path / "season")
    assert version_of(database) == len(MIGRATIONS)
    assert database.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert database.execute("PRAGMA foreign_keys").fetchone()[0] == 1
    assert problems_of(database) == []
    assert database.execute("SELECT version, name FROM migrations").fetchall() == [
        (number, name) for number, (name, _) in enumerate(MIGRATIONS, 1)
    ]
    database.close()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_only_the_owner_can_read_it(tmp_path):
    database = open_database(tmp_path / "season")
    database.execute("INSERT INTO sessions (date) VALUES ('2026-01-12')")
    files = list((tmp_path / "season").iterdir())
    assert {f.name for f in files} >= {FILE_NAME, FILE_NAME + "-wal"}
    assert stat.S_IMODE((tmp_path / "season").stat().st_mode) == 0o700
    assert {stat.S_IMODE(f.stat().st_mode) for f in files} == {0o600}
    database.close()


def test_no_season_there(tmp_path):
    with pytest.raises(SettingsError, match="no season in"):
        open_database(tmp_path, create=False)
    assert list(tmp_path.iterdir()) == []


def test_a_migration_keeps_rows_and_comes_with_its_record(tmp_path):
    database = open_database(tmp_path)
    database.execute("INSERT INTO athletes (name, name_key) VALUES ('Ann', 'ann')")
    later = (*MIGRATIONS, ("boats", ("ALTER TABLE athletes ADD COLUMN boat TEXT",)))
    migrate(database, later)
    migrate(database, later)
    assert version_of(database) == len(later)
    assert database.execute("SELECT name, boat FROM athletes").fetchall() == [("Ann", None)]
    assert (
        database.execute("SELECT name FROM migrations WHERE version = ?", (len(later),)).fetchone()[
            0
        ]
        == "boats"
    )
    database.close()


def test_what_an_older_season_lacks_is_told_by_how_it_was_said_then(tmp_path):
    database = sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)
    migrate(database, MIGRATIONS[:2])
    database.execute("INSERT INTO athletes (name, name_key) VALUES ('Ann', 'ann')")
    database.execute("INSERT INTO sessions (date) VALUES ('2026-01-12')")
    few, back = "a clip with at least 5 whole strokes", "a clip that shows the shape of the back"
    said = {1: [few], 2: [few, back], 3: [few, "level pull: still to work on"], 4: []}
    for key, missing in said.items():
        database.execute(
            "INSERT INTO clips (sha256, athlete_id, session_id, file, path, pages, note,"
            " settings_key, status, missing) VALUES (?, 1, 1, '', '', '', '', '', 'reviewed', ?)",
            (f"{key:064d}", json.dumps(missing)),
        )
    migrate(database)
    told = database.execute("SELECT only_the_clip FROM clips ORDER BY sha256").fetchall()
    assert told == [(1,), (1,), (0,), (0,)]
    database.close()


def test_a_migration_that_fails_leaves_nothing_behind(tmp_path):
    database = open_database(tmp_path)
    broken = (*MIGRATIONS, ("bad", ("CREATE TABLE boats (name TEXT)", "NO SUCH THING")))
    with pytest.raises(sqlite3.OperationalError):
        migrate(database, broken)
    tables = {r[0] for r in database.execute("SELECT name FROM sqlite_master")}
    assert "boats" not in tables
    assert version_of(database) == len(MIGRATIONS)
    database.close()


def test_a_newer_season_is_refused_untouched(tmp_path):
    database = open_database(tmp_path)
    database.execute("PRAGMA user_version = 99")
    database.close()
    with pytest.raises(SettingsError, match="newer sideon"):
        open_database(tmp_path)


def test_another_programs_file_is_refused_untouched(tmp_path):
    other = sqlite3.connect(tmp_path / FILE_NAME)
    other.execute("CREATE TABLE songs (title TEXT)")
    other.commit()
    other.close()
    before = (tmp_path / FILE_NAME).read_bytes()
    with pytest.raises(SettingsError, match="other program"):
        open_database(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == before


def test_something_else_under_that_name(tmp_path):
    (tmp_path / FILE_NAME).write_bytes(b"no database at all" * 100)
    with pytest.raises(SettingsError, match="damaged or no season file"):
        open_database(tmp_path)


def test_damage_is_found(tmp_path):
    database = open_database(tmp_path)
    with transaction(database):
        database.executemany(
            "INSERT INTO sheets VALUES (?)", [(f"{i:04d}" + "x" * 200,) for i in range(2000)]
        )
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    database.close()
    path = tmp_path / FILE_NAME
    content = bytearray(path.read_bytes())
    # Everything behind the pages of the empty tables: rows of "sheets" only.
    content[len(content) // 2 : len(content) // 2 + 40_000] = b"\xaa" * 40_000
    path.write_bytes(content)
    with pytest.raises(SettingsError, match="damaged"):
        open_database(tmp_path)


def test_rows_that_point_nowhere_are_found(tmp_path):
    database = open_database(tmp_path)
    database.execute("PRAGMA foreign_keys = OFF")
    database.execute("INSERT INTO notes (athlete_id, date, text) VALUES (7, '2026-01-01', '')")
    assert problems_of(database) == ["notes: row 1 points to a missing athletes"]
    database.close()


def test_a_transaction_that_fails_leaves_nothing(tmp_path):
    database = open_database(tmp_path)
    with pytest.raises(RuntimeError), transaction(database):
        database.execute("INSERT INTO sessions (date) VALUES ('2026-01-12')")
        raise RuntimeError
    assert database.execute("SELECT count(*) FROM sessions").fetchone()[0] == 0
    database.close()
