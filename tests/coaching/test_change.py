"""Before and after: interval, smallest detectable change and the three verdicts."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.coaching.change import PIECE_SHARE, SHARED_BIAS, Summary, compare, pool
from analysis.coaching.repeatability import PooledSem


def summary(mean, *, sd=0.2, n=400, bias=0.0):
    return Summary(mean, sd, n, math.sqrt(sd**2 / n + bias**2), bias)


def test_interval_of_two_means_by_hand():
    # Two samples, equal spread and size: pooled t interval, df = 2 (n − 1) = 18, t = 2.1009
    # (t table, 97.5 %); se = √(2²/10 + 2²/10) = 0.8944. Repeats that agree wholly leave just that.
    found = compare(summary(10, sd=2, n=10), summary(13, sd=2, n=10), repeats=PooledSem(0.0, 100))
    assert found.change == pytest.approx(3.0)
    assert found.high - 3.0 == pytest.approx(2.1009 * 0.8944, abs=1e-3)
    assert found.mdc95 == pytest.approx(1.96 * 0.8944, abs=1e-3)
    assert found.sem == pytest.approx(2 / math.sqrt(10))


def test_pieces_are_taken_to_differ_when_no_repeats_tell():
    # Derivation: var = 2 · sd² (1/n + PIECE_SHARE²), halved for the SEM of one side.
    found = compare(summary(10, sd=2, n=10), summary(13, sd=2, n=10))
    assert found.sem == pytest.approx(2 * math.sqrt(1 / 10 + PIECE_SHARE**2))
    assert found.basis == "taken on trust"


def test_part_of_the_bias_cancels_when_filmed_alike():
    # Derivation: var = b² + b² − 2ρ b².
    one, other = summary(0, sd=0, bias=3), summary(1, sd=0, bias=3)
    alike = compare(one, other)
    assert alike.mdc95 == pytest.approx(1.96 * 3 * math.sqrt(2 * (1 - SHARED_BIAS)))
    assert compare(one, other, alike=False).mdc95 == pytest.approx(1.96 * 3 * math.sqrt(2))


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        (30, 25, "better"),  # nearer to the limit, still past it
        (30, 15, "better"),  # inside at last
        (25, 30, "worse"),
        (15, 30, "worse"),  # left the limits
        (0, 5, "better"),  # from below
        (5, 0, "worse"),
        (12, 18, "changed"),  # inside to inside
        (25, 24.9, "no change"),
        (26, 9, "better"),  # past one limit, then a little beyond the other: 6 over, 1 under
        (21, 9.01, "changed"),  # 1 over, 0.99 under: that is no nearer
        (21, 4, "worse"),
    ],
)
def test_verdicts(before, after, verdict):
    found = compare(summary(before), summary(after), low=10, high=20)
    assert found.verdict == verdict


def test_a_measure_that_is_not_judged_only_changes():
    assert compare(summary(20), summary(24)).verdict == "changed"


def test_an_open_side_is_never_past():
    assert compare(summary(15), summary(40), low=20).verdict == "better"
    assert compare(summary(25), summary(40), low=20).verdict == "changed"


@pytest.mark.parametrize(
    "spoilt",
    [
        Summary(math.nan, math.nan, 0, math.nan, 1.0),
        Summary(5.0, math.nan, 1, 1.0, 0.5),
        Summary(5.0, 1.0, 8, math.nan, math.nan),
        Summary(5.0, 0.0, 8, 0.0, 0.0),
    ],
)
def test_cannot_tell(spoilt):
    same = Summary(5.0, 0.0, 8, 0.0, 0.0)
    assert compare(spoilt, same).verdict == "cannot tell"
    assert compare(same, spoilt).verdict == "cannot tell"
    assert math.isnan(compare(spoilt, same).mdc95)


def test_measured_repeats_replace_a_smaller_spread():
    before, after = summary(10, sd=1, n=100), summary(11, sd=1, n=100)
    assert compare(before, after, repeats=PooledSem(0.01, 20)).verdict != "no change"
    found = compare(before, after, repeats=PooledSem(1.0, 20))
    assert found.basis == "repeats"
    assert found.sem == pytest.approx(1.0)
    assert found.mdc95 == pytest.approx(2.77186, abs=1e-5)
    assert found.verdict == "no change"


def test_too_few_repeats_are_not_used():
    before, after = summary(10, sd=5, n=5), summary(11, sd=5, n=5)
    assert compare(before, after, repeats=PooledSem(9.0, 3)) == compare(before, after)


def test_the_squad_tells_where_there_are_no_repeats():
    # Derivation: its SEM holds all of the error; filmed differently, the bias that would have
    # cancelled comes on top: 2 · 3² + 2 ρ b² with b = 1.
    one, other = summary(10, sd=1, bias=1), summary(11, sd=1, bias=1)
    told = compare(one, other, squad=PooledSem(3.0, 20))
    assert told.basis == "squad"
    assert told.sem == pytest.approx(3.0)
    assert told.high - 1.0 == pytest.approx(2.0860 * 3 * math.sqrt(2), abs=1e-3)  # t table, df 20
    apart = compare(one, other, squad=PooledSem(3.0, 20), alike=False)
    assert apart.sem == pytest.approx(math.sqrt(9 + SHARED_BIAS))
    # It is never taken to be less than what these two clips themselves show.
    own = compare(one, other, squad=PooledSem(0.01, 20))
    assert own.sem == pytest.approx(math.sqrt(1 / 400 + 1 - SHARED_BIAS))
    assert compare(one, other, squad=PooledSem(3.0, 7)) == compare(one, other)
    both = compare(one, other, squad=PooledSem(3.0, 20), repeats=PooledSem(1.0, 20))
    assert both.basis == "repeats"


def test_pool_of_two_clips_by_hand():
    # Strokes 1, 2, 3 and 5, 7: mean 3.6, sum of squares 23.2 → sd √5.8; clip means 2 and 6 with
    # weights 0.6, 0.4: 0.6·1.6² + 0.4·2.4² = 3.84 over k − 1 = 1.
    one = Summary(2.0, 1.0, 3, 1 / math.sqrt(3), 0.0)
    other = Summary(6.0, math.sqrt(2), 2, 1.0, 0.0)
    both = pool([one, other])
    assert (both.mean, both.n) == (pytest.approx(3.6), 5)
    assert both.sd == pytest.approx(math.sqrt(5.8))
    assert both.se == pytest.approx(math.sqrt(3.84))


def test_pool_keeps_the_bias_of_the_day_and_skips_what_was_not_seen():
    clips = [summary(4, bias=2), summary(4, bias=1), Summary(math.nan, math.nan, 0, math.nan, 9)]
    assert pool(clips).bias_se == 2
    assert pool(clips[:1]) == clips[0]
    assert pool(clips[2:]) == clips[2]
    with pytest.raises(ValueError, match="none"):
        pool([])


@given(
    st.floats(-50, 50), st.floats(-50, 50), st.floats(0.1, 5), st.integers(2, 30), st.floats(0, 5)
)
def test_told_means_beyond_mdc95_and_turning_round_turns_the_verdict(a, b, sd, n, bias):
    one, other = summary(a, sd=sd, n=n, bias=bias), summary(b, sd=sd, n=n, bias=bias)
    there, back = compare(one, other, low=-10, high=10), compare(other, one, low=-10, high=10)
    assert back.change == -there.change
    assert back.mdc95 == pytest.approx(there.mdc95)
    turned = {"better": "worse", "worse": "better"}
    assert back.verdict == turned.get(there.verdict, there.verdict)
    if there.verdict != "no change":
        assert abs(there.change) > there.mdc95
        assert there.low > 0 or there.high < 0


@pytest.mark.parametrize(("times", "least", "most"), [(0.0, 0.0, 0.05), (3.0, 0.95, 1.0)])
def test_planted_changes_are_told_or_left(times, least, most):
    """From 8 strokes a clip: an athlete with no change is told one in at most 5 % of pairs."""
    rng = np.random.default_rng(20)
    sd, n, bias, pairs = 3.0, 8, 1.5, 4000
    piece = PIECE_SHARE * sd
    sem = math.sqrt(sd**2 / n + piece**2 + bias**2 * (1 - SHARED_BIAS))
    planted = times * 1.96 * math.sqrt(2) * sem
    told = 0
    for _ in range(pairs):
        shared = rng.normal(0, bias * math.sqrt(SHARED_BIAS))
        sides = []
        for true in (0.0, planted):
            own = rng.normal(0, bias * math.sqrt(1 - SHARED_BIAS))
            own += rng.normal(0, piece)
            strokes = true + shared + own + rng.normal(0, sd, n)
            spread = float(strokes.std(ddof=1))
            sides.append(summary(float(strokes.mean()), sd=spread, n=n, bias=bias))
        told += compare(*sides).verdict != "no change"
    # Three binomial standard errors of the count, for a bench of this size.
    slack = 3 * math.sqrt(0.05 * 0.95 / pairs)
    assert least - slack <= told / pairs <= most + slack
