"""What the coaching stage hands on: findings, the first thing to fix, drills, hints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Level = Literal["work on", "watch", "steady", "cannot tell", "not applicable"]
Side = Literal["over", "under"]


@dataclass(frozen=True)
class Finding:
    """One measure of one check, held against the standard.

    Attributes
    ----------
    check, measure : str
        Names as in the standard.
    level : str
    value, u : float
        Median over the whole strokes, and 1.96 × its standard error; NaN when not told.
    low, high : float or None
        The limits in force; ``None`` where that side is open.
    side : "over", "under" or None
        Which limit was passed.
    strokes_seen, strokes : int
        Strokes past the limit, and strokes in which the measure could be told.
    close : bool
        Inside, but by less than `u`.
    because_of : str or None
        The check that is its likely cause.
    reason : str
        Why it cannot be told or does not apply; else empty.
    worst_stroke, typical_stroke : int or None
        1-based strokes that show it most, and closest to the median.
    show_at_s : float
        Moment in the worst stroke at which to look, s; NaN when not told.
    title, athlete_text, coach_text : str
        The same finding for its readers.
    """

    check: str
    measure: str
    level: Level
    value: float
    u: float
    low: float | None
    high: float | None
    unit: str
    side: Side | None = None
    strokes_seen: int = 0
    strokes: int = 0
    close: bool = False
    because_of: str | None = None
    reason: str = ""
    worst_stroke: int | None = None
    typical_stroke: int | None = None
    show_at_s: float = float("nan")
    title: str = ""
    athlete_text: str = ""
    coach_text: str = ""


@dataclass(frozen=True)
class Drill:
    """One exercise: what to do, how much of it, what it should feel like, what to film next."""

    key: str
    name: str
    do: str
    amount: str
    feel: str
    film: str


@dataclass(frozen=True)
class Hint:
    """A set-up hint (foot height, handle height, …): never a finding.

    ``sure`` is ``"fairly sure"`` or ``"worth a look"``; ``step`` is one thing to try.
    """

    key: str
    text: str
    sure: str
    step: str


@dataclass(frozen=True)
class Readiness:
    """Whether the athlete is ready for the next step of the build-up.

    ``ready`` is ``None`` at the last stage; `missing` says in plain words what still lacks. With
    `only_the_clip` it is another clip that lacks, and nothing in how the athlete rows.
    """

    stage: str
    next_stage: str | None
    ready: bool | None
    missing: tuple[str, ...] = ()
    only_the_clip: bool = False


@dataclass(frozen=True)
class Findings:
    """All findings of a clip, worst first.

    ``did_well`` names checks at ``steady`` in plain words, best first.
    ``first_check`` is the check to fix first, or ``None``.
    """

    findings: tuple[Finding, ...]
    first_check: str | None
    first_text: str
    drill: Drill | None
    readiness: Readiness
    hints: tuple[Hint, ...] = ()
    did_well: tuple[str, ...] = ()
    standard_name: str = ""
    standard_version: str = ""
    neutral_source: str = ""
    context: Mapping[str, str] = field(default_factory=dict)

    @property
    def first(self) -> Finding | None:
        """The finding behind ``first_check``: its worst measure."""
        for finding in self.findings:
            if finding.check == self.first_check and finding.level == "work on":
                return finding
        return None
