"""Forgetting an athlete: nothing of theirs left anywhere, everything of the others still there."""

import sqlite3
from pathlib import Path

import made_season as made
import pytest

from analysis.errors import SettingsError
from analysis.kept_files import cache_folder
from analysis.season import read
from analysis.season.forget import forget, remains, traces
from analysis.season.schema import FILE_NAME
from analysis.season.sheet import without_athlete
from analysis.season.store import ClipPlace, Season

NAMES = ("Annika Lee", "Ann", "Bo")


@pytest.fixture
def season(tmp_path):
    """Three athletes with clips, pages, notes, consent and a sheet."""
    clips = tmp_path / "clips"
    clips.mkdir()
    with Season(tmp_path / "season") as opened:
        lines = ["file;athlete;date;note"]
        for name in NAMES:
            for i, day in enumerate(("2026-01-12", "2026-02-09")):
                file = f"{name.split()[0].lower()}{i}_film.mp4"
                (clips / file).write_text(f"pictures of {name} {day}")
                place = ClipPlace(
                    made.sha(f"pictures of {name} {day}"), file, f"../clips/{file}", name, day,
                    f"{name} in the sun", "k",
                )  # fmt: skip
                opened.save(place, made.record(i), made.STANDARD)
                pages = opened.folder / place.pages
                pages.mkdir(parents=True)
                (pages / "report.html").write_text(f"<h1>{name}</h1>")
                (pages / "annotated.mp4").write_bytes(b"drawn " + name.encode())
                lines.append(f"{file};{name};{day};")
            opened.write_note(name, "2026-01-12", f"{name} sits tall.")
            opened.consent(name, "2026-01-01", "a parent")
        (clips / "copy.mp4").write_text("pictures of Annika Lee 2026-01-12")
        (clips / "session.csv").write_text("\r\n".join(lines) + "\r\n", encoding="utf-8-sig")
        opened.remember_sheet("../clips/session.csv")
        yield opened


def everything(folder: Path) -> bytes:
    return b"".join(
        str(path).encode() + path.read_bytes() for path in folder.rglob("*") if path.is_file()
    )


def test_what_will_go_is_shown_first(season):
    found = traces(season, "annika lee")
    assert found.athlete == "Annika Lee"
    assert found.rows["clips"] == 2
    assert found.rows["strokes"] == 12
    assert found.rows["notes"] == 1
    assert [folder.name for folder in found.folders] == ["annika-lee"]
    assert sorted(path.name for path in found.clips) == [
        "annika0_film.mp4", "annika1_film.mp4", "copy.mp4",
    ]  # fmt: skip
    assert [lines for _, lines in found.sheets] == [2]
    assert len(read.clips(season)) == 6
    assert all(path.exists() for path in found.clips)


def test_every_trace_is_gone_and_the_others_are_whole(season, tmp_path):
    others = {n: len(read.clips(season, athlete=n)) for n in NAMES[1:]}
    found = traces(season, "Annika Lee")
    assert remains(season, found) != []
    forget(season, found)
    assert remains(season, found) == []
    # Not by our own search alone: no byte of name, clip, hash or page in any file or file name.
    for mark in ("Annika", "annika", *found.hashes):
        assert mark.encode() not in everything(tmp_path)
    assert season.check() == []
    assert {n: len(read.clips(season, athlete=n)) for n in NAMES[1:]} == others
    assert season.database.execute("PRAGMA freelist_count").fetchone()[0] == 0
    with pytest.raises(SettingsError, match="not known"):
        traces(season, "Annika Lee")


def test_landmarks_kept_of_a_clip_go_too(season, tmp_path, monkeypatch):
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "cache"))
    found = traces(season, "Annika Lee")
    kept = cache_folder()
    kept.mkdir(parents=True)
    for sha256 in (*found.hashes, made.sha("pictures of Bo 2026-01-12")):
        (kept / f"{sha256}-{'0' * 16}.npz").write_bytes(b"arrays")
    assert sum(str(kept) in place for place in remains(season, found)) == 2
    forget(season, found)
    assert remains(season, found) == []
    assert [path.name[:64] for path in kept.iterdir()] == [made.sha("pictures of Bo 2026-01-12")]


def test_corrections_beside_the_clips_go_too(season, tmp_path):
    clips = tmp_path / "clips"
    mine, other, neither = (clips / f"{name}.json" for name in ("mine", "other", "neither"))
    mine.write_text(f'{{"sha256": "{made.sha("pictures of Annika Lee 2026-01-12")}"}}')
    other.write_text(f'{{"sha256": "{made.sha("pictures of Bo 2026-01-12")}"}}')
    neither.write_text("{}")
    found = traces(season, "Annika Lee")
    assert found.corrections == (mine,)
    forget(season, found)
    assert [p.exists() for p in (mine, other, neither)] == [False, True, True]


def test_a_short_name_inside_other_words_is_no_trace(season, tmp_path):
    found = traces(season, "Ann")
    forget(season, found)
    assert remains(season, found) == []
    assert b"Annika Lee" in everything(tmp_path)
    assert season.athletes() == ["Annika Lee", "Bo"]


def test_deleted_rows_leave_no_bytes_even_before_the_file_is_rebuilt(season, tmp_path):
    season.database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    season.database.execute("DELETE FROM athletes WHERE name = 'Annika Lee'")
    season.database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert b"Annika" not in (season.folder / FILE_NAME).read_bytes()


def test_a_note_on_somebody_else_that_names_them_is_told(season):
    season.write_note("Bo", "2026-02-01", "Rows with Annika Lee in the double.")
    found = traces(season, "Annika Lee")
    forget(season, found)
    (left,) = [place for place in remains(season, found) if "notes" in place]
    assert "Rows with Annika Lee" in left


def test_clips_can_be_kept(season):
    found = traces(season, "Annika Lee")
    forget(season, found, keep_clips=True)
    assert all(path.exists() for path in found.clips)
    assert remains(season, found) == []


def test_another_file_under_the_clips_name_is_not_removed(season, tmp_path):
    other = tmp_path / "clips" / "annika0_film.mp4"
    other.write_text("something else altogether")
    found = traces(season, "Annika Lee")
    assert other not in found.clips
    forget(season, found)
    assert other.exists()


def test_while_another_run_reads_the_season(season):
    reader = sqlite3.connect(season.folder / FILE_NAME, isolation_level=None)
    assert reader.execute("SELECT count(*) FROM clips").fetchone()[0] == 6
    found = traces(season, "Annika Lee")
    forget(season, found)
    assert remains(season, found) == []
    reader.close()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_lines_go_from_a_sheet_and_the_rest_stays_byte_by_byte(encoding):
    text = 'sep=;\r\nfile;athlete;note\r\na.mp4;Zoë;"one\r\ntwo"\r\nb.mp4; zoË ;\r\nc.mp4;Bo;é\r\n'
    left, removed = without_athlete(text.encode(encoding), "zoë")
    assert removed == 2
    assert left == "sep=;\r\nfile;athlete;note\r\nc.mp4;Bo;é\r\n".encode(encoding)
    assert without_athlete(left, "zoë") == (left, 0)
    assert without_athlete(b"no sheet", "zoe") == (b"no sheet", 0)
