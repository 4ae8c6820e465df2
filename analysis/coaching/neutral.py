"""The neutral back: from the raw back angle to the departure from the athlete's own upright."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

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
    """Take rounding over the neutral back of the standard, unless the clip showed the athlete's.

    Columns over the athlete's own neutral from the clip stay as they are, unless the standard
    names a neutral for this athlete. Else a column is raw − ``neutral_raw_deg``, and how far
    sound backs differ from that joins the part of the error that more strokes do not shrink.
    """
    if not _from_standard(strokes, standard):
        return strokes
    columns = dict(strokes.measures)
    for name in ROUNDING:
        if (raw := columns.get(raw_name(name))) is not None:
            columns[name] = _departure(name, raw, standard)
    return replace(strokes, measures=columns)


def neutral_source(strokes: Strokes, standard: Standard) -> str:
    """Say in plain words against which back the rounding is measured."""
    if not _from_standard(strokes, standard):
        return "the athlete's own, sitting upright in this clip"
    return _SOURCES[standard.neutral_from]


def _from_standard(strokes: Strokes, standard: Standard) -> bool:
    """Tell whether the strokes hold no neutral other than the standard's."""
    if standard.neutral_from == "standard":
        return True
    used = _neutral_used(strokes)
    return math.isnan(used) or math.isclose(used, standard.neutral_raw_deg, abs_tol=1e-6)


def _neutral_used(strokes: Strokes) -> float:
    """Return the neutral that the strokes already took off, raw − departure; NaN for none."""
    for name in ROUNDING:
        raw, over = strokes.measures.get(raw_name(name)), strokes.measures.get(name)
        if raw is not None and over is not None:
            gaps = raw.values - over.values
            if np.any(np.isfinite(gaps)):
                return float(np.nanmedian(gaps))
    return math.nan


def _departure(name: str, raw: MeasureColumn, standard: Standard) -> MeasureColumn:
    return MeasureColumn(
        name=name,
        unit=raw.unit,
        values=raw.values - standard.neutral_raw_deg,
        se=raw.se,
        bias_se=math.hypot(raw.bias_se, standard.neutral_raw_se_deg),
        moment_s=raw.moment_s,
    )
