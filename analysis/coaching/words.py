"""The sentences for the athlete and the coach, from words.toml and the numbers of a finding."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from typing import Any

from analysis.coaching.findings import Finding
from analysis.coaching.levels import Judgement
from analysis.coaching.standard import Limit
from analysis.motion.motion import Setting
from analysis.stroke.build_up import SEAT_STAYS
from analysis.stroke.strokes import Stage

#: The stages in the trade's words.
STAGE_WORDS: Mapping[str, str] = {
    "arms_only": "arms only",
    "arms_and_body": "arms and body",
    "quarter_slide": "quarter slide",
    "half_slide": "half slide",
    "full_slide": "full slide",
}

NOTHING_FIRST = "Nothing stands out to be fixed first. Keep rowing like this."
NOTHING_TOLD = "Too little could be told from this clip to say what to fix first."

#: Added when a short slide is judged as a full one because nobody named the stage.
SHORT_SLIDE = "If this was a half-slide drill, name the stage and review the clip again."

UNIT_WORDS = {"deg": "°", "s": " s", "share": "", "1/min": "/min", "pct": " %", "m": " m"}


@cache
def words() -> Mapping[str, Any]:
    """Return words.toml."""
    text = (resources.files(__package__) / "words.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def told(measure: str, stage: str = "full_slide") -> Mapping[str, Any]:
    """Return the words of a measure at a stage; empty when it has none."""
    table = dict(words().get(measure, {}))
    still = table.pop("no_slide", {})
    if stage in SEAT_STAYS:
        for name, said in still.items():
            table[name] = {**table[name], **said} if isinstance(said, dict) else said
    return table


#: In a measure's name, for a whole slide and for a step of the build-up that stops before it.
FRONT_OF_SLIDE, FRONT_OF_STEP = "at full compression", "at the front"


def label(measure: str, stage: str = "full_slide") -> str:
    """Return a measure's name in plain words; its column name when it has none."""
    named = str(told(measure, stage).get("label", measure))
    return named if stage == "full_slide" else named.replace(FRONT_OF_SLIDE, FRONT_OF_STEP)


#: Measures that are a part of something, but read better as a plain ratio than in per cent.
PLAIN_RATIOS = ("ratio", "front_speed_share")


def number(value: float, unit: str, measure: str = "") -> str:
    """Write `value` with as many digits as mean something and its unit; – for NaN.

    A share of a named measure is written in per cent, as on the page.
    """
    if not math.isfinite(value):
        return "–"
    if unit == "share" and measure and measure not in PLAIN_RATIOS:
        return number(100.0 * value, "pct")
    digits = 0 if unit in ("deg", "1/min", "pct") else 2
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "−") + UNIT_WORDS.get(unit, "")


def limit_text(low: float | None, high: float | None, unit: str, measure: str = "") -> str:
    """Write a pair of limits: ``at least 15°``, ``at most 38°``, ``15° to 38°``."""
    if low is not None and high is not None:
        return f"{number(low, unit, measure)} to {number(high, unit, measure)}"
    if low is not None:
        return f"at least {number(low, unit, measure)}"
    if high is not None:
        return f"at most {number(high, unit, measure)}"
    return "no limit"


def not_applicable(limit: Limit, stage: Stage, setting: Setting) -> str:
    """Say why a measure is not judged here."""
    if limit.first_stage is None:
        return "Switched off in this standard."
    if setting not in limit.settings:
        return "Only in a boat." if "boat" in limit.settings else "Only on a machine."
    return (
        f"Not judged at {STAGE_WORDS[stage]}: it begins to mean something at "
        f"{STAGE_WORDS[limit.first_stage]}."
    )


def cannot_tell(limit: Limit, judged: Judgement, strokes: int, stage: Stage) -> str:
    """Say why a measure cannot be told."""
    if strokes == 0:
        return "There is no whole stroke in the clip."
    if judged.reason == "one":
        if strokes == 1:
            return "There is only one whole stroke in the clip; two are needed."
        return f"Only one of {strokes} strokes shows it; two are needed."
    if judged.reason == "unsure":
        u, most = (number(v, limit.unit, limit.measure) for v in (judged.u, limit.max_u))
        return f"Too uncertain in this clip: ± {u}, and beyond ± {most} it says nothing."
    if judged.reason == "no error":
        return "How sure the number is could not be told."
    empty = told(limit.measure, stage).get("empty")
    return str(empty or "The clip does not show it in any whole stroke.")


def with_words(
    finding: Finding, stage: Stage = "full_slide", *, short_slide_unnamed: bool = False
) -> Finding:
    """Return `finding` with title and texts for the athlete and the coach filled in."""
    table = told(finding.measure, stage)
    name = label(finding.measure, stage)
    if finding.level in ("work on", "watch") and finding.side is not None:
        said = table[finding.side]
        coach = f"{_numbers(finding, stage)} {said['coach']}"
        if finding.because_of:
            coach += f" Likely follows from: {cause_title(finding.because_of)}."
        if short_slide_unnamed:
            coach += f" {SHORT_SLIDE}"
        return replace(finding, title=said["title"], athlete_text=said["athlete"], coach_text=coach)
    if finding.level == "steady":
        close = " Close to the limit: within what the clip can tell." if finding.close else ""
        return replace(
            finding,
            title=name,
            athlete_text=str(table.get("well", "")),
            coach_text=_numbers(finding, stage) + close,
        )
    return replace(finding, title=name, coach_text=finding.reason)


def advice(finding: Finding, stage: str = "full_slide") -> str:
    """Return the coach's text without the numbers that begin it, for where these stand beside."""
    return finding.coach_text.removeprefix(_numbers(finding, stage)).lstrip()


def _numbers(finding: Finding, stage: str) -> str:
    """Write value, uncertainty, limit and the strokes that show it, as one sentence."""
    unit, measure = finding.unit, finding.measure
    text = (
        f"{label(measure, stage)}: {number(finding.value, unit, measure)} ± "
        f"{number(finding.u, unit, measure)}, limit "
        f"{limit_text(finding.low, finding.high, unit, measure)}"
    )
    if finding.side is None:
        return f"{text}; {finding.strokes} strokes measured."
    return f"{text}; past it in {finding.strokes_seen} of {finding.strokes} strokes."


def cause_title(check: str) -> str:
    """Return a check's name in a few plain words."""
    return CHECK_WORDS.get(check, check.replace("_", " "))


#: Checks and set-up hints in a few words, for lists and links.
CHECK_WORDS: Mapping[str, str] = {
    "rounding": "shape of the back",
    "body_over": "body over before the slide",
    "arms_away": "hands away first",
    "lunge": "late reach at the front",
    "reach": "lean at the front",
    "seat_slip": "seat and handle together",
    "opening_early": "legs before the back",
    "arms_early": "long arms in the drive",
    "compression": "shins at the front",
    "layback": "lean at the finish",
    "legs_down": "legs flat at the finish",
    "ratio": "time on the way forward",
    "rush": "speed on the slide",
    "dwell": "turn at the front",
    "handle_path": "level pull",
    "handle_loop": "hands level on the way forward",
    "handle_dip": "hands level before the front",
    "head": "head level",
    "hand_height": "height of the hands at the finish",
    "forearm": "slope of the forearm at the finish",
    "foot_stretcher": "gap from hands to body at the finish",
}


def did_well(findings: tuple[Finding, ...], margin_steps: Mapping[str, float]) -> tuple[str, ...]:
    """Return sentences on the checks that are steady in all their measures, best first.

    `margin_steps` is by measure how far inside its limits the median is, in steps. Checks that
    are close to a limit are left out: praise should be safe to say.
    """
    by_check: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.level not in ("cannot tell", "not applicable"):
            by_check.setdefault(finding.check, []).append(finding)
    good: list[tuple[float, str]] = []
    for members in by_check.values():
        if all(f.level == "steady" and not f.close for f in members):
            margins = {f.measure: margin_steps.get(f.measure, 0.0) for f in members}
            best = max(members, key=lambda f: margins[f.measure])
            good.append((min(margins.values()), best.athlete_text))
    return tuple(text for _, text in sorted(good, key=lambda pair: -pair[0]) if text)


def contexts(findings: tuple[Finding, ...]) -> dict[str, str]:
    """Return what studies measured, by check, for the checks that were judged."""
    told = {f.check for f in findings if f.level != "not applicable"}
    return {check: text for check, text in words()["context"].items() if check in told}
