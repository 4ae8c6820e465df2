import numpy as np
import pytest

from analysis.stroke.analyse import analyse_strokes
from analysis.stroke.stage import stage_of_clip, stage_of_stroke
from tests.made_motion import STAGES, Technique, made_motion


@pytest.mark.parametrize(
    "share, swing, stage",
    [
        (0.02, 4.0, "arms_only"),
        (0.02, 25.0, "arms_and_body"),
        (0.079, 9.9, "arms_only"),
        (0.081, 9.9, "quarter_slide"),
        (0.25, 40.0, "quarter_slide"),
        (0.379, 40.0, "quarter_slide"),
        (0.381, 40.0, "full_slide"),  # a half slide that nobody named is a short full one
        (1.0, 40.0, "full_slide"),
    ],
)
def test_limits(share, swing, stage):
    assert stage_of_stroke(share, swing) == stage


def test_the_majority_decides_and_the_later_step_when_level():
    assert stage_of_clip(["arms_only", "full_slide", "full_slide"]) == "full_slide"
    assert stage_of_clip(["arms_only", "arms_and_body"]) == "arms_and_body"


@pytest.mark.parametrize("name", STAGES)
@pytest.mark.parametrize("noise_px", [0.0, 1.5])
def test_each_step_of_the_build_up_is_recognised(name, noise_px):
    made = made_motion(STAGES[name], strokes=3, noise_px=noise_px, seed=2)
    expected = "full_slide" if name == "half_slide" else name
    found = analyse_strokes(made.motion)
    assert found.stage == expected
    assert set(found.stage_of_stroke) == {expected}
    assert not found.stage_named


def test_the_coachs_word_wins_and_each_stroke_is_still_told():
    made = made_motion(STAGES["half_slide"], strokes=3)
    found = analyse_strokes(made.motion, stage="half_slide")
    assert found.stage == "half_slide" and found.stage_named
    assert set(found.stage_of_stroke) == {"full_slide"}


def test_a_clip_of_several_stages_is_told_stroke_by_stroke():
    listed = [STAGES["arms_and_body"]] * 2 + [STAGES["quarter_slide"]] * 3
    found = analyse_strokes(made_motion(listed).motion)
    # The slide of stroke 2 is still arms and body; the change falls between two strokes.
    assert found.stage_of_stroke[0] == "arms_and_body"
    assert found.stage_of_stroke[3:] == ("quarter_slide",) * 2
    assert found.stage == "quarter_slide"


def test_slide_share_follows_the_athletes_own_legs():
    # The made rower slides from a knee of 171° to the shin angle; a shin at 0° is a whole slide
    # but for the last bit of straightening (law of the triangle).
    made = made_motion(Technique(shin_catch_deg=0.0), strokes=2)
    np.testing.assert_allclose(made.truth.slide_share, 1.0, atol=0.01)
