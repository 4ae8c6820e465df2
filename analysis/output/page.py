"""The data of a report page, and the page made from it."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any
from urllib.parse import quote

import jinja2
import numpy as np
from markupsafe import Markup

from analysis.coaching import cautions
from analysis.coaching.readiness import readiness_text
from analysis.output import figures, words
from analysis.output.annotated import Timing
from analysis.output.moment import stroke_to_show
from analysis.output.rows import FindingRow, MeasureRow, finding_row, measure_rows
from analysis.output.stills import crop_box
from analysis.output.tables import plain
from analysis.result import QualityPoint, Review
from analysis.stroke.strokes import STAGES

_QUALITY_SIGNS = {"good": "✓", "fair": "◐", "poor": "▲"}


@dataclass(frozen=True)
class Step:
    """One step of the build-up; ``here`` marks the athlete's own."""

    label: str
    here: bool
    done: bool


@dataclass(frozen=True)
class Stop:
    """A moment of the clip that a button goes to."""

    label: str
    shown_s: float


@dataclass(frozen=True)
class ReportPage:
    """Everything on a report page, in its order."""

    athlete: str
    date: str
    stage: str
    setting: str
    strokes: int
    rate: str
    note: str
    first: FindingRow | None
    first_text: str
    first_check: str
    later: tuple[FindingRow, ...]
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
    steps: tuple[Step, ...]
    ready: bool | None
    ready_text: str
    missing: tuple[str, ...]
    hints: tuple[Any, ...]
    quality: tuple[tuple[str, QualityPoint, str], ...]
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
    data: dict[str, Any]


def date_words(date: str) -> str:
    """Return an ISO date in words ("2 March 2026"), anything else as it is."""
    try:
        day = datetime.date.fromisoformat(date)
    except ValueError:
        return date
    return f"{day.day} {day:%B} {day.year}"


def still_words(review: Review, name: str) -> str:
    """Return what a still shows, in words with numbers."""
    i = stroke_to_show(review)
    strokes, motion = review.strokes, review.motion
    at_s = strokes.full_compression_s[i] if name == "catch" else strokes.release_s[i]
    at = int(np.argmin(np.abs(motion.t_s - at_s))) if math.isfinite(at_s) else 0

    def angle(which: str) -> float:
        return float(motion.angle(which)[at])

    said = []
    if math.isfinite(angle("trunk_deg")):
        said.append(f"body {words.lean_words(angle('trunk_deg'))}")
    if name == "catch" and math.isfinite(angle("shin_deg")):
        said.append(f"shin {words.shin_words(angle('shin_deg'))}")
    if name == "release" and math.isfinite(angle("knee_deg")):
        said.append(f"knee {words.quantity(angle('knee_deg'), 'deg')}")
    return ", ".join(said)


def stops_of(review: Review, timing: Timing) -> tuple[Stop, ...]:
    """Return the catches and releases of the clip as shown."""
    found = []
    strokes = review.strokes
    for i in range(strokes.count):
        for name, at_s in (("Catch", strokes.catch_s[i]), ("Release", strokes.release_s[i])):
            found.append(Stop(f"{name} {i + 1}", round(timing.shown_at(float(at_s)), 4)))
    return tuple(found)


def steps_of(stage: str) -> tuple[Step, ...]:
    """Return the build-up with the athlete's place in it."""
    here = STAGES.index(stage)
    return tuple(Step(words.stage_label(s), i == here, i < here) for i, s in enumerate(STAGES))


def _clip_facts(review: Review) -> tuple[tuple[str, str], ...]:
    clip, motion = review.pose.clip, review.motion
    facts = [
        ("Clip", clip.file),
        ("Length", f"{clip.duration_s:.1f} s, {clip.frames} frames, {clip.mean_fps:.1f} a second"),
        ("Picture", f"{clip.width_px} × {clip.height_px}"),
        ("Fingerprint (SHA-256)", clip.sha256),
        ("People in view", str(review.pose.people_seen)),
        ("Feet to the", motion.facing),
    ]
    if math.isfinite(motion.tilt_deg):
        tilt = words.quantity(motion.tilt_deg, "deg")
        facts.append(("Camera tilt taken out", f"{tilt} ± {1.96 * motion.tilt_se_deg:.1f}°"))
    return tuple(facts)


def _page_data(review: Review, timing: Timing | None) -> dict[str, Any]:
    """Return what the page's own script needs."""
    if timing is None:
        return {}
    return {
        "frames_s": [round(float(v), 4) for v in timing.shown_s],
        "duration_s": round(timing.duration_s, 4),
    }


def report_page(review: Review, timing: Timing | None, has_stills: bool) -> ReportPage:
    """Gather everything that the page shows.

    `timing` is that of the annotated clip, ``None`` when none was made.
    """
    findings, strokes = review.findings, review.strokes
    rows = [finding_row(f, timing) for f in findings.findings]
    pairs = list(zip(findings.findings, rows, strict=True))
    first = next((row for f, row in pairs if f is findings.first), None)
    later = [
        row
        for f, row in pairs
        if f.level in ("work on", "watch") and f.check != findings.first_check
    ]
    rate = strokes.measures.get("rate_spm")
    rate_value = float(np.nanmean(rate.values)) if rate and np.isfinite(rate.values).any() else None
    clip, box = review.pose.clip, crop_box(review)
    return ReportPage(
        athlete=words.name(review.athlete),
        date=date_words(review.date),
        stage=words.stage_label(strokes.stage),
        setting="on the machine" if strokes.setting == "erg" else "in the boat",
        strokes=strokes.count,
        rate="–" if rate_value is None else f"{rate_value:.0f}",
        note=review.note,
        first=first,
        first_text=findings.first_text,
        first_check=words.check_label(findings.first_check) if findings.first_check else "",
        later=_one_a_check(later),
        did_well=findings.did_well,
        drill=findings.drill,
        has_clip=timing is not None,
        has_stills=has_stills and strokes.count > 0,
        shown_stroke=stroke_to_show(review) + 1,
        catch_words=still_words(review, "catch") if strokes.count else "",
        release_words=still_words(review, "release") if strokes.count else "",
        clip_shape=f"{clip.width_px} / {clip.height_px}",
        still_shape=f"{box[2] - box[0]} / {box[3] - box[1]}",
        stops=stops_of(review, timing) if timing is not None else (),
        pictures=tuple(figures.stroke_pictures(review)),
        order=figures.order_picture(review),
        handle=figures.handle_picture(review),
        steps=steps_of(strokes.stage),
        ready=findings.readiness.ready,
        ready_text=readiness_text(findings.readiness).split(" Still missing:")[0],
        missing=findings.readiness.missing,
        hints=findings.hints,
        quality=tuple(
            (_QUALITY_SIGNS.get(p.level, "?"), p, words.quantity(p.value, p.unit))
            for p in review.quality
        ),
        remarks=review.motion.notes,
        cautions=(cautions.NOT_MEDICAL, cautions.STOP_AND_SEE),
        keeping=(cautions.MINORS, cautions.STAYS_HERE),
        findings=tuple(row for f, row in pairs if f.level != "not applicable"),
        not_judged=tuple(row for f, row in pairs if f.level == "not applicable"),
        context=tuple((words.check_label(k), text) for k, text in findings.context.items()),
        context_words=cautions.CONTEXT,
        measures=measure_rows(review),
        neutral_source=findings.neutral_source,
        standard=f"{findings.standard_name} {findings.standard_version}".strip(),
        clip_facts=_clip_facts(review),
        versions=tuple(sorted(review.versions.items())),
        data=_page_data(review, timing),
    )


def _one_a_check(rows: Sequence[FindingRow]) -> tuple[FindingRow, ...]:
    found: dict[str, FindingRow] = {}
    for row in rows:
        found.setdefault(row.check, row)
    return tuple(found.values())


@cache
def environment() -> jinja2.Environment:
    """Return the template environment: everything is escaped unless it is our own SVG."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("analysis.output"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    made.filters["svg"] = Markup
    made.filters["link"] = lambda path: quote(path, safe="/~")
    made.globals["static"] = static
    return made


@cache
def static(name: str) -> Markup:
    """Return a stylesheet or script of ours to stand inside a page."""
    file = resources.files("analysis.output") / "static" / name
    return Markup(file.read_text(encoding="utf-8"))


def render_report(page: ReportPage) -> str:
    """Return the HTML of a report page."""
    template = environment().get_template("report.html.j2")
    return template.render(page=page, data=plain(page.data))
