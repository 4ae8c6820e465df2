"""Session sheets as spreadsheet programs of several countries write them."""

import stat
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import SettingsError
from analysis.season.sheet import SheetRow, read_date, read_sheet, write_new_sheet

HEAD = "file,athlete,date,stage,boat_or_erg,note\n"


def sheet(tmp_path, content):
    path = tmp_path / "session.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_sheet(path)


def test_a_plain_sheet(tmp_path):
    found = sheet(tmp_path, HEAD + 'a.mp4,Ann Lee,2026-01-31,Full slide,erg,"calm, tall"\n')
    assert found.problems == ()
    assert found.rows == (
        SheetRow(2, "a.mp4", "Ann Lee", "2026-01-31", "full_slide", "erg", "calm, tall"),
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_german_and_french_spreadsheets(tmp_path, encoding, delimiter, newline):
    lines = [
        ["file", "athlete", "date", "stage", "boat_or_erg", "note"],
        ["zoë.mp4", "Zoë Müller", "31.01.2026", "half-slide", "Boat", "près"],
    ]
    text = newline.join(delimiter.join(line) for line in lines) + newline
    found = sheet(tmp_path, text.encode(encoding))
    assert found.problems == ()
    assert found.rows == (
        SheetRow(2, "zoë.mp4", "Zoë Müller", "2026-01-31", "half_slide", "boat", "près"),
    )


def test_the_separator_line_of_one_spreadsheet_program(tmp_path):
    found = sheet(tmp_path, "sep=;\r\nFile;Athlete\r\na.mp4;Ann\r\n")
    assert found.rows == (SheetRow(3, "a.mp4", "Ann"),)


def test_empty_lines_and_columns_in_another_order(tmp_path):
    found = sheet(tmp_path, "note,athlete,file\n,,\nx,Ann,a.mp4\n\n,Bo,b.mp4\n")
    assert [(r.line, r.file, r.athlete) for r in found.rows] == [
        (3, "a.mp4", "Ann"),
        (5, "b.mp4", "Bo"),
    ]


def test_everything_unclear_in_one_list(tmp_path):
    found = sheet(
        tmp_path,
        "file,athlete,date,stage,boat_or_erg,colour\n"
        "a.mp4,,2026-01-31,,,\n"
        ",Bo,,,,\n"
        "c.mp4,Cy,03/04/2026,,,\n"
        "d.mp4,Di,2026-02-30,,,\n"
        "e.mp4,Ed,soon,,,\n"
        "f.mp4,Fay,,sliding,canoe,\n"
        "g.mp4,Gil,,,,\n",
    )
    assert [r.file for r in found.rows] == ["g.mp4"]
    said = "\n".join(found.problems)
    for words in (
        "line 1: the column 'colour' is not known",
        "line 2: whose is a.mp4?",
        "line 3: no file is named",
        "line 4: the date '03/04/2026' can be read two ways: write 2026-03-04 or 2026-04-03",
        "line 5: there is no day '2026-02-30'",
        "line 6: 'soon' is no date",
        "line 7: the stage 'sliding' is not known",
        "line 7: 'canoe' is neither boat nor erg",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("dates", "read"),
    [
        (["03/04/2026", "31/01/2026"], ["2026-04-03", "2026-01-31"]),
        (["03/04/2026", "01/31/2026"], ["2026-03-04", "2026-01-31"]),
        (["04/04/2026"], ["2026-04-04"]),
    ],
)
def test_the_sheet_itself_tells_which_way_round(tmp_path, dates, read):
    rows = "".join(f"{i}.mp4,Ann,{date},,,\n" for i, date in enumerate(dates))
    found = sheet(tmp_path, HEAD + rows)
    assert [r.date for r in found.rows] == read


def test_two_ways_round_in_one_sheet_is_asked(tmp_path):
    rows = "".join(
        f"{i}.mp4,Ann,{date},,,\n"
        for i, date in enumerate(["31/01/2026", "01/31/2026", "03/04/2026"])
    )
    found = sheet(tmp_path, HEAD + rows)
    assert [r.date for r in found.rows] == ["2026-01-31", "2026-01-31"]
    assert "two ways" in found.problems[0]


def test_dates_with_a_time_behind():
    assert read_date("2026-01-31 00:00:00") == "2026-01-31"


@given(st.dates())
def test_dates_read_back(day):
    assert read_date(day.isoformat()) == day.isoformat()
    assert read_date(f"{day.day}.{day.month}.{day.year:04d}") == day.isoformat()
    assert read_date(f"{day.day}/{day.month}/{day.year:04d}", True) == day.isoformat()
    assert read_date(f"{day.month}/{day.day}/{day.year:04d}", False) == day.isoformat()


@given(st.binary(max_size=200))
def test_no_bytes_make_it_fall_over(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("sheet") / "s.csv"
    path.write_bytes(HEAD.encode() + content)
    found = read_sheet(path)
    assert all(row.file and row.athlete for row in found.rows)


def test_needed_columns(tmp_path):
    with pytest.raises(SettingsError, match="no column athlete"):
        sheet(tmp_path, "file,name\na.mp4,Ann\n")
    with pytest.raises(SettingsError, match="no column file and no column athlete"):
        sheet(tmp_path, b"")


def test_no_such_sheet(tmp_path):
    with pytest.raises(SettingsError, match="cannot be read"):
        read_sheet(tmp_path / "none.csv")


def test_a_new_sheet_reads_back_and_is_never_overwritten(tmp_path):
    path = tmp_path / "session.csv"
    rows = (
        SheetRow(2, "zoë.mp4", "Zoë", "2026-01-31", "half_slide", "erg", "a, b"),
        SheetRow(3, "four.mp4", "Bo", "2026-01-31", who=2),
        SheetRow(4, "two.mp4", "Cleo", "2026-01-31", who="left"),
    )
    write_new_sheet(path, rows)
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")
    assert read_sheet(path).rows == rows
    if sys.platform != "win32":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with pytest.raises(SettingsError, match="there already"):
        write_new_sheet(path, ())
    assert read_sheet(path).rows == rows


@pytest.mark.parametrize(
    ("text", "who"),
    [("", "auto"), ("Auto", "auto"), ("nearest", "nearest"), (" Left ", "left"), ("3", 3)],
)
def test_which_rower_a_line_is_about(tmp_path, text, who):
    found = sheet(tmp_path, f"file,athlete,who\na.mp4,Ann,{text}\n")
    assert found.problems == ()
    assert found.rows == (SheetRow(2, "a.mp4", "Ann", who=who),)


@pytest.mark.parametrize(
    ("text", "words"), [("all", "one athlete"), ("0", "not known"), ("bow", "seat number")]
)
def test_rower_that_no_line_can_be_about(tmp_path, text, words):
    found = sheet(tmp_path, f"file,athlete,who\na.mp4,Ann,{text}\n")
    assert found.rows == ()
    (problem,) = found.problems
    assert problem.startswith("line 2: ") and words in problem
