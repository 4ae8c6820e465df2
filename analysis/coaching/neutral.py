"""The neutral back: from the raw back angle to the departure from the athlete's own upright."""

from __future__ import annotations

import math
from dataclasses import replace

from analysis.coaching.standard import Standard
from analysis.stroke.strokes import MeasureColumn, Strokes

ROUNDING = ("rounding_catch_deg", "rounding_drive_deg", "rounding_release_deg")


_SOURCES = {
    "anybody": "sound backs in general, as the clip does not show the athlete's own",
    "standard": "the athlete's own, as the standard gives it",
    "season": "the athlete's own, as an earlier day showed it",
}


def raw_name(measure: str) -> str:
    """Return the column that holds the raw angle behind a rounding measure."""
    return measure.replace("_deg", "_raw_deg")


def with_rounding(strokes: Strokes, standard: Standard) -> Strokes:
    """Fill in rounding as departure from neutral where the clip did not show the athlete's own.

    Columns that already hold numbers (the clip showed the neutral back) stay as they are, unless
    the standard names this athlete's own neutral. Else it is raw − ``neutral_raw_deg``, and how
    far sound backs differ from that joins the part of the error that more strokes do not shrink.
    """
    columns = dict(strokes.measures)
    for name in ROUNDING:
        raw = columns.get(raw_name(name))
        if raw is not None and _from_standard(strokes, standard):
            columns[name] = _departure(name, raw, standard)
    return replace(strokes, measures=columns)


def neutral_source(strokes: Strokes, standard: Standard) -> str:
    """Say in plain words against which back the rounding is measured."""
    if not _from_standard(strokes, standard):
        return "the athlete's own, sitting upright in this clip"
    return _SOURCES[standard.neutral_from]


def _from_standard(strokes: Strokes, standard: Standard) -> bool:
    if standard.neutral_from == "standard":
        return True
    own = (strokes.measures.get(name) for name in ROUNDING)
    return not any(c is not None and any(math.isfinite(v) for v in c.values) for c in own)


def _departure(name: str, raw: MeasureColumn, standard: Standard) -> MeasureColumn:
    return MeasureColumn(
        name=name,
        unit=raw.unit,
        values=raw.values - standard.neutral_raw_deg,
        se=raw.se,
        bias_se=math.hypot(raw.bias_se, standard.neutral_raw_se_deg),
        moment_s=raw.moment_s,
    )
