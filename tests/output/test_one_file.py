"""The page as one file: everything in it, nothing outside, never larger than said."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest

from analysis.output import one_file
from analysis.output.language import ENGLISH
from analysis.output.one_file import one_file_words, write_one_file
from analysis.output.page import ReportPage, report_page
from analysis.output.timing import timing
from analysis.result import Review


@pytest.fixture(scope="module")
def page(review: Review, written: Path) -> ReportPage:
    return report_page(review, timing(review), {p.name for p in written.iterdir()})


@pytest.fixture
def folder(written: Path, tmp_path: Path) -> Path:
    for file in written.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    return tmp_path


def clips_in(html: str) -> dict[str, bytes]:
    found = re.findall(r'<script type="text/plain" id="file-(\w+)">([^<]+)</script>', html)
    return {name: base64.b64decode(content, validate=True) for name, content in found}


def test_everything_is_in_it(review: Review, page: ReportPage, folder: Path) -> None:
    made = write_one_file(review, page, folder, ENGLISH)
    assert made == folder / "Mara_2026-03-02_one_file.html"
    html = made.read_text(encoding="utf-8")
    assert clips_in(html) == {
        "clip": (folder / "annotated.mp4").read_bytes(),
        "plain": (folder / "plain.mp4").read_bytes(),
    }
    pictures = re.findall(r'<img src="data:image/jpeg;base64,([^"]+)"', html)
    assert len(pictures) == len(list(folder.glob("*.jpg"))) == 7
    assert base64.b64decode(pictures[0]) in {p.read_bytes() for p in folder.glob("*.jpg")}
    links = re.findall(r'(?:src|href)="([^"]*)"', html)
    assert all(link.startswith(("data:", "#")) for link in links), links
    size = made.stat().st_size / 1e6
    assert f"{size:.1f} MB; at most 18 MB" in one_file_words(folder, review.out_name)


def test_stays_below_its_limit(review: Review, page: ReportPage, folder: Path) -> None:
    whole = write_one_file(review, page, folder, ENGLISH)
    assert whole is not None
    limit = whole.stat().st_size - 1
    without = write_one_file(review, page, folder, ENGLISH, limit_bytes=limit)
    assert without is not None and without.stat().st_size <= limit
    assert set(clips_in(without.read_text(encoding="utf-8"))) == {"clip"}
    said = one_file_words(folder, review.out_name, limit)
    assert "without the undrawn clip" in said


def test_the_clip_is_made_smaller_before_it_is_given_up(
    review: Review, page: ReportPage, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(one_file, "SMALLER_PX", 320)
    whole = write_one_file(review, page, folder, ENGLISH)
    assert whole is not None
    plain = len(base64.b64encode((folder / "plain.mp4").read_bytes()))
    limit = whole.stat().st_size - plain - 2000  # too little for the clip as it is
    small = write_one_file(review, page, folder, ENGLISH, limit_bytes=limit)
    assert small is not None and small.stat().st_size <= limit
    clip = clips_in(small.read_text(encoding="utf-8"))["clip"]
    assert len(clip) < (folder / "annotated.mp4").stat().st_size
    assert (folder / "annotated.mp4").exists() and len(list(folder.glob("*.mp4"))) == 2


def test_nothing_is_written_when_nothing_helps(
    review: Review, page: ReportPage, folder: Path
) -> None:
    assert write_one_file(review, page, folder, ENGLISH, limit_bytes=50_000) is None
    assert list(folder.glob("*_one_file.html")) == []
    said = one_file_words(folder, review.out_name, 50_000)
    assert said.startswith("not made") and "--from and --to" in said
