import numpy as np
import pytest

from analysis.coaching.assess import assess
from analysis.coaching.findings import Hint
from analysis.coaching.setup_hints import Build, build_of, shared_boat
from analysis.coaching.standard import load_standard
from tests.coaching.made_strokes import made_strokes

NOVICE = load_standard()


def hints(setting: str = "erg", **changed) -> dict[str, Hint]:
    strokes = made_strokes(setting=setting, **changed)
    return {hint.key: hint for hint in assess(strokes, NOVICE).hints}


def test_sound_strokes_give_no_hint():
    assert hints() == {}
    assert hints("boat") == {}


def test_high_hands_on_a_machine_are_about_where_the_handle_is_drawn_to():
    one = hints(hand_height_share=0.9)["handle_height"]
    both = hints(hand_height_share=0.9, forearm_release_deg=45.0)["handle_height"]
    assert (one.sure, both.sure) == ("worth a look", "fairly sure")
    assert "high on the chest (hands at 0.90" in one.text
    assert "level forearms" in one.step


def test_in_a_boat_the_same_is_about_the_oarlock():
    high = hints("boat", forearm_release_deg=45.0)
    low = hints("boat", forearm_release_deg=-45.0)
    assert set(high) == {"oarlock_height"}
    assert "oarlock may be too high" in high["oarlock_height"].text
    assert "down by one spacer" in high["oarlock_height"].step
    assert "up by one spacer" in low["oarlock_height"].step


def test_witnesses_that_contradict_each_other_give_no_hint():
    assert hints(hand_height_share=0.9, forearm_release_deg=-45.0) == {}


def test_shins_tell_about_the_height_of_the_feet():
    over, under = hints(shin_catch_deg=20.0), hints(shin_catch_deg=-30.0)
    stiff = hints(shin_catch_deg=-30.0, catch_trunk_deg=2.0)["foot_height"]
    assert "Raise the feet" in over["foot_height"].step
    assert "Lower the feet" in under["foot_height"].step
    assert (under["foot_height"].sure, stiff.sure) == ("worth a look", "fairly sure")


def test_the_foot_stretcher_is_for_boats_only():
    assert hints(hand_gap_share=1.0) == {}
    assert "towards the stern" in hints("boat", hand_gap_share=1.0)["foot_stretcher"].step
    assert "towards the bow" in hints("boat", hand_gap_share=-1.0)["foot_stretcher"].step


def test_a_gap_that_is_not_sure_gives_no_hint():
    assert hints("boat", hand_gap_share=0.355) == {}
    assert hints("boat", hand_gap_share=np.array([np.nan] * 5 + [2.0])) == {}


def test_stage_counts_for_hints_too():
    assert hints(stage="half_slide", shin_catch_deg=30.0) == {}


def test_hints_are_never_findings():
    found = assess(made_strokes(setting="boat", hand_gap_share=1.0, hand_height_share=1.0), NOVICE)
    assert found.first_check is None
    assert {f.level for f in found.findings} == {"steady"}


def boat(**builds: Build) -> dict[str, str]:
    hint = Hint("foot_stretcher", "The hands stop short.", "worth a look", "Move it.")
    feet = Hint("foot_height", "The feet may be too low.", "worth a look", "Raise them.")
    out = shared_boat({name: (hint, feet) for name in builds}, builds)
    assert all(own[1] == feet for own in out.values())
    return {name: own[0].text for name, own in out.items()}


def test_the_build_is_named_where_athletes_share_a_boat():
    said = boat(Eva=Build(1.8), Maria=Build(2.0))
    assert "Maria has legs 11% longer for the upper body than Eva" in said["Maria"]
    assert "Eva has legs 10% shorter for the upper body than Maria" in said["Eva"]


def test_stature_counts_where_it_is_known():
    said = boat(Eva=Build(1.8, 1.60), Maria=Build(1.8, 1.76), Ida=Build(1.8))
    assert "Maria is 10% taller than Eva" in said["Maria"]
    assert "builds of Eva, Ida, Maria are alike" in said["Ida"]


def test_alone_in_the_boat_nothing_is_added():
    assert boat(Eva=Build(1.8)) == {"Eva": "The hands stop short."}


def test_build_from_segments():
    segments = {"thigh": 90.0, "shank": 90.0, "trunk": 100.0, "forearm": 1.0, "upper_arm": 1.0}
    assert build_of(segments).legs_per_trunk == pytest.approx(1.8)
