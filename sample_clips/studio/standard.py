"""The novice limits that clips are planned against, and which checks apply at which stage."""

from __future__ import annotations

# measure → (check, low, high, step)
LIMITS: dict[str, tuple[str, float | None, float | None, float]] = {
    "slide_time_share": ("rush", 0.42, None, 0.08),
    "front_speed_share": ("rush", None, 1.0, 0.2),
    "catch_dwell_s": ("dwell", None, 0.30, 0.15),
    "catch_trunk_deg": ("reach", 15.0, 38.0, 6.0),
    "body_over_share": ("body_over", 0.75, None, 0.15),
    "arms_away_share": ("arms_away", 0.85, None, 0.15),
    "lunge_deg": ("lunge", None, 5.0, 4.0),
    "shin_catch_deg": ("compression", -12.0, 5.0, 5.0),
    "elbow_catch_deg": ("arms_early", 160.0, None, 10.0),
    "legs_at_back_open": ("opening_early", 0.45, None, 0.15),
    "legs_at_arm_bend": ("arms_early", 0.8, None, 0.15),
    "seat_slip_share": ("seat_slip", None, 0.10, 0.06),
    "knee_release_deg": ("legs_down", 150.0, None, 8.0),
    "layback_deg": ("layback", 3.0, 20.0, 6.0),
    "handle_level_share": ("handle_path", None, 0.25, 0.12),
    "handle_loop_share": ("handle_loop", None, 0.35, 0.15),
    "handle_dip_share": ("handle_dip", None, 0.15, 0.08),
    "hand_height_share": ("hand_height", 0.30, 0.65, 0.1),
    "forearm_release_deg": ("forearm", -20.0, 20.0, 10.0),
    "head_deg": ("head", -25.0, 25.0, 15.0),
}
_ARMS = {"handle_path", "head", "hand_height", "forearm"}
_BODY = _ARMS | {"reach", "layback"}
_QUARTER = _BODY | {"arms_away", "body_over", "arms_early", "opening_early", "legs_down"}
_HALF = _QUARTER | {"lunge", "seat_slip", "ratio", "handle_loop", "handle_dip", "dwell"}
APPLIES = {
    "arms_only": _ARMS,
    "arms_and_body": _BODY,
    "quarter_slide": _QUARTER,
    "half_slide": _HALF,
    "full_slide": _HALF | {"compression", "rush"},
}


def ratio_floor(rate_spm: float) -> float:
    """Least ratio of recovery to drive at a rate."""
    return min(max(0.7 * (60.0 / rate_spm - 0.9) / 0.9, 0.7), 1.5)


def past_limit(measures: dict[str, float | None], stage: str) -> dict[str, tuple[str, float]]:
    """Measures outside their limit: name → (check, how far past in steps)."""
    out = {}
    rows = dict(LIMITS)
    rows["ratio"] = ("ratio", ratio_floor(measures["rate_spm"] or 20.0), None, 0.2)
    for name, (check, low, high, step) in rows.items():
        value = measures.get(name)
        if value is None or check not in APPLIES[stage]:
            continue
        if check == "reach" and stage == "arms_and_body":
            low = 5.0
        past = max(low - value if low is not None else 0.0,
                   value - high if high is not None else 0.0, 0.0)
        if past > 0:
            out[name] = (check, past / step)
    return out
