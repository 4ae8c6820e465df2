"""A finished review of one clip: what every output is made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.coach_marks import CoachMarks
from analysis.coaching.findings import Findings
from analysis.motion.motion import Motion
from analysis.pose.track import PoseTrack
from analysis.stroke.strokes import Strokes

#: In place of a clip's fingerprint where a review is made to be shown to others: with the SHA-256
#: somebody who has the clip could tell whose review it is.
NO_FINGERPRINT = "not given"


@dataclass(frozen=True)
class QualityPoint:
    """One point of the filming check.

    ``level`` is ``"good"``, ``"fair"`` or ``"poor"``; `costs` says what it does to the numbers and
    `remedy` how to film it better (both empty when good).
    """

    key: str
    label: str
    level: str
    value: float
    unit: str
    costs: str = ""
    remedy: str = ""


@dataclass(frozen=True)
class Review:
    """Everything that one clip gave.

    ``source`` is the clip's path; ``out_name`` the folder its files go to, under the output folder.
    ``who`` is the athlete that was asked for, ``marks`` what a coach put right by hand, both
    applied already.
    """

    source: str
    out_name: str
    athlete: str
    pose: PoseTrack
    motion: Motion
    strokes: Strokes
    findings: Findings
    quality: tuple[QualityPoint, ...] = ()
    versions: Mapping[str, str] = field(default_factory=dict)
    date: str = ""
    note: str = ""
    who: str | int = "auto"
    marks: CoachMarks | None = None

    @property
    def shared(self) -> bool:
        """Whether it is made to be shown to others: without names, fingerprint or way back."""
        return self.pose.clip.sha256 == NO_FINGERPRINT
