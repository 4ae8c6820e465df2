"""Strokes laid over each other as stick figures, moment by moment.

Strokes of one clip, or of several (before and after): each is counted in lengths of its own trunk
with the ankle on one spot, so that clips filmed from different places lie on each other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.checks import FloatArray, require_shape
from analysis.motion.motion import JOINTS
from analysis.output import curves
from analysis.output.language import ENGLISH, Text
from analysis.output.shows import shown_findings
from analysis.output.svg import escaped
from analysis.result import Review

#: The moments of a stroke, by the names of their words.
PHASES = ("catch", "drive", "release", "away", "recovery")

#: One line through the body, and the neck.
_LINES = (("toe", "ankle", "knee", "hip", "shoulder", "elbow", "wrist"), ("shoulder", "ear"))

#: Strokes that are drawn thin at most: with more of them nothing can be made out.
MOST_THIN = 16

#: Units of the drawing to a trunk's length.
_TRUNK = 100.0

Look = Literal["thin", "full", "dashed"]


@dataclass(frozen=True)
class StickSet:
    """Strokes that are drawn alike.

    Attributes
    ----------
    label : str
        What they are, in words.
    joints : array [shape=(N, P, J, 2)]
        N strokes at the P moments of ``PHASES``; joints in the order of ``JOINTS``, in trunk
        lengths from the ankle's mean place, x to the feet, y up; NaN where not known.
    look : "thin", "full" or "dashed"
        Told apart without colour.
    """

    label: str
    joints: FloatArray
    look: Look

    def __post_init__(self) -> None:
        """Check the shape."""
        shape = (len(self.joints), len(PHASES), len(JOINTS), 2)
        require_shape(f"joints of {self.label}", self.joints, shape)


@dataclass(frozen=True)
class Panel:
    """One moment: its name, and all strokes at it as SVG."""

    title: str
    svg: str


@dataclass(frozen=True)
class StickPicture:
    """All moments, and what each kind of line means: its look and its label."""

    panels: tuple[Panel, ...]
    key: tuple[tuple[Look, str], ...]
    alt: str
    reading: str


def moments_along(turn: float) -> tuple[float, ...]:
    """Return where ``PHASES`` lie on the axis from catch (0) to next catch (1).

    `turn` is where the release lies.
    """
    back = 1.0 - turn
    return (0.0, 0.5 * turn, turn, turn + 0.3 * back, turn + 0.65 * back)


def joints_at_phases(review: Review) -> FloatArray:
    """Return the joints of every stroke at the moments of ``PHASES`` [shape=(N, P, J, 2)].

    In trunk lengths from the ankle's mean place; frames are joined by straight lines, NaN where a
    joint was not seen.
    """
    motion, strokes = review.motion, review.strokes
    turn = curves.release_along(review)
    along = moments_along(turn)
    events = np.stack([strokes.catch_s, strokes.release_s, strokes.next_catch_s], axis=1)
    times = np.array([np.interp(along, [0.0, turn, 1.0], own) for own in events])
    times = times.reshape(len(events), len(PHASES))
    place = motion.place_px / max(motion.segments_px["trunk"], 1e-9)
    found = np.full((*times.shape, len(JOINTS), 2), np.nan)
    for j in range(len(JOINTS)):
        for k in range(2):
            found[..., j, k] = curves.values_at(motion.t_s, place[:, j, k], times)
    return found


def own_strokes(review: Review, text: Text = ENGLISH) -> StickPicture | None:
    """Return the athlete's strokes over each other; ``None`` with fewer than two.

    The stroke that shows the first finding most and the best one in it stand out.
    """
    strokes = review.strokes
    if strokes.count < 2:
        return None
    joints = joints_at_phases(review)
    every = math.ceil(strokes.count / MOST_THIN)
    label = text("sticks.each") if every == 1 else text("sticks.some", count=every)
    sets = [StickSet(label, joints[::every], "thin")]
    first = review.findings.first
    for shown in shown_findings(review):
        if first is not None and shown.finding is first:
            if shown.best_stroke is not None:
                best = joints[shown.best_stroke - 1 : shown.best_stroke]
                sets.append(StickSet(text("sticks.best", stroke=shown.best_stroke), best, "full"))
            fault = text("sticks.fault", stroke=shown.stroke)
            sets.append(StickSet(fault, joints[shown.stroke - 1 : shown.stroke], "dashed"))
    return stick_picture(
        sets,
        facing=review.motion.facing,
        alt=text("sticks.alt", count=strokes.count),
        reading=text("sticks.reading", label=label),
        text=text,
    )


def stick_picture(
    sets: Sequence[StickSet],
    *,
    facing: Literal["left", "right"] = "right",
    alt: str,
    reading: str,
    text: Text = ENGLISH,
) -> StickPicture:
    """Return strokes laid over each other, one panel a moment, later sets on top of earlier ones.

    Parameters
    ----------
    sets : sequence of StickSet
        For a block: the strokes before as ``"dashed"``, those after as ``"full"``.
    facing : "left" or "right"
        The side that the feet are drawn on.
    alt, reading : str
        What it shows, and how to read it, in words.
    text : Text
    """
    side = 1.0 if facing == "right" else -1.0
    flip = np.array([side, -1.0]) * _TRUNK
    box = _box([one.joints * flip for one in sets])
    panels = []
    for p, phase in enumerate(PHASES):
        title = text(f"sticks.{phase}")
        drawn = [_strokes(one.joints[:, p] * flip, one.look) for one in sets]
        name = escaped(f"{title}. {alt}")
        floor = f'<path class="floor" d="M{box[0]:.0f} 22H{box[0] + box[2]:.0f}"/>'
        view = " ".join(f"{v:.0f}" for v in box)
        svg = f'<svg class="sticks" role="img" viewBox="{view}" aria-label="{name}">'
        panels.append(Panel(title, svg + floor + "".join(drawn) + "</svg>"))
    key = tuple((one.look, one.label) for one in sets)
    return StickPicture(tuple(panels), key, alt, reading)


def _box(places: Sequence[FloatArray]) -> tuple[float, float, float, float]:
    """Return the view box around all places: left, top, width, height."""
    points = np.concatenate([p.reshape(-1, 2) for p in places])
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return (-100.0, -100.0, 200.0, 130.0)
    low, high = points.min(axis=0) - 24.0, points.max(axis=0) + 14.0
    return (float(low[0]), float(low[1]), float(high[0] - low[0] + 10), float(high[1] - low[1]))


def _strokes(places: FloatArray, look: Look) -> str:
    """Return the figures of N strokes [shape=(N, J, 2)] as SVG."""
    made = []
    for joints in places:
        path = " ".join(_path(joints, line) for line in _LINES)
        ear = joints[JOINTS.index("ear")]
        head = (
            f'<circle cx="{ear[0]:.1f}" cy="{ear[1]:.1f}" r="11"/>'
            if np.isfinite(ear).all()
            else ""
        )
        if path.strip() or head:
            made.append(f'<g class="stick {look}"><path d="{path.strip()}"/>{head}</g>')
    return "".join(made)


def _path(joints: FloatArray, names: Sequence[str]) -> str:
    """Return an SVG path through joints, broken where one is not known."""
    parts, down = [], False
    for name in names:
        x, y = joints[JOINTS.index(name)]
        if not (np.isfinite(x) and np.isfinite(y)):
            down = False
            continue
        parts.append(f"{'L' if down else 'M'}{x:.1f} {y:.1f}")
        down = True
    return "".join(parts)
