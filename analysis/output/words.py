"""Short words for numbers, phases, stages and checks, as shown on clips and pages."""

from __future__ import annotations

import math

from analysis.coaching import words as coaching
from analysis.coaching.findings import Finding

PHASES = {
    "": "",
    "catch": "Catch",
    "drive": "Drive",
    "release": "Release",
    "recovery": "Recovery",
}

LEVELS = {
    "work on": "Work on",
    "watch": "Watch",
    "steady": "Steady",
    "cannot tell": "Cannot tell",
    "not applicable": "Not for this stage",
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


def clip_note(finding: Finding, side: str) -> str:
    """Return the few words that go onto the clip for a measure past its limit on `side`."""
    told = coaching.words().get(finding.measure, {}).get(side, {})
    return str(told.get("title") or finding.title or check_label(finding.check))


def stage_label(stage: str) -> str:
    """Return a stage's name: "Half slide"."""
    return capital(coaching.STAGE_WORDS.get(stage, stage.replace("_", " ")))


def check_label(check: str) -> str:
    """Return a check's name in plain words."""
    return capital(coaching.cause_title(check))


def measure_label(measure: str) -> str:
    """Return a measure's name in plain words."""
    named = MEASURES.get(measure) or coaching.label(measure)
    return named if named != measure else capital(measure.replace("_", " "))


def name(athlete: str) -> str:
    """Return an athlete's name for people: a file name's lower case gets its capital."""
    return capital(athlete) if athlete.islower() else athlete


def capital(text: str) -> str:
    """Return `text` with its first letter as a capital and the rest as it is."""
    return text[:1].upper() + text[1:]


#: Measures in "share" that read better as a plain ratio than in per cent.
_PLAIN_RATIOS = {"ratio", "front_speed_share"}


def quantity(value: float | None, unit: str, measure: str = "") -> str:
    """Return a value with its unit for people; an en dash when it is not known.

    >>> quantity(23.4, "deg"), quantity(0.314, "share"), quantity(0.9, "s"), quantity(-3.6, "deg")
    ('23°', '31 %', '0.90 s', '−4°')
    """
    if value is None or not math.isfinite(value):
        return "–"
    if unit == "deg":
        text = f"{value:.0f}°"
    elif unit == "share" and measure not in _PLAIN_RATIOS:
        text = f"{100 * value:.0f} %"
    elif unit == "pct":
        text = f"{value:.0f} %"
    elif unit == "1/min":
        text = f"{value:.1f}/min"
    elif unit in ("s", "m"):
        text = f"{value:.2f} {unit}"
    else:
        text = f"{value:.2f}"
    if text.startswith("-"):
        text = "−" + text[1:]
    return text.replace("−0°", "0°") if text == "−0°" else text


def limits(low: float | None, high: float | None, unit: str, measure: str = "") -> str:
    """Return the limits in words: "15° to 38°", "at least 75 %", "at most 5°"."""
    if low is not None and high is not None:
        return f"{quantity(low, unit, measure)} to {quantity(high, unit, measure)}"
    if low is not None:
        return f"at least {quantity(low, unit, measure)}"
    if high is not None:
        return f"at most {quantity(high, unit, measure)}"
    return "–"


def lean_words(trunk_deg: float) -> str:
    """Return the trunk's lean in words: "23° forward", "12° back", "upright"."""
    whole = round(trunk_deg)
    if whole == 0:
        return "upright"
    return f"{abs(whole)}° {'forward' if whole > 0 else 'back'}"


def shin_words(shin_deg: float) -> str:
    """Return the shin's lean in words: "4° past upright", "8° short of upright", "upright"."""
    whole = round(shin_deg)
    if whole == 0:
        return "upright"
    return f"{abs(whole)}° {'past' if whole > 0 else 'short of'} upright"
