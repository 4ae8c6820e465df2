"""What the drawers need to know of one frame, worked out once for a whole clip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.coaching.findings import Finding
from analysis.motion.motion import ANGLES, JOINTS, Motion
from analysis.output import words
from analysis.output.frame_names import frame_names
from analysis.output.language import ENGLISH, Text
from analysis.output.outline_at import outline_at
from analysis.output.reached import seat_stays
from analysis.output.said import translated
from analysis.result import Review
from analysis.stroke.strokes import Strokes

#: A note stays this long before and after the moment that shows it, s.
NOTE_BEFORE_S, NOTE_AFTER_S = 0.25, 0.75

#: Height of the band at the foot of the picture, in units.
BAND_UNITS = 52

#: An angle less certain than this is drawn with "about".
ROUGH_SE_DEG = 6.0


@dataclass(frozen=True)
class Note:
    """A plain-word remark of this moment; ``joint`` is where to look."""

    text: str
    joint: str
    first: bool


@dataclass(frozen=True)
class Moment:
    """One frame's worth of what to draw.

    Attributes
    ----------
    t_s : float
    joints_px : array [shape=(J, 2)]
        In the picture that is drawn on; NaN where not known.
    outline_px : array [shape=(P, 2)]
        Outline of the athlete in the picture that is drawn on; NaN when there is none.
    sure : array [shape=(J,)] of bool
        False where a joint was bridged or the athlete's identity is uncertain.
    angles_deg, angle_se_deg : array [shape=(A,)]
    show : tuple of str
        The angles that matter now.
    phase, stroke, strokes : str, int, int
        ``stroke`` is 0 outside every whole stroke.
    along, release_along : float
        How far the stroke has come, 0 (catch) … 1 (next catch), and where its release lies.
    notes : tuple of Note
    slowed : float
        How many times slower than life this frame is shown.
    up : (float, float)
        Direction against gravity in the picture.
    feet : int
        +1 when the feet are on the right of the picture, −1 on the left.
    notes_on_top : bool
        Whether notes go above the athlete, where this clip has more room, or below.
    note_room_px : float
        Height of that room; the first note is shown in any case.
    unit : float
        Length that sizes are counted in, px: 1 in a 540 px high picture.
    """

    t_s: float
    joints_px: FloatArray
    outline_px: FloatArray
    sure: BoolArray
    angles_deg: FloatArray
    angle_se_deg: FloatArray
    show: tuple[str, ...]
    phase: str
    stroke: int
    strokes: int
    along: float
    release_along: float
    notes: tuple[Note, ...]
    slowed: float
    up: tuple[float, float]
    feet: int
    notes_on_top: bool
    note_room_px: float
    unit: float
    text: Text = ENGLISH

    def joint(self, name: str) -> FloatArray:
        """Return one joint [shape=(2,), px], NaN when not known."""
        return np.asarray(self.joints_px[JOINTS.index(name)])

    def angle(self, name: str) -> float:
        """Return one angle, degrees, NaN when not known."""
        return float(self.angles_deg[ANGLES.index(name)])

    def rough(self, name: str) -> bool:
        """Tell whether an angle is too uncertain to be given without "about"."""
        return not self.angle_se_deg[ANGLES.index(name)] <= ROUGH_SE_DEG


def unit_of(width_px: int, height_px: int) -> float:
    """Return the length unit of a picture: by height, but by width when it stands upright."""
    return min(height_px / 540.0, width_px / 640.0)


def note_room(motion: Motion, height_px: int) -> tuple[float, float]:
    """Return the height of the picture that stays free above and below the athlete, px.

    The head reaches about a third of the trunk above the ear. Zero where it is not known.
    """
    head = motion.joint("ear")[:, 1]
    feet = motion.joints_px[:, [JOINTS.index(name) for name in ("ankle", "heel", "toe")], 1]
    if not (np.isfinite(head).any() and np.isfinite(feet).any()):
        return 0.0, 0.0
    above = float(np.nanpercentile(head, 2)) - 0.33 * motion.segments_px["trunk"]
    return max(0.0, above), max(0.0, height_px - float(np.nanpercentile(feet, 98)))


def window_s(strokes: Strokes, index: int) -> float:
    """Return how long before and after its catch or release stroke `index` is "around" it, s."""
    whole = float(strokes.next_catch_s[index] - strokes.catch_s[index])
    return float(np.clip(0.1 * whole, 0.12, 0.35))


def front_of(strokes: Strokes, index: int) -> tuple[float, float]:
    """Return the earlier and the later of catch and full compression of stroke `index`, s."""
    both = (float(strokes.catch_s[index]), float(strokes.full_compression_s[index]))
    known = [value for value in both if np.isfinite(value)]
    return min(known), max(known)


def angles_to_show(strokes: Strokes, index: int, t_s: float, elbow_deg: float) -> tuple[str, ...]:
    """Return the angles that matter at `t_s` in stroke `index` (0-based)."""
    window = window_s(strokes, index)
    if abs(t_s - strokes.release_s[index]) <= window:
        return ("trunk_deg", "knee_deg")
    starts, ends = front_of(strokes, index)
    after = (
        front_of(strokes, index + 1)[0]
        if index + 1 < strokes.count
        else float(strokes.next_catch_s[index])
    )
    if starts - window <= t_s <= ends + window or t_s >= after - window:
        return ("trunk_deg",) if seat_stays(strokes.stage) else ("trunk_deg", "shin_deg")
    if t_s < strokes.release_s[index] and elbow_deg < 165.0:
        return ("trunk_deg", "elbow_deg")
    return ("trunk_deg",)


@dataclass(frozen=True)
class _Remark:
    start_s: float
    end_s: float
    note: Note


def remarks(review: Review, text: Text = ENGLISH) -> list[_Remark]:
    """Return the notes of a review with the time each one is shown, most important first."""
    first = review.findings.first_check
    shown = [f for f in review.findings.findings if f.level in ("work on", "watch")]
    shown.sort(key=lambda f: (f.check != first, f.level != "work on"))
    found = []
    for finding in shown:
        column = review.strokes.measures.get(finding.measure)
        if column is None:
            continue
        for value, at_s in zip(column.values, column.moment_s, strict=True):
            side = _side(value, finding)
            if side is None or not np.isfinite(at_s):
                continue
            told = words.clip_note(finding, side, review.strokes.stage)
            note = Note(
                translated(told, text) or told,
                words.LOOK_AT.get(finding.measure, "hip"),
                finding.check == first,
            )
            found.append(_Remark(at_s - NOTE_BEFORE_S, at_s + NOTE_AFTER_S, note))
    return found


def _side(value: float, finding: Finding) -> str | None:
    if finding.high is not None and value > finding.high:
        return "over"
    if finding.low is not None and value < finding.low:
        return "under"
    return None


class Moments:
    """All moments of a review, for a picture `scale` times the clip's own size."""

    def __init__(
        self,
        review: Review,
        scale: float,
        slowed: FloatArray | None = None,
        text: Text = ENGLISH,
    ) -> None:
        self.text = text
        motion, clip = review.motion, review.pose.clip
        self.t_s = motion.t_s
        self._motion, self._strokes, self._scale = motion, review.strokes, scale
        self._names = frame_names(review)
        self._remarks, self._outline_px = remarks(review, text), review.pose.outline_px
        self._outlined = review.pose.outlined
        self._slowed = np.ones(len(motion.t_s)) if slowed is None else slowed
        self._sure = ~motion.filled & ~review.pose.identity_uncertain[:, None]
        self.size_px = round(clip.width_px * scale), round(clip.height_px * scale)
        self._unit = unit_of(*self.size_px)
        tilt = np.radians(motion.tilt_deg if np.isfinite(motion.tilt_deg) else 0.0)
        above, below = note_room(motion, clip.height_px)
        self._on_top = above >= below - BAND_UNITS * self._unit / scale
        self._room_px = scale * (above if self._on_top else below) - (
            0.0 if self._on_top else BAND_UNITS * self._unit
        )
        self._up = (float(np.sin(tilt)), float(-np.cos(tilt)))

    def at(self, index: int) -> Moment:
        """Return the moment of frame `index`."""
        motion, strokes, t_s = self._motion, self._strokes, float(self.t_s[index])
        stroke = int(self._names.stroke[index])
        angles = motion.angles_deg[index]
        notes = _unique(r.note for r in self._remarks if r.start_s <= t_s <= r.end_s)
        show: tuple[str, ...] = ()
        along = release_along = float("nan")
        if stroke:
            i = stroke - 1
            show = angles_to_show(strokes, i, t_s, float(angles[ANGLES.index("elbow_deg")]))
            whole = float(strokes.next_catch_s[i] - strokes.catch_s[i])
            along = float(np.clip((t_s - strokes.catch_s[i]) / whole, 0.0, 1.0))
            release_along = float((strokes.release_s[i] - strokes.catch_s[i]) / whole)
        return Moment(
            t_s=t_s,
            joints_px=motion.joints_px[index] * self._scale,
            outline_px=self._scale
            * outline_at(index, motion.t_s, self._outline_px, self._outlined, motion.joints_px),
            sure=self._sure[index],
            angles_deg=angles,
            angle_se_deg=motion.angle_se_deg[index],
            show=show,
            phase=str(self._names.phase[index]),
            stroke=stroke,
            strokes=strokes.count,
            along=along,
            release_along=release_along,
            notes=notes,
            slowed=float(self._slowed[index]),
            up=self._up,
            feet=1 if motion.facing == "right" else -1,
            notes_on_top=self._on_top,
            note_room_px=self._room_px,
            unit=self._unit,
            text=self.text,
        )

    def nearest(self, t_s: float) -> int:
        """Return the frame nearest to `t_s`."""
        return nearest_frame(self._motion, t_s)


def nearest_frame(motion: Motion, t_s: float) -> int:
    """Return the index of the frame whose own time is nearest to `t_s`."""
    return int(np.argmin(np.abs(motion.t_s - t_s)))


def _unique(notes: object) -> tuple[Note, ...]:
    seen: dict[str, Note] = {}
    for note in notes:  # type: ignore[attr-defined]
        seen.setdefault(note.text, note)
    return tuple(seen.values())


def stroke_to_show(review: Review) -> int:
    """Return the 0-based stroke that shows the first finding best, else the most usual one."""
    strokes, first = review.strokes, review.findings.first
    if first is not None and first.worst_stroke:
        return first.worst_stroke - 1
    typical = [f.typical_stroke for f in review.findings.findings if f.typical_stroke]
    if typical:
        return max(set(typical), key=lambda n: (typical.count(n), -n)) - 1
    return (strokes.count - 1) // 2
