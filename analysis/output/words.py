"""Short words for numbers, phases, stages and checks, as shown on clips and pages."""

from __future__ import annotations

import math

import numpy as np

from analysis.coaching import words as coaching
from analysis.coaching.findings import Finding
from analysis.output.language import ENGLISH, Text
from analysis.stroke.build_up import SEAT_STAYS
from analysis.stroke.strokes import Strokes

LEVELS = {
    level: ENGLISH("level." + level.replace(" ", "_"))
    for level in ("work on", "watch", "steady", "cannot tell", "not applicable")
}

#: Names of the columns that are shown but never judged.
MEASURES = {
    "rate_spm": "Stroke rate",
    "drive_s": "Drive time",
    "recovery_s": "Recovery time",
    "stroke_length_share": "Stroke length ÷ own limbs",
    "stroke_length_m": "Stroke length",
    "knee_catch_deg": "Knee angle at the front",
    "rounding_catch_raw_deg": "Back rounding at the front, as seen",
    "rounding_drive_raw_deg": "Back rounding in the drive, as seen",
    "rounding_release_raw_deg": "Back rounding at the release, as seen",
    "hand_height_share": "Hands at the release, from hip to shoulder",
    "forearm_release_deg": "Slope of the forearm at the release",
    "hand_gap_share": "Gap from hands to body at the release ÷ forearm",
    "legs_peak_pct": "Legs fastest, part of the drive",
    "back_peak_pct": "Back fastest, part of the drive",
    "arms_peak_pct": "Arms fastest, part of the drive",
}

#: The joint at which to look for each measure.
LOOK_AT = {
    "body_over_share": "shoulder",
    "arms_away_share": "wrist",
    "lunge_deg": "shoulder",
    "catch_trunk_deg": "shoulder",
    "shin_catch_deg": "knee",
    "knee_catch_deg": "knee",
    "elbow_catch_deg": "elbow",
    "rounding_catch_deg": "back",
    "rounding_drive_deg": "back",
    "rounding_release_deg": "back",
    "legs_at_back_open": "shoulder",
    "legs_at_arm_bend": "elbow",
    "seat_slip_share": "hip",
    "knee_release_deg": "knee",
    "layback_deg": "shoulder",
    "handle_level_share": "wrist",
    "handle_loop_share": "wrist",
    "handle_dip_share": "wrist",
    "catch_dwell_s": "wrist",
    "head_deg": "ear",
}


def clip_note(finding: Finding, side: str, stage: str = "full_slide") -> str:
    """Return the few words that go onto the clip for a measure past its limit on `side`."""
    told = coaching.told(finding.measure, stage).get(side, {})
    return str(told.get("title") or finding.title or check_label(finding.check))


def phase_label(phase: str, text: Text = ENGLISH) -> str:
    """Return a phase's name, an empty text outside every stroke."""
    return text("phase." + phase) if phase else ""


def level_label(level: str, text: Text = ENGLISH) -> str:
    """Return a level in words."""
    return text("level." + level.replace(" ", "_"))


def stage_label(stage: str, text: Text = ENGLISH) -> str:
    """Return a stage's name: "Half slide"."""
    return text.find("stage." + stage) or capital(stage.replace("_", " "))


def check_label(check: str, text: Text = ENGLISH) -> str:
    """Return a check's name in plain words."""
    return text.find("check." + check) or capital(coaching.cause_title(check))


def measure_label(measure: str, text: Text = ENGLISH, stage: str = "full_slide") -> str:
    """Return a measure's name in plain words, as they suit a step of the build-up."""
    still = text.find("measure_no_slide." + measure) if stage in SEAT_STAYS else ""
    named = still or text.find("measure." + measure) or MEASURES.get(measure)
    named = named or coaching.label(measure, stage)
    if stage != "full_slide":
        named = named.replace(text("front.slide"), text("front.step"))
    return named if named != measure else capital(measure.replace("_", " "))


def name(athlete: str) -> str:
    """Return an athlete's name for people: a file name's lower case gets its capital."""
    return capital(athlete) if athlete.islower() else athlete


def capital(text: str) -> str:
    """Return `text` with its first letter as a capital and the rest as it is."""
    return text[:1].upper() + text[1:]


def quantity(
    value: float | None, unit: str, measure: str = "", text: Text = ENGLISH, more: int = 0
) -> str:
    """Return a value with its unit for people; an en dash when it is not known.

    `more` asks for so many digits more than usual.

    >>> quantity(23.4, "deg"), quantity(0.314, "share"), quantity(0.9, "s"), quantity(-3.6, "deg")
    ('23°', '31 %', '0.90 s', '−4°')
    """
    if value is None or not math.isfinite(value):
        return "–"
    if unit == "deg":
        return text.number(value, more) + "°"
    if unit == "share" and measure not in coaching.PLAIN_RATIOS:
        return text.number(100 * value, more) + " %"
    if unit == "pct":
        return text.number(value, more) + " %"
    if unit == "1/min":
        return text.number(value, 1 + more) + "/min"
    return text.number(value, 2 + more) + (f" {unit}" if unit in ("s", "m") else "")


def limits(
    low: float | None, high: float | None, unit: str, measure: str = "", text: Text = ENGLISH
) -> str:
    """Return the limits in words: "15° to 38°", "at least 75 %", "at most 5°"."""
    said = {
        name: quantity(value, unit, measure, text) for name, value in (("low", low), ("high", high))
    }
    if low is not None and high is not None:
        return text("limits.between", **said)
    if low is not None:
        return text("limits.least", **said)
    if high is not None:
        return text("limits.most", **said)
    return "–"


def rate(strokes: Strokes, text: Text = ENGLISH) -> str:
    """Return the stroke rate, a minute: the median over the strokes; empty when none shows it."""
    column = strokes.measures.get("rate_spm")
    if column is None or not np.isfinite(column.values).any():
        return ""
    return text.number(float(np.nanmedian(column.values)), 0)


def lean_words(trunk_deg: float, text: Text = ENGLISH) -> str:
    """Return the trunk's lean in words: "23° forward", "12° back", "upright"."""
    whole = round(trunk_deg)
    if whole == 0:
        return text("lean.upright")
    return text("lean.forward" if whole > 0 else "lean.back", deg=f"{abs(whole)}°")


def shin_words(shin_deg: float, text: Text = ENGLISH) -> str:
    """Return the shin's lean in words: "4° past upright", "8° short of upright", "upright"."""
    whole = round(shin_deg)
    if whole == 0:
        return text("lean.upright")
    return text("lean.shin_past" if whole > 0 else "lean.shin_short", deg=f"{abs(whole)}°")
