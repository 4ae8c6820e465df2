"""What shows a finding: the worst and the best stroke, and their pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.output.shows import past_limit, shown_findings, shown_frames
from analysis.result import Review


def changed(review: Review, values: list[float], worst: int) -> Review:
    """Give the first finding's measure (at least 0.75) other values, worst in stroke `worst`."""
    column = replace(review.strokes.measures["body_over_share"], values=np.array(values))
    measures = dict(review.strokes.measures) | {"body_over_share": column}
    findings = tuple(
        replace(f, worst_stroke=worst) if f.check == "body_over" else f
        for f in review.findings.findings
    )
    return replace(
        review,
        strokes=replace(review.strokes, measures=measures),
        findings=replace(review.findings, findings=findings),
    )


def test_first_thing_first_then_the_worst_and_each_check_once(review: Review) -> None:
    assert [s.finding.check for s in shown_findings(review)] == ["body_over", "layback", "lunge"]


@pytest.mark.parametrize(
    "values, worst, best",
    [
        ([0.2, 0.5, 0.3], 1, 2),
        ([0.2, 0.9, 0.8], 1, 2),  # two inside: the one further inside
        ([0.5, 0.2, np.nan], 2, 1),  # a stroke that could not be told is not the best
        ([0.3, 0.3, 0.3], 1, None),  # none is better
        ([0.31, 0.36, 0.3], 3, None),  # 0.39 instead of 0.45 short of 0.75: no example to follow
        ([0.31, 0.37, 0.3], 3, 2),  # 0.38, a sixth less: one
    ],
)
def test_the_best_is_the_athletes_own(
    review: Review, values: list[float], worst: int, best: int | None
) -> None:
    shown = shown_findings(changed(review, values, worst))[0]
    assert shown.stroke == worst and shown.value == values[worst - 1]
    assert shown.best_stroke == best
    if best is not None:
        assert shown.best_value == values[best - 1]


def test_a_stroke_without_a_moment_shows_nothing(review: Review) -> None:
    gone = changed(review, [np.nan, 0.2, 0.3], 1)
    assert [s.finding.check for s in shown_findings(gone)] == ["layback", "lunge"]


def test_how_far_past_a_limit(review: Review) -> None:
    layback = next(f for f in review.findings.findings if f.check == "layback")  # 3° to 20°
    assert past_limit(layback, 26.0) == 6.0
    assert past_limit(layback, 1.0) == 2.0
    assert past_limit(layback, 19.0) == -1.0 and past_limit(layback, 11.5) == -8.5


def test_frames_are_those_of_the_moments(review: Review) -> None:
    shown = shown_findings(review)
    frames = shown_frames(review, shown)
    for one in shown:
        assert abs(review.motion.t_s[frames[one.fault_file]] - one.at_s) <= 0.03
        assert (one.best_file in frames) == (one.best_stroke is not None)
