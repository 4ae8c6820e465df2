"""A coach's corrections in a real browser: marked on the page, saved, read by sideon."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pages import Watched, open_page

from analysis.coach_marks import CoachMarks, Moved, read_marks
from analysis.output.write import write_review
from analysis.result import Review


def save(page: Any, tmp_path: Path) -> Path:
    with page.expect_download() as waited:
        page.locator("#mark-save").click()
    target = tmp_path / waited.value.suggested_filename
    waited.value.save_as(target)
    return target


def test_what_is_marked_is_what_is_read(
    watched: Watched, folder: Path, made: Review, tmp_path: Path
) -> None:
    page = open_page(watched, folder / "report.html")
    page.locator("#marks > summary").click()
    page.get_by_role("button", name="Release 1", exact=True).click()
    page.get_by_role("button", name="One picture on").click()
    frame = int(page.locator("#stage").get_attribute("data-frame"))
    page.get_by_role("button", name="Move the release of stroke 1 to this picture").click()
    page.get_by_label("Leave out stroke 3").check()
    page.locator("#mark-note").fill("Wind from ahead. „Späte“ release")
    assert "3 corrections" in page.locator("#mark-said").inner_text()
    file = save(page, tmp_path)
    assert file.name == "Mara_2026-03-02.corrections.json"
    marks = read_marks(file)
    assert marks.sha256 == made.pose.clip.sha256 and marks.who == "auto"
    assert marks.note == "Wind from ahead. „Späte“ release"
    moved = marks.moved
    assert [m.event for m in moved] == ["release"]
    assert moved[0].was_s == pytest.approx(made.strokes.release_s[0], abs=1e-4)
    assert moved[0].at_s == pytest.approx(made.motion.t_s[frame], abs=1e-4)
    assert marks.left_out == pytest.approx((made.strokes.catch_s[2],), abs=1e-4)


def test_a_mark_out_of_order_is_refused_and_undone(
    watched: Watched, folder: Path, tmp_path: Path
) -> None:
    page = open_page(watched, folder / "report.html")
    page.locator("#marks > summary").click()
    page.get_by_role("button", name="Catch 3", exact=True).click()
    page.get_by_role("button", name="Move the catch of stroke 1 to this picture").click()
    assert "not between them" in page.locator("#mark-said").inner_text()
    page.get_by_role("button", name="Catch 1", exact=True).click()
    page.get_by_role("button", name="One picture back").click()
    page.get_by_role("button", name="Move the catch of stroke 1 to this picture").click()
    page.get_by_role("button", name="Back to what was measured: Catch of stroke 1").click()
    assert read_marks(save(page, tmp_path)).moved == ()


def test_another_athlete_takes_the_marks_along_nowhere(
    watched: Watched, folder: Path, tmp_path: Path
) -> None:
    page = open_page(watched, folder / "report.html")
    page.locator("#marks > summary").click()
    page.get_by_label("Leave out stroke 2").check()
    page.locator("#mark-who").select_option("1")
    marks = read_marks(save(page, tmp_path))
    assert marks.who == 1 and marks.left_out == () and marks.moved == ()


def test_earlier_corrections_are_carried_on(watched: Watched, made: Review, tmp_path: Path) -> None:
    release = float(made.strokes.release_s[1])
    earlier = CoachMarks(
        made.pose.clip.file, made.pose.clip.sha256, "auto", "seen before",
        (Moved("release", release - 0.11, release),), (99.5,),
    )  # fmt: skip
    folder = write_review(replace(made, marks=earlier), tmp_path / "out")
    page = open_page(watched, folder / "report.html")
    text = page.locator("main").inner_text()
    assert "Corrected by the coach" in text and "Note: seen before" in text
    page.locator("#marks > summary").click()
    page.get_by_label("Leave out stroke 1").check()
    saved = json.loads(save(page, tmp_path).read_text(encoding="utf-8"))
    assert saved["note"] == "seen before"
    assert [m["was_s"] for m in saved["moved"]] == [pytest.approx(release - 0.11, abs=1e-4)]
    outs = [row["catch_s"] for row in saved["left_out"]]
    assert outs == [99.5, pytest.approx(made.strokes.catch_s[0], abs=1e-4)]
