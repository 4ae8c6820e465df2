"""What the terminal says of one review."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.result import Review
from cli.summary import summary_lines

# The made review lies beside the tests of what is written.
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "output"))
from made_review import made_review


@pytest.fixture(scope="module")
def review(tmp_path_factory: pytest.TempPathFactory) -> Review:
    return made_review(tmp_path_factory.mktemp("clip"))


def posture_line(review: Review, rounding_deg: float) -> str:
    """The line when the back rounds by so much in every stroke's drive."""
    like = review.strokes.measures["rounding_catch_deg"]
    column = replace(
        like, name="rounding_drive_deg", values=np.full_like(like.values, rounding_deg)
    )
    measures = {**review.strokes.measures, column.name: column}
    told = replace(review, strokes=replace(review.strokes, measures=measures))
    return next(line for line in summary_lines(told, Path("page.html")) if "posture" in line)


def test_rounding_is_told_over_neutral(review: Review) -> None:
    line = posture_line(review, 13.0)
    assert "back rounding 13° ± " in line and line.endswith(" over neutral")


def test_a_sign_is_told_in_words(review: Review) -> None:
    """-5° over neutral is a riddle."""
    line = posture_line(review, -5.0)
    assert "back rounding 5° ± " in line and line.endswith(" straighter than neutral")
    assert "short of upright" in line and "-" not in line.removeprefix("  posture")
    assert posture_line(review, -0.2).endswith("° over neutral")


def test_what_cannot_be_told_is_over_nothing(review: Review) -> None:
    assert posture_line(review, float("nan")).endswith("back rounding cannot tell")
