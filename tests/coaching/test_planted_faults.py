"""A small, quick part of tests/accuracy/findings_bench.py, with the same noise."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.coaching.assess import assess
from analysis.coaching.standard import load_standard
from analysis.stroke.analyse import analyse_strokes
from tests.accuracy.findings_bench import STEPS, Track, film, review
from tests.made_motion import NEUTRAL_RAW_DEG, STAGES

PLANTED = [
    ("novice", "body_over_share", "under"),
    ("novice", "lunge_deg", "over"),
    ("novice", "layback_deg", "over"),
    ("trained", "seat_slip_share", "over"),
    ("trained", "layback_deg", "under"),
    ("trained", "ratio", "under"),
]


@pytest.mark.parametrize(("standard", "measure", "side"), PLANTED)
def test_a_planted_fault_leads_or_names_what_leads_as_its_cause(standard, measure, side):
    outcome = review(Track(standard, measure, side, STEPS, seed=3))
    assert outcome.level == "work on"
    assert outcome.told
    assert outcome.false == ()


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("standard", ["novice", "trained"])
def test_sound_technique_has_nothing_to_work_on(standard, seed):
    assert review(Track(standard, "", "", 0.0, seed)).false == ()


@pytest.mark.parametrize("stage", ["arms_only", "arms_and_body", "quarter_slide"])
def test_sound_drills_are_recognised_and_ready_for_the_next_stage(stage):
    standard = replace(load_standard(), neutral_raw_deg=NEUTRAL_RAW_DEG)
    made = film(STAGES[stage], np.random.default_rng(5), seed=5, strokes=6)
    strokes = analyse_strokes(made.motion, neutral_raw_deg=NEUTRAL_RAW_DEG)
    found = assess(strokes, standard)
    assert strokes.stage == stage and not strokes.stage_named
    assert found.first_check is None
    assert found.readiness.ready


def test_half_a_slide_is_sound_as_a_drill_and_short_as_a_stroke():
    made = film(STAGES["half_slide"], np.random.default_rng(6), seed=6, strokes=6)
    standard = replace(load_standard(), neutral_raw_deg=NEUTRAL_RAW_DEG)
    as_drill, as_stroke = (
        assess(analyse_strokes(made.motion, stage=named, neutral_raw_deg=NEUTRAL_RAW_DEG), standard)
        for named in ("half_slide", None)
    )
    assert as_drill.first_check is None
    assert as_stroke.first_check == "compression" and as_stroke.first.side == "under"
    assert "name the stage" in as_stroke.first.coach_text
