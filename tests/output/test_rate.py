"""One stroke rate, wherever it is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_review import made_review

from analysis.output import words
from analysis.output.index import entry_of
from analysis.result import Review


def with_rates(review: Review, rates: list[float]) -> Review:
    column = review.strokes.measures["rate_spm"]
    told = {**review.strokes.measures, "rate_spm": replace(column, values=np.array(rates))}
    return replace(review, strokes=replace(review.strokes, measures=told))


@pytest.fixture(scope="module")
def review(tmp_path_factory: pytest.TempPathFactory) -> Review:
    return made_review(tmp_path_factory.mktemp("clip"))


def test_one_hurried_stroke_does_not_move_the_rate(review: Review) -> None:
    # Median of 20, 20, 21, 34 is 20.5, which rounds to the even 20; their mean would be 24.
    assert words.rate(with_rates(review, [20.0, 20.0, 21.0, 34.0]).strokes) == "20"


def test_list_and_words_tell_the_same_rate(review: Review) -> None:
    changed = with_rates(review, [20.0, 20.2, 21.0, 34.0])
    assert entry_of(changed).rate == words.rate(changed.strokes) == "21"


def test_no_rate_is_no_number(review: Review) -> None:
    assert words.rate(with_rates(review, [float("nan")] * 4).strokes) == ""
