"""The text table: every language whole, every word of the page in it, nothing beside it."""

from __future__ import annotations

import re
import string
from dataclasses import replace
from html.parser import HTMLParser
from importlib import resources

import pytest

from analysis.coaching.words import CHECK_WORDS, STAGE_WORDS
from analysis.coaching.words import words as coaching
from analysis.errors import SettingsError
from analysis.output import words
from analysis.output.index import entry_of, problem_entry, render_index
from analysis.output.language import ELSEWHERE, ENGLISH, Text, languages, text_of
from analysis.output.page import render_report, report_page
from analysis.output.timing import timing
from analysis.result import Review
from analysis.stroke.measures import MEASURES

OTHERS = [code for code in languages() if code != "en"]
OUTPUT = resources.files("analysis.output")
OURS = ("base", "parts", "report", "watch", "curves", "marks", "coach")


def blanks(words_: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(words_) if name}


def test_there_is_a_second_language() -> None:
    assert languages()[0] == "en" and "de" in OTHERS
    with pytest.raises(SettingsError, match="choose one of en, de"):
        text_of("xx")


@pytest.mark.parametrize("code", OTHERS)
def test_every_language_has_every_key_with_the_same_blanks(code: str) -> None:
    other = text_of(code).table
    own = {key for key in other if key.split(".")[0] not in ELSEWHERE}
    assert own == set(ENGLISH.table)
    for key in own:
        assert other[key].strip() and blanks(other[key]) == blanks(ENGLISH.table[key]), key
    assert set(text_of(code).group("check")) == set(CHECK_WORDS)
    assert set(text_of(code).group("measure")) == {m.name for m in MEASURES}
    still = {name for name, said in coaching().items() if "label" in said.get("no_slide", {})}
    assert set(text_of(code).group("measure_no_slide")) == still


def test_the_stages_are_the_coachings() -> None:
    assert {k: v.lower() for k, v in ENGLISH.group("stage").items()} == STAGE_WORDS


def test_every_key_is_used_and_every_used_key_is_there() -> None:
    used = ""
    for folder, ending in (
        (OUTPUT / "templates", ".j2"),
        (OUTPUT, ".py"),
        (OUTPUT / "static", ".js"),
    ):
        for file in folder.iterdir():
            if file.name.endswith(ending):
                used += file.read_text(encoding="utf-8")
    for key in ENGLISH.table:
        group, name = key.split(".")[:2]
        if name in ("one", "more"):
            assert re.search(rf'count\(\s*"{group}"', used)
            continue
        whole = f'"{group}.{name}"' in used
        made = re.search(rf'"{group}\."|"{group}\.\w*" ~|f"{group}\.|group\("{group}"\)', used)
        assert whole or made, f"{key} is never used"
    for key in re.findall(r"\bt(?:ext)?\(\s*\"([a-z_]+\.[a-z_0-9]+)\"", used):
        there = any(k.startswith(key) for k in ENGLISH.table) if key.endswith("_") else False
        assert key in ENGLISH.table or there, f"{key} is used and not there"


def marked(text: Text) -> Text:
    """A language in which every word of the table is put between marks."""
    fixed = {"number.point", "page.months", "page.date"}
    table = {k: v if k in fixed else f"⟦{v}⟧" for k, v in text.table.items()}
    return replace(text, code="qq", table=table)


class Words(HTMLParser):
    """Collects what people read: text and labels, but not of parts marked as another language."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.open: list[tuple[str, bool]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        for name in ("alt", "aria-label", "title"):
            if found.get(name) and not self.silent:
                self.said.append(str(found[name]))
        if tag not in ("meta", "link", "img", "br", "input"):
            self.open.append((tag, found.get("lang") == "en"))

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if data.strip() and not self.silent:
            self.said.append(data.strip())

    @property
    def silent(self) -> bool:
        return any(lang or tag in ("script", "style", "code") for tag, lang in self.open)


def test_no_word_of_the_page_stands_outside_the_table(review: Review) -> None:
    """With every entry between marks, a word outside them is one that was written elsewhere."""
    text = marked(ENGLISH)
    html = render_report(
        report_page(review, timing(review), {"catch.jpg", "release.jpg"}, text), text
    )
    # What is not the page's own: names, versions, files, numbers with units.
    given = {review.athlete, review.note, review.pose.clip.file, review.pose.clip.sha256,
             "novice", "March", "strokes.csv", "motion.csv", "review.json", *review.versions,
             *review.versions.values()}  # fmt: skip
    measures = {words.measure_label(m.name) for m in MEASURES}
    checks = {words.check_label(c) for c in CHECK_WORDS} | set(review.findings.context.values())
    for said in Words(html).said:
        rest = said
        while re.search(r"⟦[^⟦⟧]*⟧", rest):
            rest = re.sub(r"⟦[^⟦⟧]*⟧", "", rest)
        for known in sorted(given | measures | checks, key=len, reverse=True):
            rest = rest.replace(known, "")
        rest = re.sub(r"[\d.,]+ ?(?:s|m|min)\b|/min|P|[BNSLD]", "", rest)
        assert not re.search(r"[A-Za-z]{2,}", rest), f"{rest!r} in {said!r}"


def test_german_page_speaks_german(review: Review) -> None:
    german = text_of("de")
    html = render_report(report_page(review, timing(review), (), german), german)
    assert '<html lang="de">' in html
    assert "Hallo Mara" in html and "2. März 2026" in html
    assert "Auslage 1" in html and "Zeichnung" in html
    assert (
        "Oberkörper vorn, wenn die Knie sich heben: 31\u00a0%, Ziel: mindestens 75\u00a0%." in html
    )
    assert '<span lang="en">Get your body over before your knees come up.</span>' in html
    assert "Hello" not in html and "Watch yourself" not in html


def test_german_list_of_clips(review: Review) -> None:
    german = text_of("de")
    entries = [entry_of(review, german), problem_entry("cat.mp4", "cat", "Nobody rows here.")]
    html = render_index(entries, german)
    assert "1 Aufnahme ausgewertet" in html and "1 nicht auswertbar" in html
    assert "Volle Rolle, 3 Schläge bei Schlagzahl 40" in html
    assert "letzte Schritt" not in html
    assert '<span lang="en">Nobody rows here.</span>' in html


def test_numbers() -> None:
    german = text_of("de")
    assert words.quantity(-0.9, "s", text=german) == "−0,90 s"
    assert words.limits(0.75, None, "share", text=german) == "mindestens 75 %"
    assert ENGLISH.number(-0.001, 1) == "0.0"
    assert ENGLISH.count("lead", 1, rate=20, stage="x", place="y").startswith(
        "Notes on 1 stroke of"
    )
