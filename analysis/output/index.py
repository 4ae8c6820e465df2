"""The page over all clips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.output import words
from analysis.output.html import english, environment
from analysis.output.language import ENGLISH, Text
from analysis.output.page_parts import ready_words
from analysis.output.rows import SIGNS
from analysis.output.said import said
from analysis.result import Review


@dataclass(frozen=True)
class IndexEntry:
    """One clip on the index page.

    ``problem`` is the sentence why the clip could not be reviewed; then only `source` and
    `athlete` are shown beside it. ``first_thing`` is empty when nothing stands out.
    """

    source: str
    athlete: str
    out_name: str = ""
    date: str = ""
    stage: str = ""
    strokes: int = 0
    rate: str = ""
    first_thing: str = ""
    first_text: str = ""
    ready: bool | None = None
    ready_text: str = ""
    problem: str = ""


def entry_of(review: Review, text: Text = ENGLISH) -> IndexEntry:
    """Return the entry of a finished review."""
    findings, strokes = review.findings, review.strokes
    return IndexEntry(
        source=review.source,
        athlete=words.name(review.athlete),
        out_name=review.out_name,
        date=review.date,
        stage=words.stage_label(strokes.stage, text),
        strokes=strokes.count,
        rate=words.rate(strokes, text),
        first_thing=said(findings.first.title, text) if findings.first else "",
        first_text=said(findings.first_text, text),
        ready=findings.readiness.ready,
        # Of the last step there is nothing to say in a list.
        ready_text=""
        if findings.readiness.ready is None
        else ready_words(findings.readiness, text),
    )


def problem_entry(source: str, athlete: str, problem: str) -> IndexEntry:
    """Return the entry of a clip that could not be reviewed."""
    return IndexEntry(source=source, athlete=words.name(athlete), problem=problem)


def render_index(entries: Sequence[IndexEntry], text: Text = ENGLISH) -> str:
    """Return the HTML of the index page."""
    return (
        environment()
        .get_template("index.html.j2")
        .render(
            reviewed=[e for e in entries if not e.problem],
            problems=[e for e in entries if e.problem],
            signs=SIGNS,
            t=text,
            en=english(text),
        )
    )
