"""The pages: whole, safe against hostile names, sound HTML, nothing from outside."""

from __future__ import annotations

import itertools
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from analysis.coaching.words import with_words
from analysis.output.index import IndexEntry, entry_of, problem_entry, render_index
from analysis.output.language import ENGLISH
from analysis.output.page import date_words, render_report, report_page
from analysis.output.rows import finding_row, strip_of
from analysis.output.timing import timing
from analysis.result import Review

#: Every picture that a review of the made-up clip writes beside its page.
ALL = {
    "catch.jpg", "release.jpg", "body_over_shows.jpg", "body_over_best.jpg", "layback_shows.jpg",
    "layback_best.jpg", "lunge_shows.jpg",
}  # fmt: skip
VOID = {"meta", "link", "img", "br", "hr", "input", "source"}


class Tags(HTMLParser):
    """Collects tags with their attributes and checks that they nest."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.open: list[str] = []
        self.words = ""
        self.feed(html)
        assert self.open == [], f"left open: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open.pop() == tag, f"</{tag}> closes nothing"

    def handle_data(self, data: str) -> None:
        if not {"style", "script"} & set(self.open):
            self.words += " " + data

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def text(self) -> str:
        return " ".join(self.words.split())


@pytest.fixture(scope="module")
def html(review: Review) -> str:
    return render_report(report_page(review, timing(review), ALL))


def test_tells_the_story_in_order(html: str) -> None:
    text = Tags(html).text
    story = [
        "Hello Mara",
        "3 strokes",
        "You do this well",
        "Your hands go away before your body moves.",
        "One thing to work on",
        "The body comes over late",
        "31 %",
        "at least 75 %",
        "How to practise it",
        "Pause with the body over",
        "3 × 10 strokes",
        "Your catch and release",
        "Ready for the next step?",
        "stop rowing and see a clinician",
        "Watch yourself",
        "Your stroke as curves",
        "Feet and handle",
        "Lower the footboard by one hole",
        "How well it was filmed",
        "Film with the windows behind the camera.",
        "For the coach",
        "First week on the full slide.",
        "All numbers",
        "layback_deg",
        "How these numbers came to be",
        "0f" * 32,
        "movenet_thunder.onnx",
    ]
    at = 0
    for part in story:
        found = text.find(part, at)
        assert found >= 0, f"{part!r} missing after {text[max(0, at - 60) : at]!r}"
        at = found


def test_sound_html(html: str) -> None:
    page = Tags(html)
    assert page.all("html")[0]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for _, attrs in page.tags:
        for name in attrs.get("aria-labelledby", "").split():
            assert name in ids
    assert all(image["alt"] for image in page.all("img"))
    assert all(th.get("scope") for th in page.all("th"))


def test_nothing_comes_from_outside(html: str, review: Review) -> None:
    for page in (html, render_index([entry_of(review)])):
        for _, attrs in Tags(page).tags:
            for name in ("src", "href", "poster", "action", "data", "srcset"):
                assert "//" not in attrs.get(name, ""), attrs
        assert "@import" not in page and "url(http" not in page


def test_no_number_is_nan(html: str) -> None:
    assert not re.search(r"\bnan\b|\binf\b|None", Tags(html).text)
    data = re.search(r'<script type="application/json"[^>]*>(.*?)</script>', html, re.S)
    assert data is not None
    content = json.loads(data.group(1))
    assert len(content["frames_s"]) and content["frames_s"] == sorted(content["frames_s"])


HOSTILE = '<script>alert("x")</script>\'"&{{ 7*7 }}'


def test_hostile_names_stay_text(review: Review) -> None:
    hint = replace(review.findings.hints[0], text=HOSTILE)
    clip = replace(review.pose.clip, file=HOSTILE)
    hostile = replace(
        review,
        athlete=HOSTILE,
        note=HOSTILE,
        date=HOSTILE,
        pose=replace(review.pose, clip=clip),
        findings=replace(review.findings, hints=(hint,), first_text=HOSTILE),
        versions={HOSTILE: HOSTILE},
    )
    made = render_report(report_page(hostile, timing(review), ALL))
    plain = render_report(report_page(review, timing(review), ALL))
    assert len(Tags(made).all("script")) == len(Tags(plain).all("script"))
    assert Tags(made).text.count(HOSTILE) >= 6 and 'alert("x")</script>' not in made
    entry = replace(entry_of(hostile), out_name='a#b?c%d "ü"/../x')
    index = render_index([entry, problem_entry(HOSTILE, HOSTILE, HOSTILE)])
    assert Tags(index).all("script") == []
    links = [a["href"] for a in Tags(index).all("a") if a.get("href", "").endswith("report.html")]
    assert links == ["a%23b%3Fc%25d%20%22%C3%BC%22/../x/report.html"] * 2


def test_with_nothing_to_fix(review: Review) -> None:
    calm = replace(
        review.findings, first_check=None, first_text="Keep rowing like this.", drill=None,
        findings=tuple(f for f in review.findings.findings if f.level == "steady"),
    )  # fmt: skip
    text = Tags(render_report(report_page(replace(review, findings=calm), None))).text
    assert "Keep rowing like this." in text
    assert "One thing" not in text and "How to practise" not in text


def test_what_is_only_watched_comes_from_nothing_first(review: Review) -> None:
    watched = tuple(
        replace(f, level="watch", because_of=None) if f.level == "work on" else f
        for f in review.findings.findings
    )
    findings = replace(
        review.findings, findings=watched, first_check=None, first_text="Keep rowing.", drill=None
    )
    page = report_page(replace(review, findings=findings), None, set())
    assert page.later and not page.first_check
    assert ENGLISH("first.comes_from_first") not in render_report(page)


def test_without_a_drawn_clip(review: Review) -> None:
    page = Tags(render_report(report_page(review, None, ALL)))
    assert page.all("video") == [] and "Watch yourself" not in page.text
    assert not any("data-seek" in button for button in page.all("button"))


def test_a_page_to_be_shared_takes_no_corrections(review: Review) -> None:
    """Without the clip's fingerprint a correction could not be told to belong to it."""
    clip = replace(review.pose.clip, sha256="not given")
    shared = replace(review, pose=replace(review.pose, clip=clip))
    html = render_report(report_page(shared, timing(review)))
    assert 'id="marks"' not in html
    # There is no list of clips beside it, and nobody is greeted who has no name.
    assert "../index.html" not in html and "Hello" not in html
    assert "../index.html" in render_report(report_page(review, timing(review)))
    assert 'id="marks"' in render_report(report_page(review, timing(review)))


def test_how_it_was_filmed_says_what_to_change(review: Review) -> None:
    """What is well takes one line, whether something else is not, everything is, or nothing."""
    good, fair = review.quality
    for points, said, rest in (
        ((good, fair), "Light: fair.", "Everything else is filmed well."),
        ((good,), "", "Filmed well."),
        ((fair,), "Light: fair.", ""),
    ):
        text = Tags(render_report(report_page(replace(review, quality=points), None))).text
        assert good.label not in text and said in text.replace(" :", ":")
        assert ("filmed well" in text.lower()) == bool(rest) and rest in text


def test_a_badly_placed_phone_brings_its_picture(review: Review, html: str) -> None:
    assert 'class="phone-place"' not in html  # only the light is not good there
    far = replace(review.quality[0], key="size", level="poor", costs="Less sure.", remedy="Closer.")
    page = render_report(report_page(replace(review, quality=(far,)), timing(review), ALL))
    assert page.count('class="phone-place"') == 1


def test_the_coach_reads_each_number_once(review: Review) -> None:
    """Value, limit and strokes stand in the row; below it stands what to do."""
    layback = next(f for f in review.findings.findings if f.check == "layback")
    told = with_words(layback)
    assert "limit 3° to 20°" in told.coach_text
    text = finding_row(told, None).text
    assert text and told.coach_text.endswith(text) and "limit 3°" not in text
    assert text.startswith("More layback")


def test_a_value_past_a_limit_does_not_read_like_the_limit(review: Review) -> None:
    """1.004 where at most 1 is asked for: "1.00, at most 1.00, watch" would contradict itself."""
    layback = next(f for f in review.findings.findings if f.check == "layback")
    at = finding_row(replace(layback, value=20.3), None)
    assert (at.value, at.limits) == ("20.3°", "3° to 20°")
    assert finding_row(replace(layback, value=20.6), None).value == "21°"
    assert finding_row(replace(layback, value=20.02), None).value == "20.02°"
    assert finding_row(replace(layback, value=20.3, side=None), None).value == "20°"


def test_not_ready_says_what_is_missing(review: Review) -> None:
    waits = replace(
        review.findings.readiness, stage="half_slide", next_stage="full_slide", ready=False,
        missing=("late reach at the front: still to work on",),
    )  # fmt: skip
    changed = replace(
        review,
        findings=replace(review.findings, readiness=waits),
        strokes=replace(review.strokes, stage="half_slide"),
    )
    page = Tags(render_report(report_page(changed, None)))
    assert "Not ready for full slide yet." in page.text
    assert "late reach at the front: still to work on" in page.text
    few = replace(waits, missing=("a clip with at least 5 whole strokes",), only_the_clip=True)
    changed = replace(changed, findings=replace(changed.findings, readiness=few))
    short = Tags(render_report(report_page(changed, None)))
    assert "Not ready" not in short.text and "Still missing" not in short.text
    assert "This clip alone cannot yet tell whether you are ready for full slide." in short.text
    assert "a clip with at least 5 whole strokes" in short.text
    steps = [li for li in page.all("li") if li.get("class") in ("here", "done", "ahead")]
    assert [step["class"] for step in steps] == ["done", "done", "done", "here", "ahead"]


def test_levels_never_by_colour_alone(html: str) -> None:
    for sign in ("▲ Work on", "◐ Watch", "✓ Steady", "? Cannot tell"):
        assert sign in Tags(html).text


def test_strip_places_value_and_band(review: Review) -> None:
    layback = next(f for f in review.findings.findings if f.check == "layback")
    strip = strip_of(replace(layback, low=0.0, high=10.0, value=20.0, u=0.0))
    # By hand: shown from −5 to 25, so 0 lies at 1/6, 10 at 1/2, 20 at 5/6.
    assert strip is not None
    assert strip.band_left == pytest.approx(100 / 6, abs=0.01)
    assert strip.band_wide == pytest.approx(100 / 3, abs=0.01)
    assert strip.value == pytest.approx(500 / 6, abs=0.01)
    assert strip_of(replace(layback, value=float("nan"))) is None


def test_dates() -> None:
    assert date_words("2026-03-02") == "2 March 2026"
    assert date_words("last week") == "last week" and date_words("") == ""


def test_index_lists_all(review: Review) -> None:
    entries = [entry_of(review), problem_entry("clips/cat.mp4", "cat", "Nobody is rowing here.")]
    text = Tags(render_index(entries)).text
    for part in (
        "Mara",
        "Full slide",
        "3 strokes at 40 a minute",
        "The body comes over late",
        "clips/cat.mp4",
        "Nobody is rowing here.",
    ):
        assert part in text
    assert "1 clip reviewed, 1 that could not be." in text


def test_index_of_nothing() -> None:
    assert "0 clips reviewed" in Tags(render_index([])).text


def test_entry_of_a_sound_clip(review: Review) -> None:
    sound = replace(review.findings, first_check=None, first_text="Nothing stands out.")
    entry = entry_of(replace(review, findings=sound))
    assert isinstance(entry, IndexEntry) and entry.first_thing == ""
    assert "Nothing stands out." in Tags(render_index([entry])).text


def test_pages_open_by_double_click(written: Path) -> None:
    page = Tags((written / "report.html").read_text(encoding="utf-8"))
    for name in ("src", "href"):
        for _, attrs in page.tags:
            link = attrs.get(name, "").split("#")[0]
            if link and not link.startswith(("data:", "../index.html")):
                assert (written / link).exists(), link


@pytest.mark.parametrize("value, sound", [(0.5, False), (0.75, True), (0.9, True)])
def test_the_best_stroke_has_a_tick_only_where_it_is_as_asked_for(
    review: Review, value: float, sound: bool
) -> None:
    column = review.strokes.measures["body_over_share"]  # at least 0.75 is asked for
    worst = next(f for f in review.findings.findings if f.check == "body_over").worst_stroke or 0
    values = np.full(len(column.values), value)
    values[worst - 1] = 0.1
    measures = review.strokes.measures | {"body_over_share": replace(column, values=values)}
    changed = replace(review, strokes=replace(review.strokes, measures=measures))
    html = render_report(report_page(changed, timing(changed), ALL))
    best = re.search(r'body_over_best.jpg".*?<figcaption>(.*?)Your best', html, re.DOTALL)
    assert best is not None and ("✓" in best.group(1)) == sound
