"""Records of clips that were never filmed, from a seed: enough to fill a season quickly."""

from __future__ import annotations

import hashlib
import math

import numpy as np

from analysis.coaching.change import summarise
from analysis.coaching.findings import Drill, Finding, Hint, Readiness
from analysis.result import QualityPoint
from analysis.season.record import ClipRecord, StrokeRow
from analysis.season.store import ClipPlace, StandardText
from analysis.stroke.strokes import MeasureColumn

STANDARD = StandardText("12ab34cd", "novice", "Novice year", "1", "# the standard's own words\n")

LIMITS = {"layback_deg": (3.0, 20.0), "lunge_deg": (None, 5.0), "body_over_share": (0.75, None)}
UNITS = {
    "rate_spm": "1/min",
    "layback_deg": "deg",
    "lunge_deg": "deg",
    "body_over_share": "share",
    "head_deg": "deg",
}
CHECKS = {"layback_deg": "layback", "lunge_deg": "lunge", "body_over_share": "body_over"}


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def place(
    athlete: str = "Ann",
    date: str = "2026-01-12",
    file: str = "ann_2026-01-12.mp4",
    *,
    content: str = "",
    key: str = "k1",
    note: str = "",
) -> ClipPlace:
    where = f"{athlete} {date} {file}"
    return ClipPlace(sha(content or where), file, f"../clips/{file}", athlete, date, note, key)


def record(
    seed: int = 0, *, strokes: int = 6, stage: str = "half_slide", **middles: float
) -> ClipRecord:
    """Return a record whose measures scatter about `middles` (``layback_deg=25``, …)."""
    rng = np.random.default_rng(seed)
    usual = {
        "rate_spm": 20.0,
        "layback_deg": 12.0,
        "lunge_deg": 2.0,
        "body_over_share": 0.9,
        "head_deg": math.nan,
    } | middles
    scale = {"rate_spm": 0.5, "body_over_share": 0.03}
    columns = {
        name: MeasureColumn(
            name=name,
            unit=UNITS[name],
            values=np.round(middle + rng.normal(0, scale.get(name, 1.0), strokes), 4),
            se=np.full(strokes, 0.3 * scale.get(name, 1.0)),
            bias_se=0.5 * scale.get(name, 1.0),
            moment_s=np.arange(strokes) + 0.5,
        )
        for name, middle in usual.items()
    }
    rows = tuple(
        StrokeRow(
            catch_s=3.0 * i,
            release_s=3.0 * i + 1.0,
            next_catch_s=3.0 * i + 3.0,
            full_compression_s=math.nan if i == 0 else 3.0 * i - 0.05,
            stage=stage,
            values={n: (float(c.values[i]), 0.3) for n, c in columns.items() if n != "head_deg"},
        )
        for i in range(strokes)
    )
    found = tuple(sorted(map(_finding, LIMITS, map(columns.get, LIMITS)), key=_worst_first))
    first = next((f.check for f in found if f.level == "work on"), None)
    return ClipRecord(
        stage=stage,
        stage_named=True,
        setting="erg",
        facing="right",
        duration_s=3.0 * strokes,
        neutral_raw_deg=math.nan,
        strokes=rows,
        measures={name: (c.unit, summarise(c)) for name, c in columns.items()},
        findings=found,
        first_check=first,
        first_text=f"Work on {first} first." if first else "Nothing to fix first.",
        drill=Drill(f"{first}_drill", f"The {first} drill", "Do it.", "10", "calm", "side")
        if first
        else None,
        readiness=Readiness(stage, "full_slide", first is None, () if first is None else ("x",)),
        hints=(Hint("foot_height", "Feet sit high.", "worth a look", "One hole down."),),
        quality=(QualityPoint("light", "Light", "good", 120.0, "luma"),),
        versions={"sideon": "0.1.0"},
    )


def _finding(measure: str, column: MeasureColumn | None) -> Finding:
    assert column is not None
    low, high = LIMITS[measure]
    value = float(np.median(column.values))
    over = high is not None and value > high
    under = low is not None and value < low
    return Finding(
        check=CHECKS[measure],
        measure=measure,
        level="work on" if over or under else "steady",
        value=value,
        u=1.0,
        low=low,
        high=high,
        unit=column.unit,
        side="over" if over else "under" if under else None,
        strokes_seen=len(column.values) if over or under else 0,
        strokes=len(column.values),
        title=f"{measure} title",
        athlete_text=f"{measure} for the athlete",
        coach_text=f"{measure} for the coach",
    )


def _worst_first(finding: Finding) -> tuple[bool, str]:
    return finding.level != "work on", finding.measure
