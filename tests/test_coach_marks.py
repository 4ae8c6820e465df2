"""Files of corrections: read back whole, and every kind of mistake said in one plain sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.coach_marks import CoachMarks, Moved, marks_of, read_marks
from analysis.errors import SettingsError

GOOD = {
    "sideon_corrections": 1,
    "clip": {"file": "ana.mp4", "sha256": "0f" * 32},
    "who": 2,
    "note": " seat slips ",
    "moved": [{"event": "release", "was_s": 2.0, "at_s": 2.1}],
    "left_out": [{"catch_s": 4.5}],
}


def test_a_file_is_read_as_it_stands(tmp_path: Path) -> None:
    file = tmp_path / "ana.corrections.json"
    file.write_text(json.dumps(GOOD), encoding="utf-8")
    assert read_marks(file) == CoachMarks(
        "ana.mp4", "0f" * 32, 2, "seat slips", (Moved("release", 2.0, 2.1),), (4.5,), file.name
    )


WRONG = [
    ({"sideon_corrections": 2}, "version 2"),
    ({"sideon_corrections": True}, "version True"),
    ({"sideon_corrections": "1"}, "version '1'"),
    ({"extra": 1}, "'extra'"),
    ({"clip": None}, "'clip'"),
    ({"clip": {"file": "ana.mp4"}}, "'sha256'"),
    ({"who": 0}, "athlete 0"),
    ({"who": True}, "athlete True"),
    ({"who": "stroke seat"}, "athlete 'stroke seat'"),
    ({"note": 5}, "note"),
    ({"note": "x" * 2001}, "2000 letters"),
    ({"moved": {}}, "'moved'"),
    ({"moved": [{"event": "finish", "was_s": 1, "at_s": 2}]}, "'finish'"),
    ({"moved": ["catch"]}, "only a catch or a release"),
    ({"moved": [{"event": "catch", "was_s": 1}]}, "at_s"),
    ({"moved": [{"event": "catch", "was_s": "1", "at_s": 2}]}, "'1'"),
    ({"moved": [{"event": "catch", "was_s": float("nan"), "at_s": 2}]}, "was_s"),
    ({"left_out": [3.0]}, "catch_s"),
    ({"left_out": None}, "'left_out'"),
]


def one_sentence(error: BaseException) -> str:
    said = str(error)
    assert said.endswith(".") and "\n" not in said and "ana.corrections.json" in said
    return said


@pytest.mark.parametrize("change, says", WRONG, ids=[str(list(c))[2:-2] + s for c, s in WRONG])
def test_mistakes_are_told(tmp_path: Path, change: dict, says: str) -> None:
    file = tmp_path / "ana.corrections.json"
    file.write_text(json.dumps(GOOD | change), encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_marks(file)
    assert says in one_sentence(caught.value)


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe\x00", b"[]", b"3", b'{"clip": {}}'])
def test_other_files_are_told(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "ana.corrections.json"
    file.write_bytes(content)
    with pytest.raises(SettingsError, match="not a file of corrections"):
        read_marks(file)
    with pytest.raises(SettingsError, match="cannot be read"):
        read_marks(tmp_path / "gone.json")


def test_belongs_to_one_clip_and_to_the_part_that_was_looked_at() -> None:
    marks = marks_of(GOOD, "ana.corrections.json")
    marks.check_clip("0f" * 32, 0.0, 9.0)
    for sha256, start_s, end_s, says in (
        ("ab" * 32, 0.0, 9.0, "another clip"),
        ("0f" * 32, 2.05, 9.0, "2.00 s"),
        ("0f" * 32, 0.0, 4.0, "4.50 s"),
    ):
        with pytest.raises(SettingsError, match=says) as caught:
            marks.check_clip(sha256, start_s, end_s)
        one_sentence(caught.value)


SECONDS = st.floats(0.0, 600.0)


@given(
    st.lists(st.builds(Moved, st.sampled_from(["catch", "release"]), SECONDS, SECONDS)),
    st.lists(SECONDS),
    st.one_of(st.sampled_from(["auto", "nearest", "left", "right"]), st.integers(1, 9)),
)
def test_what_is_written_is_what_is_read(moved: list, left_out: list, who: str | int) -> None:
    marks = CoachMarks("a.mp4", "0f" * 32, who, "said", tuple(moved), tuple(left_out))
    assert marks_of(json.loads(json.dumps(marks.data()))) == marks
