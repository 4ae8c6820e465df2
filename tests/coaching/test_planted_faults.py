"""A small, quick part of tests/accuracy/findings_bench.py, with the same noise."""

import pytest

from tests.accuracy.findings_bench import STEPS, Track, review

#: One of every group of the order, each side at least once.
PLANTED = [
    ("novice", "body_over_share", "under"),
    ("novice", "lunge_deg", "over"),
    ("novice", "seat_slip_share", "over"),
    ("novice", "layback_deg", "over"),
    ("novice", "ratio", "under"),
    ("trained", "catch_trunk_deg", "over"),
    ("trained", "layback_deg", "under"),
    ("trained", "handle_level_share", "over"),
]


@pytest.mark.parametrize(("standard", "measure", "side"), PLANTED)
def test_a_planted_fault_is_the_first_thing_to_fix(standard, measure, side):
    outcome = review(Track(standard, measure, side, STEPS, seed=3))
    assert outcome.level == "work on"
    assert outcome.leads
    assert outcome.false == ()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("standard", ["novice", "trained"])
def test_sound_technique_has_nothing_to_work_on(standard, seed):
    assert review(Track(standard, "", "", 0.0, seed)).false == ()
