"""Whose clip is whose: told, or asked for; never guessed."""

from pathlib import Path

import pytest

from analysis.season.sheet import Sheet, SheetRow, read_sheet, write_new_sheet
from analysis.squad.whose import _close, _edits, assign, guess_row


def paths(*names):
    return [Path("clips") / name for name in names]


def athletes(found):
    return {clip.path.name: (clip.athlete, clip.date) for clip in found.clips}


def test_file_names_tell():
    found = assign(
        paths("ann_2026-01-12.mp4", "Bo Lee_2026-01-12_second try.MOV", "cy_2026-01-13~2.mp4"),
        None,
        [],
    )
    assert found.problems == ()
    assert athletes(found) == {
        "ann_2026-01-12.mp4": ("ann", "2026-01-12"),
        "Bo Lee_2026-01-12_second try.MOV": ("Bo Lee", "2026-01-12"),
        "cy_2026-01-13~2.mp4": ("cy", "2026-01-13"),
    }
    assert found.new_athletes == ("ann", "Bo Lee", "cy")


@pytest.mark.parametrize(
    "name", ["IMG_2026-01-12.mp4", "VID-7_2026-01-12.mp4", "1234_2026-01-12.mp4", "MVI_0042.avi"]
)
def test_a_cameras_own_name_is_nobodys(name):
    found = assign(paths(name), None, [], date="2026-01-12")
    assert found.clips == ()
    assert "whose clip is this?" in found.problems[0]


def test_a_name_without_a_day():
    assert "of which day?" in assign(paths("ann_1.mp4"), None, []).problems[0]
    found = assign(paths("ann_1.mp4"), None, [], date="2026-01-12")
    assert athletes(found) == {"ann_1.mp4": ("ann", "2026-01-12")}


def test_the_register_decides_the_spelling():
    found = assign(paths("ann lee_2026-01-12.mp4"), None, ["Ann Lee"])
    assert athletes(found)["ann lee_2026-01-12.mp4"][0] == "Ann Lee"
    assert found.new_athletes == ()


@pytest.mark.parametrize("name", ["Jonh", "Ann", "zoe", "John Smit"])
def test_a_slip_of_the_pen_is_asked_for(name):
    known = ["John", "Ann Lee", "Zoë", "John Smith", "Tom"]
    found = assign(paths(f"{name}_2026-01-12.mp4"), None, known)
    assert found.clips == ()
    assert f"{name} is a new name but close to" in found.problems[0]
    added = assign(paths(f"{name}_2026-01-12.mp4"), None, known, added=[name])
    assert added.problems == ()
    assert added.new_athletes == (name,)


def test_two_new_names_that_are_close_are_both_asked_for():
    found = assign(
        paths("Anna_2026-01-12.mp4", "Anne_2026-01-12.mp4", "Bo_2026-01-12.mp4"), None, []
    )
    assert [clip.athlete for clip in found.clips] == ["Bo"]
    assert len(found.problems) == 2


def test_numbered_athletes_are_not_slips():
    names = [f"rower{i:02d}_2026-01-12.mp4" for i in range(20)]
    assert assign(paths(*names), None, []).problems == ()


def test_a_known_athlete_close_to_a_known_one_is_no_question():
    found = assign(paths("Anna_2026-01-12.mp4", "Anne_2026-01-12.mp4"), None, ["Anna", "Anne"])
    assert found.problems == ()


def rows(*cells):
    return Sheet(tuple(SheetRow(i, *c) for i, c in enumerate(cells, 2)), ())


def test_the_sheet_tells():
    sheet = rows(("IMG_1.MOV", "Ann", "2026-01-12", "half_slide", "erg", "calm"), ("b.mp4", "Bo"))
    found = assign(paths("img_1.mov", "b.mp4"), sheet, [], date="2026-02-01")
    assert found.problems == ()
    one, two = found.clips
    assert (one.athlete, one.date, one.stage, one.setting, one.note) == (
        "Ann", "2026-01-12", "half_slide", "erg", "calm",
    )  # fmt: skip
    assert (two.athlete, two.date, two.stage) == ("Bo", "2026-02-01", None)


def test_everything_unclear_in_the_sheet():
    sheet = rows(
        ("a.mp4", "Ann"),
        ("a.mp4", "Bo"),
        ("c.mp4", "Cy"),
        ("IMG_0001.mp4", "Di", "2026-01-12"),
    )
    found = assign(paths("a.mp4", "c.mp4", "x.mp4", "IMG_0011.mp4"), sheet, [])
    assert found.clips == ()
    assert set(found.problems) == {
        "a.mp4 stands in lines 2 and 3 of the sheet: Ann or Bo?",
        "line 4: of which day is c.mp4?",
        "x.mp4 is not in the sheet: whose is it?",
        "IMG_0011.mp4 is not in the sheet: whose is it?",
        "line 5: there is no clip IMG_0001.mp4 here; is IMG_0011.mp4 meant?",
    }


def test_another_clip_is_not_meant_because_it_ends_alike():
    found = assign(paths("photo.mp4"), rows(("nothere.mp4", "Ann"), ("photo.mp4", "Bo")), [])
    assert "line 2: there is no clip nothere.mp4 here." in found.problems


def test_a_line_that_could_not_be_read_is_asked_for_once(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text("file,athlete\na.mp4,\n")
    found = assign(paths("a.mp4"), read_sheet(path), [], date="2026-01-12")
    assert found.problems == ("line 2: whose is a.mp4?",)


def test_a_new_sheet_is_filled_in_as_far_as_names_tell(tmp_path):
    clips = paths("ann_2026-01-12.mp4", "IMG_0042.MOV")
    path = tmp_path / "s.csv"
    write_new_sheet(path, [guess_row(i, clip) for i, clip in enumerate(clips, 2)])
    read = read_sheet(path)
    assert read.rows == (SheetRow(2, "ann_2026-01-12.mp4", "ann", "2026-01-12"),)
    assert read.problems == ("line 3: whose is IMG_0042.MOV?",)


@pytest.mark.parametrize(
    ("one", "other", "edits"),
    [
        ("anna", "anna", 0), ("anna", "anne", 1), ("jonh", "john", 1), ("ann", "anna", 1),
        ("kitten", "sitting", 3), ("", "ab", 2),
    ],
)  # fmt: skip
def test_edits(one, other, edits):
    assert _edits(one, other, 5) == edits
    assert _edits(other, one, 5) == edits


@pytest.mark.parametrize(
    ("one", "other"), [("tom", "tim"), ("ann lee", "bea lee"), ("ella", "otto"), ("jan", "jana k")]
)
def test_names_that_are_simply_different(one, other):
    assert not _close(one, other)
