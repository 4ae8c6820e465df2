import itertools
import math
import re

import pytest

from analysis.coaching import cautions, words
from analysis.coaching.assess import assess
from analysis.coaching.standard import load_standard
from analysis.stroke.build_up import SEAT_STAYS
from tests.coaching.made_strokes import made_strokes

LIMITS = [limit for limit in load_standard().at("full_slide", "erg").values() if not limit.hint]

#: The trade's words that a beginner of 14 has not been told, and words that blame or frighten.
JARGON = (
    "compress", "layback", "recovery", "ratio", "catch", "release", "lumbar", "flexion", "sequence",
    "trunk", "posture", "amplitude", "degrees", "°",
)  # fmt: skip
UNKIND = ("wrong", "bad ", "fault", "fail", "must", "never", "injur", "danger", "should have")


def sides():
    for limit in LIMITS:
        if limit.low is not None:
            yield limit.measure, "under"
        if limit.high is not None:
            yield limit.measure, "over"


@pytest.mark.parametrize(("measure", "side"), list(sides()))
def test_every_limit_has_words_for_its_readers(measure, side):
    said = words.words()[measure][side]
    assert set(said) == {"title", "athlete", "coach"}
    for text in (said["athlete"], said["coach"]):
        assert text[-1] == "." and "  " not in text
    assert not said["title"].endswith(".") and len(said["title"]) < 50


def test_words_hold_nothing_that_no_limit_can_say():
    known = {(measure, side) for measure, side in sides()}
    for measure, table in words.words().items():
        if measure != "context":
            assert {"label", "well", "empty"} <= set(table)
            for side in set(table) - {"label", "well", "empty", "no_slide"}:
                assert (measure, side) in known
            for name, said in table.get("no_slide", {}).items():
                assert name in table
                assert isinstance(said, str) or set(said) <= set(table[name])


#: What nobody does while the seat stays and the legs lie flat.
ON_A_SLIDE = re.compile(
    r"\bknees?\b|\bslid(e|ing)\b|your legs push|legs are still|before the legs|with your legs at"
)


@pytest.mark.parametrize("stage", SEAT_STAYS)
def test_nothing_is_said_of_a_slide_where_there_is_none(stage):
    """Oskar rows with his arms alone: his knees cannot come up too early."""
    there = [m for m in load_standard().at(stage, "erg").values() if m.applies(stage, "erg")]
    judged = [limit for limit in there if not limit.hint]
    assert len(judged) == {"arms_only": 3, "arms_and_body": 8}[stage]
    for limit in judged:
        table = words.told(limit.measure, stage)
        sides_ = [table[side] for side in ("over", "under") if side in table]
        said = [table["label"], table["well"], table["empty"]]
        for text in (*said, *(t for side in sides_ for t in side.values())):
            assert not ON_A_SLIDE.search(text.lower()), text


def test_the_same_words_elsewhere():
    for measure, table in words.words().items():
        if measure != "context":
            whole = {name: said for name, said in table.items() if name != "no_slide"}
            assert words.told(measure, "quarter_slide") == whole == words.told(measure)
            assert "no_slide" not in words.told(measure, "arms_only")


@pytest.mark.parametrize("stage", ["full_slide", "arms_and_body"])
@pytest.mark.parametrize(("measure", "side"), list(sides()))
def test_athletes_are_told_plainly_and_kindly(measure, side, stage):
    text = words.told(measure, stage)[side]["athlete"].lower()
    for word in (*JARGON, *UNKIND):
        assert word not in text, word
    sentences = re.split(r"(?<=[.!?])\s", text)
    assert 2 <= len(sentences) <= 4
    assert all(len(sentence.split()) <= 28 for sentence in sentences)


def test_what_went_well_is_said_without_jargon():
    for limit, stage in itertools.product(LIMITS, ("full_slide", "arms_and_body")):
        text = words.told(limit.measure, stage)["well"].lower()
        assert text.startswith(("your ", "you ", "seat "))
        for word in (*JARGON, *UNKIND):
            assert word not in text, word


def test_the_coach_reads_numbers_with_units_limits_and_strokes():
    found = assess(made_strokes(layback_deg=27.0), load_standard())
    text = found.first.coach_text
    assert text.startswith(
        "Layback at the release: 27° ± 1°, limit 3° to 20°; past it in 6 of 6 strokes."
    )


def test_shares_are_told_in_the_pages_own_unit():
    found = assess(made_strokes(body_over_share=0.31), load_standard())
    assert "31 % ± " in found.first.coach_text and "limit at least 75 %" in found.first.coach_text


def test_praise_for_the_ratio_does_not_deny_a_rushed_slide():
    """Both can be true of one stroke: the recovery takes its time, most of it spent waiting."""
    assert "take your time" not in words.words()["ratio"]["well"]


def test_numbers_are_written_with_their_units():
    assert words.number(-0.2, "deg") == "0°"
    assert words.number(-12.4, "deg") == "−12°"
    assert words.number(0.456, "share") == "0.46"
    # As the page writes them: parts in per cent, ratios as they are.
    assert words.number(0.456, "share", "body_over_share") == "46 %"
    assert words.number(1.004, "share", "front_speed_share") == "1.00"
    assert words.limit_text(0.42, None, "share", "slide_time_share") == "at least 42 %"
    assert words.number(0.3, "s") == "0.30 s"
    assert words.number(22.4, "1/min") == "22/min"
    assert words.number(math.nan, "deg") == "–"


def test_limits_are_written_as_a_reader_says_them():
    assert words.limit_text(3.0, 20.0, "deg") == "3° to 20°"
    assert words.limit_text(0.75, None, "share") == "at least 0.75"
    assert words.limit_text(None, 0.3, "s") == "at most 0.30 s"
    assert words.limit_text(None, None, "s") == "no limit"


def test_praise_comes_only_for_checks_that_are_steady_in_everything():
    found = assess(made_strokes(elbow_catch_deg=140.0), load_standard())
    assert not any("arms stay long" in text for text in found.did_well)


def test_praise_begins_with_the_best():
    # Well inside by many steps against inside by less than one.
    found = assess(made_strokes(lunge_deg=-30.0, layback_deg=17.0), load_standard())
    quiet = words.words()["lunge_deg"]["well"]
    back = words.words()["layback_deg"]["well"]
    assert found.did_well.index(quiet) < found.did_well.index(back)


def test_every_check_has_a_name_in_words():
    every = load_standard().at("full_slide", "boat").values()
    assert {limit.check for limit in every} == set(words.CHECK_WORDS)


def test_context_names_its_source():
    for text in words.words()["context"].values():
        assert re.search(r"\d{4}|common practice|UNLV", text)


def test_cautions_say_what_to_do():
    told = " ".join(cautions.ALL).lower()
    for word in ("not medical advice", "pain", "numbness", "leg", "bladder or bowel", "stop",
                 "clinician", "consent", "delete", "this machine"):  # fmt: skip
        assert word in told
