"""Parts of a report page: a finding in pictures, the build-up, dates and facts in words."""

from __future__ import annotations

import datetime
import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from analysis.coaching.drills import choose_drill
from analysis.coaching.findings import Readiness
from analysis.output import words
from analysis.output.language import ENGLISH, Text
from analysis.output.rows import FindingRow, finding_row
from analysis.output.said import said_drill
from analysis.output.shows import Shown, past_limit, shown_frames
from analysis.output.stills import still_angles, still_frames
from analysis.output.timing import Timing
from analysis.result import Review
from analysis.stroke.strokes import STAGES


@dataclass(frozen=True)
class Step:
    """One step of the build-up; ``here`` marks the athlete's own."""

    label: str
    here: bool
    done: bool


@dataclass(frozen=True)
class Stop:
    """A moment of the clip that a button goes to."""

    label: str
    shown_s: float


@dataclass(frozen=True)
class Pair:
    """A finding shown: where it shows most, and the athlete's own best stroke beside it.

    The ``best`` fields are empty when no stroke is better, the files when there is no picture;
    ``best_inside`` tells whether the best stroke is as the standard asks for.
    """

    row: FindingRow
    fault: str
    fault_alt: str
    fault_file: str
    shown_s: float | None
    best: str
    best_alt: str
    best_file: str
    best_shown_s: float | None
    best_inside: bool
    drill: Any


def date_words(date: str, text: Text = ENGLISH) -> str:
    """Return an ISO date in words ("2 March 2026"), anything else as it is."""
    try:
        day = datetime.date.fromisoformat(date)
    except ValueError:
        return date
    month = text("page.months").split()[day.month - 1]
    return text("page.date", day=day.day, month=month, year=day.year)


def posture_words(review: Review, index: int, angles: Collection[str], text: Text) -> str:
    """Return the posture in frame `index` in words with numbers, as far as `angles` ask for it."""

    def angle(which: str) -> float:
        return float(review.motion.angle(which)[index])

    said = []
    if "trunk_deg" in angles and math.isfinite(angle("trunk_deg")):
        said.append(text("stills.body", lean=words.lean_words(angle("trunk_deg"), text)))
    if "shin_deg" in angles and math.isfinite(angle("shin_deg")):
        said.append(text("stills.shin", lean=words.shin_words(angle("shin_deg"), text)))
    for joint in ("knee", "elbow"):
        name = f"{joint}_deg"
        if name in angles and math.isfinite(angle(name)):
            shown = words.quantity(angle(name), "deg", text=text)
            said.append(text(f"stills.{joint}", angle=shown))
    return ", ".join(said)


def pair_of(
    review: Review, shown: Shown, timing: Timing | None, files: Collection[str], text: Text
) -> Pair:
    """Return a finding with its pictures, as far as they are among `files`."""
    frames, unit = shown_frames(review, (shown,)), shown.finding.unit
    measure = shown.finding.measure

    def said(file: str) -> str:
        return posture_words(review, frames[file], shown.angles, text) if file in frames else ""

    best_at = shown.best_stroke is not None
    value = words.quantity(shown.value, unit, measure, text)
    best = words.quantity(shown.best_value, unit, measure, text)
    fault_says, best_says = said(shown.fault_file), said(shown.best_file)
    drill = choose_drill(shown.finding.check, shown.finding.side, review.strokes.stage)
    return Pair(
        row=finding_row(shown.finding, timing, text, review.strokes.stage),
        fault=text("shows.fault", stroke=shown.stroke, value=value),
        fault_alt=text("shows.fault_alt", stroke=shown.stroke, value=value, angles=fault_says),
        fault_file=shown.fault_file if shown.fault_file in files else "",
        shown_s=timing.shown_at(shown.at_s) if timing else None,
        best=text("shows.best", stroke=shown.best_stroke, value=best) if best_at else "",
        best_alt=text("shows.best_alt", stroke=shown.best_stroke, value=best, angles=best_says),
        best_file=shown.best_file if shown.best_file in files else "",
        best_shown_s=timing.shown_at(shown.best_at_s) if timing and best_at else None,
        best_inside=best_at and past_limit(shown.finding, shown.best_value) <= 0.0,
        drill=said_drill(drill, text),
    )


def stops_of(review: Review, timing: Timing, text: Text = ENGLISH) -> tuple[Stop, ...]:
    """Return the catches and releases of the clip as shown."""
    found = []
    strokes = review.strokes
    for i in range(strokes.count):
        for name, at_s in (("catch", strokes.catch_s[i]), ("release", strokes.release_s[i])):
            label = f"{text(f'phase.{name}')} {i + 1}"
            found.append(Stop(label, round(timing.shown_at(float(at_s)), 4)))
    return tuple(found)


def steps_of(stage: str, text: Text = ENGLISH) -> tuple[Step, ...]:
    """Return the build-up with the athlete's place in it."""
    here = STAGES.index(stage)
    return tuple(
        Step(words.stage_label(s, text), i == here, i < here) for i, s in enumerate(STAGES)
    )


def ready_words(answer: Readiness, text: Text) -> str:
    """Say in one plain sentence whether the athlete is ready for the next step."""
    if answer.ready is None or answer.next_stage is None:
        return text("ready.last", stage=words.stage_label(answer.stage, text))
    key = "ready.yes" if answer.ready else "ready.no"
    if answer.only_the_clip:
        key = "ready.untold"
    stage = words.stage_label(answer.next_stage, text)
    return text(key, stage=stage.lower() if text.code == "en" else stage)


def clip_facts(review: Review, text: Text) -> tuple[tuple[str, str], ...]:
    """Return the facts of the clip, each with its name."""
    clip, motion = review.pose.clip, review.motion
    length = text(
        "foot.length_is",
        seconds=text.number(clip.duration_s, 1),
        frames=clip.frames,
        fps=text.number(clip.mean_fps, 1),
    )
    facts = [
        (text("foot.clip"), clip.file),
        (text("foot.length"), length),
        (text("foot.picture"), f"{clip.width_px} × {clip.height_px}"),
        (text("foot.fingerprint"), clip.sha256),
        (text("foot.people"), str(review.pose.people_seen)),
        (text("foot.feet"), text(f"foot.{motion.facing}")),
    ]
    if math.isfinite(motion.tilt_deg):
        tilt = words.quantity(motion.tilt_deg, "deg", text=text)
        error = text.number(1.96 * motion.tilt_se_deg, 1)
        facts.append((text("foot.tilt"), f"{tilt} ± {error}°"))
    return tuple(facts)


def still_words(review: Review, file: str, text: Text) -> str:
    """Return what the catch or the release picture shows, in words with numbers."""
    frames = still_frames(review)
    angles = still_angles(file, review.strokes.stage)
    return posture_words(review, frames[file], angles, text) if frames else ""
