import pytest

from analysis.coaching.drills import choose_drill, drill_rows
from analysis.coaching.standard import load_standard
from analysis.stroke.strokes import STAGES

LIMITS = load_standard().at("full_slide", "boat").values()


def judged(stage):
    for limit in load_standard().at(stage, "boat").values():
        if limit.applies(stage, "boat") and not limit.hint:
            if limit.low is not None:
                yield limit.check, "under"
            if limit.high is not None:
                yield limit.check, "over"


@pytest.mark.parametrize("stage", STAGES)
def test_every_finding_has_a_drill_at_every_stage_that_judges_it(stage):
    for check, side in judged(stage):
        assert choose_drill(check, side, stage) is not None, (check, side)


@pytest.mark.parametrize("stage", ["arms_only", "arms_and_body"])
def test_drills_with_legs_flat_ask_for_no_slide(stage):
    for check, side in judged(stage):
        drill = choose_drill(check, side, stage)
        text = f"{drill.do} {drill.film} {drill.name}".lower()
        assert "slide" not in text and "knees" not in text, drill.key
        if stage == "arms_only":
            assert "swing" not in text


def test_sides_have_their_own_drill_where_it_matters():
    over = choose_drill("compression", "over", "full_slide")
    under = choose_drill("compression", "under", "full_slide")
    assert over.key != under.key


def test_drills_follow_common_practice():
    # Common practice: which drill goes with which fault.
    at = {
        "body_over": "Pause with the body over",
        "lunge": "Pause with the body over",
        "arms_away": "Pause with the hands away",
        "seat_slip": "Legs only, body held",
        "opening_early": "Quarter and half slide, lean held",
        "arms_early": "Straight-arm strokes",
        "layback": "Pause at the finish",
        "rush": "Counted way forward",
        "dwell": "Roll through the front",
    }
    assert {check: choose_drill(check, "over", "full_slide").name for check in at} == at


def test_an_unknown_check_has_no_drill():
    assert choose_drill("unheard of", None, "full_slide") is None


def test_every_drill_is_whole_and_is_reached():
    keys = [row["key"] for row in drill_rows()]
    assert len(set(keys)) == len(keys)
    checks = {limit.check for limit in LIMITS if not limit.hint}
    for row in drill_rows():
        assert {name.split(".")[0] for name in row["checks"]} <= checks
        assert any(char.isdigit() for char in row["amount"])
        for part in ("name", "do", "amount", "feel", "film"):
            assert row[part].strip() == row[part] != ""
    reached = {
        choose_drill(check, side, stage).key for stage in STAGES for check, side in judged(stage)
    }
    assert reached == set(keys)
