"""Sentences for the athlete in other languages: every one is there, whole, and with its numbers."""

from __future__ import annotations

import math
import re
import string
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analysis import filming
from analysis.coaching import cautions, neutral, setup_hints
from analysis.coaching.drills import choose_drill, drill_rows
from analysis.coaching.findings import Finding, Hint, Side
from analysis.coaching.levels import Judgement
from analysis.coaching.readiness import readiness
from analysis.coaching.standard import load_standard
from analysis.coaching.words import (
    CHECK_WORDS,
    NOTHING_FIRST,
    NOTHING_TOLD,
    told,
    with_words,
    words,
)
from analysis.motion import reconstruct
from analysis.motion.motion import JOINTS
from analysis.output import said as module
from analysis.output.angle_arcs import AngleArcs
from analysis.output.annotated import drawers
from analysis.output.labels import Labels
from analysis.output.language import ENGLISH, languages, text_of
from analysis.output.moment import Moments, remarks
from analysis.output.page import render_report, report_page
from analysis.output.phase_band import PhaseBand
from analysis.output.said import DRILL_PARTS, catalogue, said, translated
from analysis.output.season.share import NOBODY
from analysis.output.text import can_set
from analysis.output.timing import timing
from analysis.output.words import measure_label
from analysis.pose.track import OUTLINE_POINTS, ClipFacts, PoseTrack
from analysis.result import Review
from analysis.stroke.build_up import SEAT_STAYS
from analysis.stroke.strokes import Stage
from tests.made_motion import Technique, made_motion

OTHERS = [code for code in languages() if code != "en"]
MEASURES = {name: told for name, told in words().items() if name != "context"}


def blanks(sentence: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name}


@pytest.mark.parametrize("code", OTHERS)
def test_every_finding_has_its_texts(code: str) -> None:
    theirs = catalogue(code)["finding"]
    assert set(theirs) == set(MEASURES)
    for measure, ours in MEASURES.items():
        sides = {"over", "under"} & set(ours)
        still = {"no_slide"} & set(theirs[measure])
        assert set(theirs[measure]) == {"well", *sides, *still}, measure
        # While the seat stays: another text wherever the athlete reads another one in English.
        assert read_by_athletes(theirs[measure].get("no_slide", {})) == read_by_athletes(
            ours.get("no_slide", {})
        )
        for side in sides:
            assert set(theirs[measure][side]) == {"title", "athlete"}
            # A title stands on the clip, in one line where the clip is slowed too.
            assert 0 < len(theirs[measure][side]["title"]) <= 34
            for part in ("title", "athlete"):
                assert translated(ours[side][part], text_of(code)) == theirs[measure][side][part]


def read_by_athletes(table: dict[str, Any]) -> set[str]:
    """The keys of what an athlete reads."""
    found = {"well"} & set(table)
    for side in {"over", "under"} & set(table):
        found |= {f"{side}.{part}" for part in ("title", "athlete") if part in table[side]}
    return found


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("stage", SEAT_STAYS)
def test_nothing_of_a_slide_where_there_is_none(code: str, stage: Stage) -> None:
    text = text_of(code)
    for limit in load_standard().at(stage, "erg").values():
        if limit.hint or not limit.applies(stage, "erg"):
            continue
        table = told(limit.measure, stage)
        english = [table["well"]]
        for side in {"over", "under"} & set(table):
            english += [table[side]["title"], table[side]["athlete"]]
        for sentence in (*(translated(s, text) for s in english),
                         measure_label(limit.measure, text, stage)):  # fmt: skip
            assert sentence and not re.search(r"Knie|[Rr]oll(e|st|en)\b|Beine drücken", sentence)


@pytest.mark.parametrize("code", OTHERS)
def test_every_drill_has_its_parts(code: str) -> None:
    theirs = catalogue(code)["drill"]
    assert list(theirs) == [row["key"] for row in drill_rows()]
    for row in drill_rows():
        assert set(theirs[row["key"]]) == set(DRILL_PARTS)
        for part in DRILL_PARTS:
            other = theirs[row["key"]][part]
            assert other.strip()
            # The same numbers: sets, strokes, rates.
            assert re.findall(r"\d+", other) == re.findall(r"\d+", row[part]), row["key"]


@pytest.mark.parametrize("code", OTHERS)
def test_sentences_have_the_same_blanks_and_are_all_used(code: str) -> None:
    rows = catalogue(code)["sentence"]
    assert len({row["en"] for row in rows}) == len(rows)
    for row in rows:
        assert row[code].strip() and blanks(row[code]) <= blanks(row["en"]), row["en"]
    left = {row["en"] for row in rows}
    for sentence in spoken():
        text = text_of(code)
        assert translated(sentence, text) is not None, f"no translation: {sentence}"
        left -= {row for row in left if module._pattern(row).fullmatch(sentence)}
    # What fills a blank of another sentence.
    parts = ("hands at ", "forearm sloping ")
    assert [row for row in sorted(left) if not row.startswith(parts)] == []


def spoken() -> set[str]:
    """Every sentence that the stages can say to an athlete, made by the stages themselves."""
    found = {NOBODY, NOTHING_FIRST, NOTHING_TOLD, *cautions.ALL, *neutral._SOURCES.values()}
    found.add("the athlete's own, sitting upright in this clip")
    found |= ready_sentences() | hint_sentences() | filming_sentences()
    return {sentence for sentence in found if sentence}


def ready_sentences() -> set[str]:
    def finding(check: str, level: str) -> Finding:
        return Finding(check, "x", level, 1.0, 0.1, 0.0, 2.0, "deg")  # type: ignore[arg-type]

    found: set[str] = set()
    for check in CHECK_WORDS:
        found |= set(readiness((finding(check, "work on"),), "half_slide", 6).missing)
    many = tuple(finding(check, "watch") for check in ("rounding", "layback", "head"))
    found |= set(readiness(many, "half_slide", 6).missing)
    found |= set(readiness((finding("rounding", "cannot tell"),), "half_slide", 1).missing)
    return found | set(readiness((), "half_slide", 4).missing)


def hint_sentences() -> set[str]:
    def judged(side: Side, value: float) -> Judgement:
        return Judgement("work on", value, u=1.0, side=side, seen=3, strokes=3)

    made: list[Hint | None] = []
    for side in ("over", "under"):
        hands = {
            "hand_height_share": judged(side, 0.72),
            "forearm_release_deg": judged(side, -23.0),
        }
        feet = {"shin_catch_deg": judged(side, 12.3)}
        stiff = feet | {"rounding_catch_deg": judged("over", 30.0)}
        gap = {"hand_gap_share": judged(side, -0.62)}
        made += [setup_hints._handle_height(hands), setup_hints._oarlock(hands)]
        made.append(setup_hints._handle_height({"hand_height_share": judged(side, 0.72)}))
        made += [setup_hints._foot_height(feet), setup_hints._foot_height(stiff)]
        made.append(setup_hints._foot_stretcher(gap))
    assert all(made)
    return {part for hint in made if hint for part in (hint.text, hint.sure, hint.step)}


def filming_sentences() -> set[str]:
    """A clip that is good in everything, and clips that are bad in everything."""
    motion = made_motion(Technique(), strokes=2).motion
    facts = ClipFacts("a.mp4", "0", 20, 30.0, 960, 540, 0.7)
    shaking = 60.0 * np.random.default_rng(1).normal(size=(20, 2))
    outline = np.zeros((20, OUTLINE_POINTS, 2))
    pose = PoseTrack(
        facts, np.arange(20) / 30, {}, outline + 200.0, "right", 1,
        np.zeros(20, dtype=bool), np.zeros((20, 2)), light=120.0, blur_px=0.5,
    )  # fmt: skip
    bad = replace(
        pose, clip=replace(facts, mean_fps=12.4), outline_px=outline, light=20.0, blur_px=9.0,
        identity_uncertain=np.ones(20, dtype=bool), camera_shift_px=shaking,
    )  # fmt: skip
    torn = np.zeros((20, len(JOINTS)), dtype=bool)
    torn[:5] = True
    small = replace(motion, segments_px=motion.segments_px | {"trunk": 51.5}, tilt_se_deg=2.0)
    points = [*filming.filming_quality(pose, motion, 9)]
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(filming, "apart", lambda *_: torn)
        points += filming.filming_quality(pose, motion, 9)
    for count, yaw_deg in ((0, 16.0), (1, -16.0), (2, 16.0)):
        points += filming.filming_quality(bad, replace(small, yaw_deg=yaw_deg), count)
    assert {p.level for p in points} == {"good", "fair", "poor"}
    oblique = filming.what_can_be_told(replace(motion, yaw_deg=30.0))
    notes = {*filming.what_can_be_told(small).notes, *oblique.notes}
    camera = SimpleNamespace(
        tilt=SimpleNamespace(disagree=True), view=SimpleNamespace(yaw_deg=math.nan)
    )
    fitted = SimpleNamespace(camera=camera)
    notes |= set(reconstruct._notes(fitted, own_share=0.8))  # type: ignore[arg-type]
    return notes | {part for p in points for part in (p.label, p.costs, p.remedy)}


def test_numbers_and_words_are_put_in_place() -> None:
    german = text_of("de")
    assert translated(
        "The athlete is small in the picture (trunk 80 px): one pixel is 1.0°.", german
    ) == "Der Mensch ist klein im Bild (Oberkörper 80 Pixel): ein Pixel sind 1,0°."  # fmt: skip
    assert translated("hands level before the front: still to work on", german) == (
        "Hände auf einer Höhe vor der Auslage: daran arbeitest du noch"
    )
    watch = "at most one thing to watch (now 2: shape of the back, head level)"
    assert translated(watch, german) == (
        "höchstens eine Sache, die im Auge zu behalten ist (jetzt 2: Form des Rückens, "
        "Haltung des Kopfs)"
    )
    hint = (
        "The handle is drawn to a place high on the chest (hands at 0.72 of the way from hip to "
        "shoulder; forearm sloping −23°, 0° being level)."
    )
    assert translated(hint, german) == (
        "Der Griff wird hoch an die Brust gezogen (Hände auf 0,72 des Wegs von der Hüfte zur "
        "Schulter; Unterarm um −23° geneigt, 0° ist waagrecht)."
    )


def test_what_has_no_translation_is_marked_as_english() -> None:
    german = text_of("de")
    assert translated("A <new> sentence.", german) is None
    assert said("A <new> sentence.", german) == '<span lang="en">A &lt;new&gt; sentence.</span>'
    assert said("A <new> sentence.", ENGLISH) == "A <new> sentence."
    assert said("", german) == ""


def with_real_words(review: Review) -> Review:
    """The made review with the sentences that the coaching stage would give its findings."""
    found = tuple(with_words(f, review.strokes.stage) for f in review.findings.findings)
    first = next(f for f in found if f.check == review.findings.first_check)
    told = replace(
        review.findings,
        findings=found,
        first_text=first.athlete_text,
        drill=choose_drill(first.check, first.side, review.strokes.stage),
        did_well=("Your legs are flat when you finish.",),
        hints=(),
        neutral_source="the athlete's own, sitting upright in this clip",
    )
    motion = replace(review.motion, notes=())
    return replace(review, findings=told, motion=motion, quality=())


@pytest.mark.parametrize("code", OTHERS)
def test_the_athletes_part_of_the_page_has_no_english(review: Review, code: str) -> None:
    text, real = text_of(code), with_real_words(review)
    html = render_report(report_page(real, timing(real), (), text), text)
    own, coach = html.split('<section class="row wide coach"')
    assert 'lang="en"' not in own
    assert text("coach.this_language") in coach
    assert text("coach.this_language") not in own
    theirs = catalogue(code)
    assert theirs["finding"]["body_over_share"]["under"]["athlete"] in own
    assert theirs["drill"]["pause_body"]["do"] in own
    assert theirs["finding"]["knee_release_deg"]["well"] in own
    for sentence in ("hands go away", "Row slowly", "medical advice"):
        assert sentence not in own


@pytest.mark.parametrize("code", OTHERS)
def test_the_clip_speaks_the_pages_language(review: Review, code: str) -> None:
    text, real = text_of(code), with_real_words(review)
    titles = {remark.note.text for remark in remarks(real, text)}
    assert catalogue(code)["finding"]["body_over_share"]["under"]["title"] in titles
    assert titles.isdisjoint({remark.note.text for remark in remarks(real)})
    moment = Moments(real, 1.0, text=text).at(len(real.motion.t_s) // 2)
    assert moment.text is text
    for layer in drawers(real, text):
        drawn, english = (np.full((360, 640, 3), 90, np.uint8) for _ in range(2))
        layer.draw(drawn, replace(moment, show=("trunk_deg", "shin_deg"), slowed=4.0))
        layer.draw(english, replace(moment, show=("trunk_deg", "shin_deg"), slowed=4.0,
                                    text=ENGLISH))  # fmt: skip
        if isinstance(layer, PhaseBand | AngleArcs | Labels):
            assert (drawn != english).any(), type(layer).__name__


def test_the_words_on_a_clip_can_all_be_set() -> None:
    for code in languages():
        said_there = "".join(text_of(code).group("clip").values())
        titles = catalogue(code)["finding"].values()
        said_there += "".join(t[s]["title"] for t in titles for s in ("over", "under") if s in t)
        assert can_set(said_there)
