"""Putting a review on disk: whole or not at all, and said plainly when it cannot be."""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from pathlib import Path

import cv2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import SideonError
from analysis.output import write
from analysis.output.index import entry_of
from analysis.output.places import out_names
from analysis.output.write import write_index, write_review
from analysis.result import Review

#: The two clips, the tables, the stills, and two pictures for each finding of the made-up review.
CLIPS = ["annotated.mp4", "plain.mp4"]
FILES = sorted([
    *CLIPS, "catch.jpg", "motion.csv", "release.jpg", "report.html", "review.json", "strokes.csv",
    "body_over_shows.jpg", "body_over_best.jpg", "layback_shows.jpg", "layback_best.jpg",
    "lunge_shows.jpg",
])  # fmt: skip


def test_writes_the_contract(written: Path, review: Review) -> None:
    assert written.name == review.out_name
    assert sorted(p.name for p in written.iterdir()) == FILES
    assert [p.name for p in written.parent.iterdir()] == [review.out_name]


def test_stills_are_pictures_of_the_athlete(written: Path) -> None:
    for name in ("catch.jpg", "release.jpg"):
        picture = cv2.imread(str(written / name))
        assert picture is not None and max(picture.shape[:2]) == 1120
        assert picture.std() > 10


def test_without_drawing_all_but_the_clip(review: Review, tmp_path: Path) -> None:
    folder = write_review(review, tmp_path, draw=False)
    assert sorted(p.name for p in folder.iterdir()) == [f for f in FILES if f not in CLIPS]


def test_replaces_an_earlier_result(review: Review, tmp_path: Path) -> None:
    folder = write_review(review, tmp_path, draw=False)
    (folder / "left over").write_text("x")
    again = write_review(replace(review, athlete="Noor"), tmp_path, draw=False)
    assert again == folder and not (folder / "left over").exists()
    assert "Hello Noor" in (folder / "report.html").read_text(encoding="utf-8")
    assert [p.name for p in tmp_path.iterdir()] == [review.out_name]


@pytest.mark.parametrize("step", ["write_tables", "draw_still", "render_report", "_take_place"])
def test_failure_in_the_middle_keeps_the_earlier_result(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    folder = write_review(review, tmp_path, draw=False)
    before = {p.name: p.read_bytes() for p in folder.iterdir()}

    def fail(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(write, step, fail)
    with pytest.raises(KeyboardInterrupt):
        write_review(replace(review, athlete="Noor"), tmp_path, draw=False)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before
    assert [p.name for p in tmp_path.iterdir()] == [review.out_name]


def test_second_rename_failing_puts_the_earlier_result_back(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_review(review, tmp_path, draw=False)
    rename = os.rename

    def fail_for_new(source: Path, target: Path) -> None:
        if str(source).endswith(".part"):
            raise OSError(errno.ENOSPC, "No space left on device")
        rename(source, target)

    monkeypatch.setattr(os, "rename", fail_for_new)
    with pytest.raises(SideonError, match="disk is full"):
        write_review(review, tmp_path, draw=False)
    assert sorted(p.name for p in folder.iterdir()) == [f for f in FILES if f not in CLIPS]


def test_a_killed_run_is_cleaned_up(review: Review, tmp_path: Path) -> None:
    """What a kill between the two renames leaves: a half folder, and the old one moved aside."""
    folder = write_review(review, tmp_path, draw=False)
    folder.rename(tmp_path / f".{review.out_name}.old")
    half = tmp_path / f".{review.out_name}.part"
    half.mkdir()
    (half / "report.html").write_text("half")
    assert write_review(review, tmp_path, draw=False) == folder
    assert [p.name for p in tmp_path.iterdir()] == [review.out_name]


def test_a_folder_of_something_else_is_left_alone(review: Review, tmp_path: Path) -> None:
    theirs = tmp_path / review.out_name
    theirs.mkdir()
    (theirs / "homework.txt").write_text("keep me")
    with pytest.raises(SideonError, match=r"holds other things.*--out"):
        write_review(review, tmp_path, draw=False)
    assert (theirs / "homework.txt").read_text() == "keep me"


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "The disk is full: make room"),
        (errno.EACCES, "May not write here: give another folder"),
        (errno.EROFS, "The disk is read-only"),
        (errno.EIO, "could not be written"),
    ],
)
def test_what_the_disk_refuses_is_said_plainly(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, said: str
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(write, "write_tables", fail)
    with pytest.raises(SideonError, match=said) as caught:
        write_review(review, tmp_path, draw=False)
    assert "\n" not in str(caught.value) and list(tmp_path.iterdir()) == []


def test_a_file_in_the_way(review: Review, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(SideonError, match="A file is where a folder should be"):
        write_review(review, tmp_path / "out", draw=False)
    with pytest.raises(SideonError, match="A file is where a folder should be"):
        write_index([], tmp_path / "out")


def test_a_clip_that_has_gone(review: Review, tmp_path: Path) -> None:
    gone = replace(review, source=str(tmp_path / "gone.mp4"))
    with pytest.raises(SideonError, match="no such file"):
        write_review(gone, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_index_is_whole_or_the_earlier_one(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_index([], tmp_path)
    before = (tmp_path / "index.html").read_bytes()

    def fail(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", fail)
        with pytest.raises(SideonError, match="disk is full"):
            write_index([entry_of(review)], tmp_path)
    assert (tmp_path / "index.html").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["index.html"]
    write_index([entry_of(review)], tmp_path)
    assert "Mara" in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_progress_never_runs_back(review: Review, tmp_path: Path) -> None:
    shares: list[float] = []
    write_review(review, tmp_path, progress=shares.append)
    assert shares == sorted(shares) and shares[-1] == 1.0


def test_names_of_folders() -> None:
    paths = [Path("b/ann.mp4"), Path("a/ann.mp4"), Path("a/Ben.mov"), Path("c/BEN.mp4")]
    assert out_names(paths) == ["ann~2", "ann", "Ben", "BEN~2"]


def test_no_folder_takes_the_place_of_the_index() -> None:
    assert out_names([Path("index.html.mp4")]) == ["index.html~2"]


def test_a_stem_that_looks_like_a_second_one_stays_apart() -> None:
    paths = [Path("x~2.mp4"), Path("a/x.mp4"), Path("b/x.mp4")]
    assert out_names(paths) == ["x~2~2", "x", "x~2"]


def test_accents_stored_in_two_ways_are_one_name() -> None:
    composed, apart = "J\u00f6rg.mp4", "Jo\u0308rg.mp4"
    assert len({name.split("~")[-1] for name in out_names([Path(composed), Path(apart)])}) == 2


@given(st.lists(st.text("aB~2. ", min_size=1, max_size=4), max_size=12))
def test_names_are_all_different(stems: list[str]) -> None:
    paths = [Path(f"{k}/{stem}.mp4") for k, stem in enumerate(stems)]
    names = out_names(paths)
    assert len(names) == len(paths)
    assert len({name.casefold() for name in names}) == len(names)


def test_pictures_that_cannot_be_had_are_not_on_the_page(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page is made beside the clip as if every picture came; here none does."""
    monkeypatch.setattr(write, "_find_frames", lambda review, kept: None)
    folder = write_review(review, tmp_path / "none", draw=False)
    assert not list(folder.glob("*.jpg"))
    assert 'src="catch.jpg"' not in (folder / "report.html").read_text(encoding="utf-8")
    monkeypatch.undo()
    whole = write_review(review, tmp_path / "all", draw=False)
    assert 'src="catch.jpg"' in (whole / "report.html").read_text(encoding="utf-8")
