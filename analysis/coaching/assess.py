"""From strokes and a standard to findings: what a coach would say, and in which order."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analysis.coaching import words
from analysis.coaching.causes import first_check, link_causes
from analysis.coaching.drills import choose_drill
from analysis.coaching.findings import Finding, Findings
from analysis.coaching.levels import Judgement, judge
from analysis.coaching.neutral import neutral_source, with_rounding
from analysis.coaching.readiness import readiness
from analysis.coaching.setup_hints import setup_hints
from analysis.coaching.standard import Limit, Standard
from analysis.stroke.strokes import MeasureColumn, Strokes

_LEVEL_ORDER = ("work on", "watch", "steady", "cannot tell", "not applicable")


def assess(strokes: Strokes, standard: Standard) -> Findings:
    """Hold the strokes of one clip against the standard in force.

    Parameters
    ----------
    strokes : Strokes
        Missing measures are allowed: they become ``cannot tell``.
    standard : Standard
        As loaded for this athlete (:func:`analysis.coaching.standard.load_standard`).

    Returns
    -------
    Findings
        One finding a measure of every check, worst first; set-up hints apart.
    """
    source = neutral_source(strokes, standard)
    strokes = with_rounding(strokes, standard)
    limits = standard.at(strokes.stage, strokes.setting)
    rate = _median(strokes.measures.get("rate_spm"))
    found: list[Finding] = []
    past_steps: dict[str, float] = {}
    for limit in limits.values():
        if limit.hint:
            continue
        finding, past = _find(strokes, limit, rate)
        found.append(finding)
        past_steps[limit.measure] = past
    linked = link_causes(found)
    named = tuple(_with_words(finding, strokes) for finding in linked)
    ordered = tuple(sorted(named, key=lambda f: _place(f, standard, past_steps)))
    first = first_check(ordered, standard, past_steps)
    lead = next((f for f in ordered if f.check == first and f.level == "work on"), None)
    return Findings(
        findings=ordered,
        first_check=first,
        first_text=_first_text(lead, ordered),
        drill=None if lead is None else choose_drill(lead.check, lead.side, strokes.stage),
        readiness=readiness(ordered, strokes.stage, strokes.count),
        hints=setup_hints(strokes, standard),
        did_well=words.did_well(ordered, {m: -past for m, past in past_steps.items()}),
        standard_name=standard.name,
        standard_version=f"{standard.version} ({standard.digest})",
        neutral_source=source,
        context=words.contexts(ordered),
    )


def _find(strokes: Strokes, limit: Limit, rate_spm: float) -> tuple[Finding, float]:
    """Judge one measure; also return how many steps it is past its limit (−inf untold)."""
    blank = Finding(
        check=limit.check,
        measure=limit.measure,
        level="not applicable",
        value=math.nan,
        u=math.nan,
        low=None,
        high=None,
        unit=limit.unit,
    )
    low, high = limit.bounds(rate_spm)
    if not limit.applies(strokes.stage, strokes.setting):
        reason = words.not_applicable(limit, strokes.stage, strokes.setting)
        return replace(blank, low=low, high=high, reason=reason), -math.inf
    column = strokes.measures.get(limit.measure)
    judged = judge(limit, column, rate_spm)
    untold = judged.level == "cannot tell"
    finding = replace(
        blank,
        level=judged.level,
        value=judged.value,
        u=judged.u,
        low=judged.low,
        high=judged.high,
        side=judged.side,
        strokes_seen=judged.seen,
        strokes=judged.strokes,
        close=judged.close,
        reason=words.cannot_tell(limit, judged, strokes.count, strokes.stage) if untold else "",
        worst_stroke=None if judged.worst is None else judged.worst + 1,
        typical_stroke=None if judged.typical is None else judged.typical + 1,
        show_at_s=_show_at(column, judged),
    )
    return finding, -math.inf if math.isnan(judged.past_steps) else judged.past_steps


def _show_at(column: MeasureColumn | None, judged: Judgement) -> float:
    if column is None or judged.worst is None:
        return math.nan
    return float(column.moment_s[judged.worst])


def _median(column: MeasureColumn | None) -> float:
    if column is None or not np.any(np.isfinite(column.values)):
        return math.nan
    return float(np.nanmedian(column.values))


def _with_words(finding: Finding, strokes: Strokes) -> Finding:
    short = finding.check == "compression" and finding.side == "under" and not strokes.stage_named
    return words.with_words(finding, strokes.stage, short_slide_unnamed=short)


def _place(
    finding: Finding, standard: Standard, past_steps: dict[str, float]
) -> tuple[int, int, float]:
    """Sort key: worst level first, then causes before symptoms, then how far past."""
    level = _LEVEL_ORDER.index(finding.level)
    return level, standard.rank(finding.check), -past_steps[finding.measure]


def _first_text(lead: Finding | None, findings: tuple[Finding, ...]) -> str:
    if lead is not None:
        return lead.athlete_text
    judged = [f for f in findings if f.level != "not applicable"]
    told = sum(f.level in ("watch", "steady") for f in judged)
    # Praise for a stroke of which little was seen would be an invention.
    return words.NOTHING_FIRST if 2 * told >= len(judged) > 0 else words.NOTHING_TOLD
