"""What the terminal says about one review."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from analysis.coaching.words import FRONT_OF_SLIDE, FRONT_OF_STEP
from analysis.output import words
from analysis.output.reached import moving, reached
from analysis.result import Review
from analysis.stroke.strokes import Strokes


def summary_lines(review: Review, page: Path) -> list[str]:
    """Return the lines that tell a coach the gist of one clip."""
    strokes = review.strokes
    named = "" if strokes.stage_named else " (recognised)"
    where = "boat" if strokes.setting == "boat" else "erg"
    lines = [
        Path(review.source).name,
        f"  athlete   {review.athlete} · {where} · {strokes.stage.replace('_', ' ')}{named}",
        f"  strokes   {strokes.count} whole · {_rate(strokes)}",
        f"  posture   {_posture(strokes)}",
        f"  order     {_order(strokes)}",
        f"  first     {review.findings.first_text}",
    ]
    if review.findings.first_check and review.findings.drill:
        lines.append(f"  drill     {review.findings.drill.name}: {review.findings.drill.do}")
    lines += [
        f"  filming   {point.costs} {point.remedy}" for point in review.quality if point.costs
    ]
    if review.marks is not None:
        moved, out = len(review.marks.moved), len(review.marks.left_out)
        lines.append(f"  corrected by the coach: moved {moved}, strokes left out {out}")
    lines.append(f"  page      {page}")
    return lines


def _posture(strokes: Strokes) -> str:
    parts = [f"layback {_degrees(strokes, 'layback_deg')}"]
    if reached("shin_catch_deg", strokes.stage):
        front = FRONT_OF_SLIDE if strokes.stage == "full_slide" else FRONT_OF_STEP
        lean = _degrees(strokes, "shin_catch_deg", over="past upright", under="short of upright")
        parts.append(f"shin {front} {lean}")
    rounding = _degrees(
        strokes, "rounding_drive_deg", over="over neutral", under="straighter than neutral"
    )
    return " · ".join([*parts, f"back rounding {rounding}"])


def _values(strokes: Strokes, measure: str) -> tuple[float, float]:
    """Median of a measure and 1.96 × its standard error; NaN when no stroke shows it."""
    column = strokes.measures[measure]
    known = column.values[np.isfinite(column.values)]
    if not len(known):
        return math.nan, math.nan
    noise = float(np.std(known, ddof=1)) if len(known) > 1 else 0.0
    return float(np.median(known)), 1.96 * math.hypot(column.bias_se, noise / math.sqrt(len(known)))


def _rate(strokes: Strokes) -> str:
    rate = words.rate(strokes)
    return f"{rate} a minute" if rate else "rate cannot be told"


def _degrees(strokes: Strokes, measure: str, *, over: str = "", under: str = "") -> str:
    """Write a measure; `over` and `under` say what its sign means, where it has such a meaning."""
    value, u = _values(strokes, measure)
    if math.isnan(value):
        return "cannot tell"
    whole = round(value) + 0
    side = (over if whole >= 0 else under) if over else ""
    shown = abs(whole) if over else whole
    return f"{shown}° ± {max(1, round(u))}° {side}".rstrip().replace("-", "−")


def _order(strokes: Strokes) -> str:
    columns = {"legs": "legs_peak_pct", "body": "back_peak_pct", "arms": "arms_peak_pct"}
    parts = [(name, columns[name]) for name in moving(strokes.stage)]
    if len(parts) == 1:
        return f"{parts[0][0]} alone, as this step asks"
    told = [(name, _values(strokes, measure)[0]) for name, measure in parts]
    known = sorted((at, name) for name, at in told if not math.isnan(at))
    if not known:
        return "cannot tell"
    text = " → ".join(f"{name} ({at:.0f} %)" for at, name in known)
    silent = [name for name, at in told if math.isnan(at)]
    return f"{text} of the drive" + (f"; {' and '.join(silent)} cannot be told" if silent else "")
