import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.coaching.levels import judge, median_u
from analysis.coaching.standard import Limit, RateLimit
from analysis.stroke.strokes import MeasureColumn

NAN = math.nan


def limit(**changed) -> Limit:
    base = dict(
        measure="layback_deg", check="layback", unit="deg", low=3.0, high=20.0, step=6.0,
        max_u=12.0, first_stage="full_slide",
    )  # fmt: skip
    return Limit(**(base | changed))


def column(values, se=0.0, bias_se=1.0) -> MeasureColumn:
    values = np.array(values, dtype=float)
    return MeasureColumn(
        "layback_deg", "deg", values, np.full(len(values), se), bias_se, np.zeros(len(values))
    )


def level(values, se=0.0, bias_se=1.0, **changed) -> str:
    return judge(limit(**changed), column(values, se, bias_se), 22.0).level


def test_u_of_the_bias_does_not_shrink_with_strokes():
    # D: 1.96 × 2 = 3.92, whatever the number of strokes.
    for n in (2, 5, 50):
        assert median_u(np.zeros(n), np.zeros(n), 2.0) == pytest.approx(3.92)


def test_u_of_the_noise_shrinks_with_the_root_of_the_strokes():
    # D: the variance of the median of n normal values tends to (π/2) σ² / n.
    u = median_u(np.zeros(100), np.full(100, 3.0), 0.0)
    assert u == pytest.approx(1.96 * 3.0 * math.sqrt(math.pi / 2) / 10)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 9, 15])
def test_u_covers_the_median_at_least_19_times_in_20(n):
    rng = np.random.default_rng(n)
    medians = np.median(rng.standard_normal((20_000, n)), axis=1)
    u = median_u(np.zeros(n), np.ones(n), 0.0)
    assert 0.945 < np.mean(np.abs(medians) <= u) < 0.985


def test_one_badly_seen_stroke_hardly_widens_u():
    rng = np.random.default_rng(4)
    se = np.array([1.0, 1.0, 1.0, 1.0, 20.0])
    u = median_u(np.zeros(5), se, 0.0)
    assert u == pytest.approx(1.96 * math.sqrt(math.pi / 2 / 5))
    medians = np.median(se * rng.standard_normal((20_000, 5)), axis=1)
    assert np.mean(np.abs(medians) <= u) > 0.89  # against 0.95: it moves the median a little
    # Of two strokes it is the mean, and counts in full.
    assert median_u(np.zeros(2), np.array([1.0, 20.0]), 0.0) == pytest.approx(
        1.96 * math.hypot(1.0, 20.0) / 2
    )


def test_strokes_that_scatter_are_believed_over_a_small_error():
    values = np.array([5.0, 15.0, 10.0, 12.0, 8.0])
    # D: variance 58 / 4 = 14.5, and π/2 for the median.
    u = median_u(values, np.full(5, 0.1), 0.0)
    assert u == pytest.approx(1.96 * math.sqrt(math.pi / 2 * 14.5 / 5))
    assert median_u(values, np.full(5, 9.0), 0.0) == pytest.approx(
        1.96 * math.sqrt(math.pi / 2 * 81 / 5)
    )


def test_u_is_missing_when_no_stroke_has_an_error():
    assert math.isnan(median_u(np.zeros(3), np.full(3, NAN), 1.0))
    assert judge(limit(), column([30, 30], se=NAN), 22.0).reason == "no error"


def test_past_by_more_than_u_is_work_on():
    judged = judge(limit(), column([23, 23, 23]), 22.0)  # U = 1.96
    assert (judged.level, judged.side, judged.seen) == ("work on", "over", 3)
    assert judged.past_steps == pytest.approx(0.5)


def test_past_by_no_more_than_u_is_watch():
    assert level([21.9, 21.9, 21.9]) == "watch"


def test_inside_is_steady_and_close_where_u_crosses_the_limit():
    near, far = judge(limit(), column([19, 19]), 22.0), judge(limit(), column([11, 11]), 22.0)
    assert (near.level, near.close) == ("steady", True)
    assert (far.level, far.close) == ("steady", False)


def test_the_lower_limit_works_likewise():
    judged = judge(limit(), column([-5, -6, -7]), 22.0)
    assert (judged.level, judged.side, judged.worst, judged.typical) == ("work on", "under", 2, 1)


def test_strokes_past_the_limit_in_a_quarter_of_them_are_worth_watching():
    assert level([30, 11, 11, 11]) == "watch"
    assert level([30, 11, 11, 11, 11]) == "steady"


def test_one_wild_stroke_of_two_is_never_work_on():
    judged = judge(limit(), column([60, 11]), 22.0)  # the median, 35.5, is well over
    assert (judged.level, judged.seen) == ("watch", 1)


@pytest.mark.parametrize(("values", "reason"), [([], "none"), ([NAN, NAN], "none"), ([30], "one"),
                                                ([NAN, 30, NAN], "one")])  # fmt: skip
def test_fewer_than_two_strokes_are_no_finding(values, reason):
    judged = judge(limit(), column(values), 22.0)
    assert (judged.level, judged.reason) == ("cannot tell", reason)


def test_a_measure_that_is_not_there_cannot_be_told():
    assert judge(limit(), None, 22.0).level == "cannot tell"


def test_too_unsure_a_number_says_nothing():
    judged = judge(limit(), column([60, 60, 60], bias_se=6.2), 22.0)  # U = 12.15 > 12
    assert (judged.level, judged.reason) == ("cannot tell", "unsure")


def test_a_measure_can_be_kept_from_work_on():
    assert level([60, 60, 60], at_most="watch") == "watch"


def test_missing_strokes_do_not_count():
    judged = judge(limit(), column([NAN, 30, NAN, 31, 29]), 22.0)
    assert (judged.level, judged.strokes, judged.worst, judged.typical) == ("work on", 3, 3, 1)


def test_an_open_measure_is_always_steady():
    judged = judge(limit(low=None, high=None), column([500, 500]), 22.0)
    assert (judged.level, judged.side, judged.close) == ("steady", None, False)


def test_a_limit_can_follow_the_rate():
    rule = RateLimit(share=0.7, drive_s=0.9, least=0.7, most=1.5)
    # D: 0.7 × (60/30 − 0.9)/0.9 = 0.8556; capped at 1.5 for 20 a minute (1.633) and at 0.7 for 40.
    assert rule.at(30) == pytest.approx(0.7 * (2 - 0.9) / 0.9)
    assert (rule.at(20), rule.at(40)) == (1.5, 0.7)
    assert math.isnan(rule.at(NAN))
    follows = limit(low=rule, high=None)
    assert judge(follows, column([1.2, 1.2], bias_se=0.01), 30.0).level == "steady"
    assert judge(follows, column([1.2, 1.2], bias_se=0.01), 20.0).level == "work on"
    assert judge(follows, column([0.1, 0.1], bias_se=0.01), NAN).level == "steady"


finite = st.floats(-80, 80)


@given(st.lists(finite | st.just(NAN), max_size=12), st.floats(0, 8), st.floats(0, 8))
def test_rules_hold_for_any_strokes(values, se, bias_se):
    judged = judge(limit(), column(values, se, bias_se), 22.0)
    told = [v for v in values if math.isfinite(v)]
    assert (judged.level == "cannot tell") == (len(told) < 2 or judged.u > 12.0)
    if judged.level == "work on":
        assert judged.seen >= max(2, len(told) / 2)
        past = judged.value - 20 if judged.side == "over" else 3 - judged.value
        assert past > judged.u
    if judged.level == "steady":
        assert 3 <= judged.value <= 20
    if judged.level in ("work on", "watch"):
        assert judged.side is not None
        worst = values[judged.worst]
        assert worst == (max(told) if judged.side == "over" else min(told))


@given(st.lists(finite, min_size=2, max_size=12), st.floats(0.1, 3))
def test_both_sides_are_treated_alike(values, bias_se):
    symmetric = limit(low=-10.0, high=10.0)
    one = judge(symmetric, column(values, 0.5, bias_se), 22.0)
    other = judge(symmetric, column([-v for v in values], 0.5, bias_se), 22.0)
    assert one.level == other.level
    assert one.past_steps == pytest.approx(other.past_steps)
