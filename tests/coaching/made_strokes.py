"""Hand-made strokes for the coaching stage: measures are written down, not measured."""

from __future__ import annotations

import numpy as np

from analysis.coaching.standard import load_standard
from analysis.stroke.strokes import MeasureColumn, Strokes

#: Well inside the novice limits at full slide, except in what is not judged.
SOUND = {
    "rate_spm": 22.0,
    "drive_s": 0.9,
    "recovery_s": 1.83,
    "ratio": 2.0,
    "slide_time_share": 0.60,
    "front_speed_share": 0.60,
    "catch_dwell_s": 0.10,
    "catch_trunk_deg": 27.0,
    "body_over_share": 0.98,
    "arms_away_share": 0.99,
    "lunge_deg": 0.0,
    "shin_catch_deg": -4.0,
    "elbow_catch_deg": 174.0,
    "rounding_catch_raw_deg": -2.0,
    "rounding_drive_raw_deg": -1.0,
    "rounding_release_raw_deg": -2.0,
    "legs_at_back_open": 0.65,
    "legs_at_arm_bend": 0.97,
    "seat_slip_share": 0.02,
    "knee_release_deg": 170.0,
    "layback_deg": 11.0,
    "handle_level_share": 0.08,
    "handle_loop_share": 0.05,
    "handle_dip_share": 0.02,
    "hand_height_share": 0.47,
    "forearm_release_deg": 2.0,
    "hand_gap_share": 0.05,
    "head_deg": 4.0,
}

_LIMITS = load_standard().at("full_slide", "boat")


def unit_of(name: str) -> str:
    if name in _LIMITS:
        return _LIMITS[name].unit
    return {"rate_spm": "1/min", "drive_s": "s", "recovery_s": "s"}.get(name, "deg")


def column(name: str, values, se: float | None = None, bias_se: float | None = None):
    """One column; the errors default to a twentieth of a step each."""
    values = np.asarray(values, dtype=float)
    small = _LIMITS[name].step / 20 if name in _LIMITS else 0.1
    return MeasureColumn(
        name=name,
        unit=unit_of(name),
        values=values,
        se=np.full(len(values), small if se is None else se),
        bias_se=small if bias_se is None else bias_se,
        moment_s=np.arange(len(values)) * 2.7 + 0.4,
    )


def made_strokes(
    n: int = 6,
    *,
    stage: str = "full_slide",
    setting: str = "erg",
    named: bool = True,
    without: tuple[str, ...] = (),
    columns: tuple[MeasureColumn, ...] = (),
    **changed,
) -> Strokes:
    """`n` sound strokes; keyword arguments replace a measure by a number or one number a stroke."""
    measures = {}
    for name, value in (SOUND | changed).items():
        if name not in without:
            measures[name] = column(name, np.broadcast_to(np.asarray(value, float), (n,)))
    measures |= {made.name: made for made in columns}
    start = np.arange(n) * 2.7
    return Strokes(
        catch_s=start,
        release_s=start + 0.9,
        next_catch_s=start + 2.7,
        full_compression_s=start,
        phase=np.full(10, ""),
        stroke=np.zeros(10, dtype=int),
        stage=stage,
        stage_named=named,
        stage_of_stroke=(stage,) * n,
        setting=setting,
        measures=measures,
    )
