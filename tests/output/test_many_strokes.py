"""The page of a long piece: as readable as that of a short one, and not much heavier."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from made_review import made_review

from analysis.output.handle_figure import MOST_PATHS, handle_picture
from analysis.output.page import render_report, report_page
from analysis.output.stick_figures import MOST_THIN, own_strokes
from analysis.output.timing import timing
from analysis.result import Review


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Callable[[int], tuple[Review, str]]:
    def made(strokes: int) -> tuple[Review, str]:
        folder = tmp_path_factory.mktemp("many")
        review = made_review(folder, strokes=strokes, stroke_s=1.2, fps=10.0, size=(64, 36))
        return review, render_report(report_page(review, timing(review)))

    return made


def test_a_hundred_strokes_are_not_a_hundred_keys_and_columns(
    pages: Callable[[int], tuple[Review, str]],
) -> None:
    few, many = pages(6)[1], pages(110)[1]
    assert few.count("data-stay") == 12 and 'id="go-stroke"' not in few
    assert many.count("data-stay") == 0
    picker = many.split('id="go-stroke"')[1].split("</select>")[0]
    assert picker.count("<option") == 110
    assert few.count('class="num each"') > 0 and 'class="num each"' not in many
    assert "of 110 strokes, are in the file strokes.csv" in many and "no_room" not in few
    assert 'class="mark-list one"' in many and 'class="mark-list"' in few


def test_the_handles_path_does_not_grow_with_the_strokes(
    pages: Callable[[int], tuple[Review, str]],
) -> None:
    many, few = (handle_picture(pages(n)[0]) for n in (110, MOST_PATHS))
    assert many is not None and few is not None
    assert many.svg.count("<path") <= few.svg.count("<path")
    assert len(many.svg) < 1.1 * len(few.svg)


def test_strokes_over_each_other_can_be_told_apart(
    pages: Callable[[int], tuple[Review, str]],
) -> None:
    few, many = (own_strokes(pages(n)[0]) for n in (6, 110))
    assert few is not None and many is not None
    assert few.panels[0].svg.count("stick thin") == 6
    assert few.key[0][1] == "each stroke" and "Thin lines: each stroke." in few.reading
    assert 8 <= many.panels[0].svg.count("stick thin") <= MOST_THIN
    assert many.key[0][1] == "one stroke in 7" and "one stroke in 7" in many.reading
