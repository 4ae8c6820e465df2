import pytest

from analysis.coaching.assess import assess
from analysis.coaching.readiness import readiness_text
from analysis.coaching.standard import load_standard
from tests.coaching.made_strokes import made_strokes

NOVICE = load_standard()


def ready(n: int = 6, stage: str = "half_slide", **changed):
    return assess(made_strokes(n, stage=stage, **changed), NOVICE).readiness


def test_sound_strokes_are_ready_for_the_next_stage():
    for stage, following in (("arms_only", "arms_and_body"), ("half_slide", "full_slide")):
        answer = ready(stage=stage)
        assert (answer.ready, answer.next_stage, answer.missing) == (True, following, ())
    assert readiness_text(ready()) == "Ready for full slide."


def test_full_slide_is_the_last_stage():
    answer = ready(stage="full_slide")
    assert (answer.ready, answer.next_stage) == (None, None)
    assert "last step" in readiness_text(answer)


def test_four_strokes_are_not_enough():
    answer = ready(4)
    assert not answer.ready
    assert answer.missing == (
        "a clip with at least 5 whole strokes (this one has 4 whole strokes)",
    )
    # Nothing that the athlete did speaks against it, and nothing is said that sounds so.
    assert answer.only_the_clip
    assert readiness_text(answer) == (
        "Whether ready for full slide cannot be told yet. It takes a clip with at least 5 whole "
        "strokes (this one has 4 whole strokes)."
    )


def test_something_to_work_on_is_named():
    answer = ready(lunge_deg=15.0)
    assert not answer.ready and not answer.only_the_clip
    assert not ready(4, lunge_deg=15.0).only_the_clip and not ready().only_the_clip
    assert answer.missing == ("late reach at the front: still to work on",)
    assert readiness_text(answer).startswith("Not ready for full slide yet. Still missing: late")


def test_one_thing_to_watch_is_allowed_two_are_not():
    assert ready(lunge_deg=5.2).ready
    answer = ready(lunge_deg=5.2, handle_level_share=0.255)
    assert not answer.ready
    assert "now 2: late reach at the front, level pull" in answer.missing[0]


def test_a_check_counts_once_with_all_its_measures():
    assert ready(rounding_drive_raw_deg=10.2, rounding_catch_raw_deg=10.2).ready


def test_a_posture_that_cannot_be_told_is_missing():
    answer = ready(without=("rounding_release_raw_deg",))
    assert not answer.ready
    assert answer.missing == ("a clip that shows the shape of the back",)
    assert answer.only_the_clip


@pytest.mark.parametrize("stage", ["arms_only", "arms_and_body"])
def test_only_the_checks_of_the_stage_count(stage):
    assert ready(stage=stage, lunge_deg=30.0, shin_catch_deg=40.0).ready
