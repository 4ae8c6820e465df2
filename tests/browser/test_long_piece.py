"""A long piece in a real browser: strokes are found and corrected without a wall of keys."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from made_review import made_review
from pages import Watched, open_page

from analysis.output.write import write_review

STROKES = 30


@pytest.fixture(scope="module")
def long_piece(tmp_path_factory: pytest.TempPathFactory) -> Path:
    review = made_review(
        tmp_path_factory.mktemp("clip"), strokes=STROKES, stroke_s=1.0, fps=12.0, size=(160, 90)
    )
    return write_review(review, tmp_path_factory.mktemp("out")) / "report.html"


def test_a_stroke_is_picked_and_the_picker_follows(watched: Watched, long_piece: Path) -> None:
    page = open_page(watched, long_piece)
    page.get_by_label("Go to stroke").select_option("17")
    assert page.locator("#go-stroke").input_value() == "17"
    assert page.locator("#readout").inner_text().startswith("Stroke 17 of 30")
    page.get_by_role("button", name="Next stroke").click()
    on = page.locator("#go-stroke").input_value()
    assert page.locator("#readout").inner_text().startswith(f"Stroke {on} of 30")
    page.get_by_role("button", name="Next stroke").click()
    assert int(page.locator("#go-stroke").input_value()) == int(on) + 1
    assert not watched.complaints


def test_the_strip_numbers_what_can_be_read(watched: Watched, long_piece: Path) -> None:
    page = open_page(watched, long_piece)
    numbers = page.locator("#strokes-strip .number").all_inner_texts()
    assert numbers == ["1", "5", "10", "15", "20", "25", "30"]
    boxes = [n.bounding_box() for n in page.locator("#strokes-strip .number").all()]
    assert all(a["x"] + a["width"] < b["x"] for a, b in itertools.pairwise(boxes))


def test_only_the_stroke_on_show_and_the_changed_ones_are_listed(
    watched: Watched, long_piece: Path
) -> None:
    page = open_page(watched, long_piece)
    page.locator("#marks > summary").click()
    shown = page.locator(".mark-list li:visible h3")
    page.get_by_label("Go to stroke").select_option("4")
    assert shown.all_inner_texts() == ["Stroke 4"]
    page.get_by_label("Leave out stroke 4").check()
    page.get_by_label("Go to stroke").select_option("9")
    page.get_by_role("button", name="One picture on").click()
    page.get_by_role("button", name="Move the catch of stroke 9 to this picture").click()
    page.get_by_label("Go to stroke").select_option("20")
    assert shown.all_inner_texts() == ["Stroke 4", "Stroke 9", "Stroke 20"]
    assert "2 corrections" in page.locator("#mark-said").inner_text()
