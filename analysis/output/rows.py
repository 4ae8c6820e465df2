"""Findings and measures as a page shows them: words, signs, and a value on its line."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.coaching import words as coaching
from analysis.coaching.findings import Finding
from analysis.output import words
from analysis.output.language import ENGLISH, Text
from analysis.output.reached import reached
from analysis.output.said import said
from analysis.output.tables import measure_summary
from analysis.output.timing import Timing
from analysis.result import Review

#: A sign for each level, so that it is never told by colour alone.
SIGNS = {"work on": "▲", "watch": "◐", "steady": "✓", "cannot tell": "?", "not applicable": "–"}


@dataclass(frozen=True)
class Strip:
    """A value with its uncertainty on a line with the standard's band; all in % of the line."""

    band_left: float
    band_wide: float
    value: float
    u_left: float
    u_wide: float
    open_low: bool
    open_high: bool


@dataclass(frozen=True)
class FindingRow:
    """One finding as the page shows it."""

    check: str
    label: str
    measure: str
    level: str
    level_word: str
    sign: str
    value: str
    u: str
    limits: str
    strokes: str
    text: str
    because_of: str
    strip: Strip | None
    shown_s: float | None
    clip_s: float | None


@dataclass(frozen=True)
class MeasureRow:
    """One measure in the table at the end."""

    name: str
    label: str
    mean: str
    sd: str
    n: int
    se: str
    each: tuple[str, ...]


def strip_of(finding: Finding) -> Strip | None:
    """Return where value, uncertainty and band lie on a line; ``None`` when nothing was told."""
    low, high, value = finding.low, finding.high, finding.value
    if not math.isfinite(value) or (low is None and high is None):
        return None
    u = finding.u if math.isfinite(finding.u) else 0.0
    ends = [v for v in (low, high, value - u, value + u) if v is not None]
    span = max(max(ends) - min(ends), 1e-9)
    left, right = min(ends) - 0.25 * span, max(ends) + 0.25 * span

    def at(v: float) -> float:
        return round(100.0 * (v - left) / (right - left), 2)

    band_left = 0.0 if low is None else at(low)
    band_right = 100.0 if high is None else at(high)
    return Strip(
        band_left=band_left,
        band_wide=round(band_right - band_left, 2),
        value=at(value),
        u_left=at(value - u),
        u_wide=round(at(value + u) - at(value - u), 2),
        open_low=low is None,
        open_high=high is None,
    )


def finding_row(
    finding: Finding, timing: Timing | None, text: Text = ENGLISH, stage: str = "full_slide"
) -> FindingRow:
    """Return a finding as the page shows it."""
    f = finding
    told = math.isfinite(f.value)
    counted = text("count.of", some=f.strokes_seen, all=f.strokes) if told and f.strokes else ""
    can_show = timing is not None and math.isfinite(f.show_at_s)
    level = words.level_label(f.level, text)
    u = words.quantity(f.u, f.unit, f.measure, text)
    value = words.quantity(f.value, f.unit, f.measure, text)
    passed = {"over": f.high, "under": f.low}.get(f.side or "")
    for more in (1, 2, 3):
        if passed is None or value != words.quantity(
            passed, f.unit, f.measure, text, more=more - 1
        ):
            break
        # Past the limit by less than the last digit: more of them, or it reads as a contradiction.
        value = words.quantity(f.value, f.unit, f.measure, text, more=more)
    return FindingRow(
        check=words.check_label(f.check, text),
        label=said(f.title, text) or words.check_label(f.check, text),
        measure=words.measure_label(f.measure, text, stage),
        level=f.level.replace(" ", "-"),
        level_word=text("level.close", level=level) if f.close else level,
        sign=SIGNS[f.level],
        value=value,
        u="± " + u if math.isfinite(f.u) else "",
        limits=words.limits(f.low, f.high, f.unit, f.measure, text),
        strokes=counted,
        text=coaching.advice(f, stage) or f.reason,
        because_of=words.check_label(f.because_of, text) if f.because_of else "",
        strip=strip_of(f),
        shown_s=timing.shown_at(f.show_at_s) if timing and can_show else None,
        clip_s=f.show_at_s if math.isfinite(f.show_at_s) else None,
    )


def measure_rows(review: Review, text: Text = ENGLISH) -> tuple[MeasureRow, ...]:
    """Return the measures that could be told in any stroke and mean something in this step."""
    rows, stage = [], review.strokes.stage
    for name, column in review.strokes.measures.items():
        summary = measure_summary(column)
        if not summary["n"] or not reached(name, stage):
            continue
        said = [words.quantity(summary[k], column.unit, name, text) for k in ("mean", "sd", "se")]
        each = tuple(words.quantity(float(v), column.unit, name, text) for v in column.values)
        label = words.measure_label(name, text, stage)
        rows.append(MeasureRow(name, label, said[0], said[1], summary["n"], said[2], each))
    return tuple(rows)
