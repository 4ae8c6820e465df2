"""What a drill does not reach is neither named nor shown: terminal, page, clip and stills agree."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.output import words
from analysis.output.figures import order_picture, stroke_pictures
from analysis.output.language import languages, text_of
from analysis.output.moment import angles_to_show
from analysis.output.page import render_report, report_page
from analysis.output.shows import shown_findings
from analysis.output.stills import still_angles
from analysis.result import Review
from analysis.stroke.measures import MEASURES
from analysis.stroke.strokes import STAGES, Stage
from cli.summary import summary_lines

STILL = ("arms_only", "arms_and_body")


def at_stage(review: Review, stage: Stage) -> Review:
    strokes = replace(review.strokes, stage=stage)
    drive = replace(
        strokes.measures["rounding_catch_deg"],
        name="rounding_drive_deg",
        values=np.full(strokes.count, 5.0),
    )
    strokes = replace(strokes, measures={**strokes.measures, drive.name: drive})
    return replace(review, strokes=strokes)


def summary(review: Review, start: str) -> str:
    lines = summary_lines(review, Path("page.html"))
    return next(line.strip() for line in lines if line.strip().startswith(start))


@pytest.mark.parametrize("stage", STAGES)
def test_the_terminal_tells_the_shin_where_there_is_a_slide(review: Review, stage: Stage) -> None:
    line = summary(at_stage(review, stage), "posture")
    assert ("shin" in line) == (stage not in STILL)
    assert ("shin at full compression" in line) == (stage == "full_slide")
    assert "layback" in line and "back rounding" in line


def test_the_terminal_tells_the_order_of_what_moves(review: Review) -> None:
    assert "legs" in summary(at_stage(review, "quarter_slide"), "order")
    body = summary(at_stage(review, "arms_and_body"), "order")
    assert "legs" not in body and "body" in body and "arms" in body and "cannot" not in body
    arms = summary(at_stage(review, "arms_only"), "order")
    assert "arms alone" in arms and "%" not in arms


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("code", languages())
def test_the_page_says_no_more(review: Review, stage: Stage, code: str) -> None:
    text, told = text_of(code), at_stage(review, stage)
    page = report_page(told, None, (), text)
    names = [row.name for row in page.measures]
    assert ("shin_catch_deg" in names) == (stage not in STILL)
    shin = text("stills.shin", lean="").strip()
    assert (shin in page.catch_words) == (stage not in STILL)
    assert ("shin_deg" in still_angles("catch.jpg", stage)) == (stage not in STILL)
    html = render_report(page, text)
    assert (text("front.slide") in html) == (stage == "full_slide")
    titles = {one.title for one in stroke_pictures(told, text)}
    for curve in ("seat", "shins", "knees"):
        assert (text(f"curve.{curve}") in titles) == (stage not in STILL)
    assert text("curve.body") in titles and text("curve.arms") in titles


def test_the_clip_draws_no_shin_where_the_seat_stays(review: Review) -> None:
    for stage in STAGES:
        strokes = replace(review.strokes, stage=stage)
        shown = angles_to_show(strokes, 0, float(strokes.catch_s[0]), 170.0)
        assert ("shin_deg" in shown) == (stage not in STILL)
        assert "trunk_deg" in shown
    for stage in STILL:
        for one in shown_findings(at_stage(review, stage)):
            assert "shin_deg" not in one.angles


def test_the_order_is_drawn_of_what_moves(review: Review) -> None:
    whole = order_picture(at_stage(review, "half_slide"))
    assert whole is not None and "legs" in whole.alt and whole.title == "Legs, body, arms"
    two = order_picture(at_stage(review, "arms_and_body"))
    assert two is not None and "legs" not in two.alt + two.reading + two.svg
    assert order_picture(at_stage(review, "arms_only")) is None


def test_only_a_whole_slide_has_full_compression() -> None:
    for code in languages():
        text = text_of(code)
        at_full = [
            m.name for m in MEASURES if text("front.slide") in words.measure_label(m.name, text)
        ]
        assert {"shin_catch_deg", "catch_trunk_deg", "rounding_catch_deg"} <= set(at_full)
        for name in at_full:
            said = words.measure_label(name, text, "half_slide")
            assert text("front.slide") not in said and said.endswith(text("front.step"))
