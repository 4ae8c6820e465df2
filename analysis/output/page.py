"""The data of a report page, and the page made from it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.coaching import cautions
from analysis.output import figures, handle_figure, words
from analysis.output.html import english, environment
from analysis.output.kept_figures import Once, draw_now
from analysis.output.language import ENGLISH, Text
from analysis.output.mark_words import correction_words, who_choices
from analysis.output.moment import stroke_to_show
from analysis.output.page_data import page_data
from analysis.output.page_parts import (
    Pair,
    Step,
    Stop,
    clip_facts,
    pair_of,
    ready_words,
    steps_of,
    still_words,
    stops_of,
)
from analysis.output.page_parts import (
    date_words as date_words,
)
from analysis.output.phone_place import picture_for
from analysis.output.rows import FindingRow, MeasureRow, finding_row, measure_rows
from analysis.output.said import said, said_drill, said_hint, said_quality, translated
from analysis.output.shows import shown_findings
from analysis.output.stick_figures import StickPicture, own_strokes
from analysis.output.stills import crop_box, still_frames
from analysis.output.tables import plain
from analysis.output.timing import Timing
from analysis.result import QualityPoint, Review

_QUALITY_SIGNS = {"good": "✓", "fair": "◐", "poor": "▲"}


@dataclass(frozen=True)
class ReportPage:
    """Everything on a report page, in its order."""

    athlete: str
    shared: bool
    date: str
    stage: str
    setting: str
    strokes: int
    rate: str
    note: str
    lead: str
    first: FindingRow | None
    first_pair: Pair | None
    first_text: str
    first_check: str
    later: tuple[FindingRow, ...]
    pairs: tuple[Pair, ...]
    did_well: tuple[str, ...]
    drill: Any
    has_clip: bool
    has_stills: bool
    shown_stroke: int
    catch_words: str
    release_words: str
    clip_shape: str
    still_shape: str
    stops: tuple[Stop, ...]
    pictures: tuple[figures.Picture, ...]
    order: figures.Picture | None
    handle: figures.Picture | None
    sticks: StickPicture | None
    steps: tuple[Step, ...]
    ready: bool | None
    ready_text: str
    only_the_clip: bool
    missing: tuple[str, ...]
    hints: tuple[Any, ...]
    quality: tuple[tuple[str, QualityPoint, str], ...]
    phone_place: str
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    keeping: tuple[str, ...]
    findings: tuple[FindingRow, ...]
    not_judged: tuple[FindingRow, ...]
    context: tuple[tuple[str, str], ...]
    context_words: str
    measures: tuple[MeasureRow, ...]
    neutral_source: str
    standard: str
    clip_facts: tuple[tuple[str, str], ...]
    versions: tuple[tuple[str, str], ...]
    corrections: tuple[str, ...]
    who_choices: tuple[tuple[str, str], ...]
    data: dict[str, Any]


def report_page(
    review: Review,
    timing: Timing | None,
    files: Collection[str] = (),
    text: Text = ENGLISH,
    once: Once = draw_now,
) -> ReportPage:
    """Gather everything that the page shows.

    Parameters
    ----------
    review : Review
    timing : Timing or None
        That of the annotated clip, ``None`` when none was made.
    files : collection of str
        The pictures that lie beside the page.
    text : Text
    once : callable
        Draws a figure, or knows it already (`kept_figures`).
    """
    findings, strokes = review.findings, review.strokes
    rows = [finding_row(f, timing, text, strokes.stage) for f in findings.findings]
    both = list(zip(findings.findings, rows, strict=True))
    first = next((row for f, row in both if f is findings.first), None)
    later = [
        row
        for f, row in both
        if f.level in ("work on", "watch") and f.check != findings.first_check
    ]
    shown = [(s, pair_of(review, s, timing, files, text)) for s in shown_findings(review)]
    rate = words.rate(strokes, text) or "–"
    stage = words.stage_label(strokes.stage, text)
    setting = text("page.on_erg" if strokes.setting == "erg" else "page.in_boat")
    clip, box = review.pose.clip, crop_box(review)
    stills = still_frames(review)
    own = text.code == "en"
    return ReportPage(
        athlete=translated(words.name(review.athlete), text) or words.name(review.athlete),
        # What is made to be shown to others carries no fingerprint of the clip, and no list.
        shared=review.shared,
        date=date_words(review.date, text),
        stage=stage,
        setting=setting,
        strokes=strokes.count,
        rate=rate,
        note=review.note,
        lead=text.count(
            "lead",
            strokes.count,
            rate=rate,
            stage=stage.lower() if own else stage,
            place=setting,
        ),
        first=first,
        first_pair=next((pair for s, pair in shown if s.finding is findings.first), None),
        first_text=said(findings.first_text, text),
        first_check=words.check_label(findings.first_check, text) if findings.first_check else "",
        later=_one_a_check(later),
        pairs=tuple(pair for s, pair in shown if s.finding.check != findings.first_check),
        did_well=tuple(said(one, text) for one in findings.did_well),
        drill=said_drill(findings.drill, text),
        has_clip=timing is not None,
        has_stills=bool(stills) and all(name in files for name in stills),
        shown_stroke=stroke_to_show(review) + 1,
        catch_words=still_words(review, "catch.jpg", text),
        release_words=still_words(review, "release.jpg", text),
        clip_shape=f"{clip.width_px} / {clip.height_px}",
        still_shape=f"{box[2] - box[0]} / {box[3] - box[1]}",
        stops=stops_of(review, timing, text) if timing is not None else (),
        pictures=tuple(figures.stroke_pictures(review, text, once)),
        order=figures.order_picture(review, text, once),
        handle=handle_figure.handle_picture(review, text, once),
        sticks=own_strokes(review, text),
        steps=steps_of(strokes.stage, text),
        ready=findings.readiness.ready,
        ready_text=ready_words(findings.readiness, text),
        only_the_clip=findings.readiness.only_the_clip,
        missing=tuple(said(one, text) for one in findings.readiness.missing),
        hints=tuple(said_hint(hint, text) for hint in findings.hints),
        phone_place=picture_for(review.quality),
        quality=tuple(
            (
                _QUALITY_SIGNS.get(p.level, "?"),
                said_quality(p, text),
                text.find(f"quality.{p.level}") or p.level,
            )
            for p in review.quality
        ),
        remarks=tuple(said(note, text) for note in review.motion.notes),
        cautions=tuple(said(c, text) for c in (cautions.NOT_MEDICAL, cautions.STOP_AND_SEE)),
        keeping=tuple(said(c, text) for c in (cautions.MINORS, cautions.STAYS_HERE)),
        findings=tuple(row for f, row in both if f.level != "not applicable"),
        not_judged=tuple(row for f, row in both if f.level == "not applicable"),
        context=tuple((words.check_label(k, text), told) for k, told in findings.context.items()),
        context_words=said(cautions.CONTEXT, text),
        measures=measure_rows(review, text),
        neutral_source=translated(findings.neutral_source, text) or findings.neutral_source,
        standard=f"{findings.standard_name} {findings.standard_version}".strip(),
        clip_facts=clip_facts(review, text),
        versions=tuple(sorted(review.versions.items())),
        corrections=correction_words(review.marks, text),
        who_choices=who_choices(review.pose.people_seen, text),
        data=page_data(review, timing, text),
    )


def _one_a_check(rows: Sequence[FindingRow]) -> tuple[FindingRow, ...]:
    found: dict[str, FindingRow] = {}
    for row in rows:
        found.setdefault(row.check, row)
    return tuple(found.values())


def render_report(
    page: ReportPage, text: Text = ENGLISH, packed: Mapping[str, str] | None = None
) -> str:
    """Return the HTML of a report page.

    `packed` is for a page that stands alone: base64 text by file name, put in the place of links.
    """
    template = environment().get_template("report.html.j2")
    inside = packed or {}

    def src(name: str) -> str:
        return f"data:image/jpeg;base64,{inside[name]}" if name in inside else name

    return template.render(
        page=page,
        data=plain(page.data),
        t=text,
        en=english(text),
        alone=packed is not None,
        src=src,
        clips={name: inside[name] for name in _CLIPS.values() if name in inside},
    )


#: Names of the clips in a page, and their files.
_CLIPS = {"clip": "annotated.mp4", "plain": "plain.mp4"}
