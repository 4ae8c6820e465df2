"""What a step of the build-up does not reach, and so is not told of it.

With the arms alone, or with arms and body, the seat stays and the legs lie flat: a shin angle "at
full compression" would be a number of nothing. The tables for other programs keep every column.
"""

from __future__ import annotations

from analysis.stroke.build_up import SEAT_STAYS

#: Measures of what the legs do on the slide.
ON_THE_SLIDE = ("shin_catch_deg", "knee_catch_deg", "legs_peak_pct")

#: What moves in the drive, by step; on the slide all three do.
_MOVING = {"arms_only": ("arms",), "arms_and_body": ("body", "arms")}


def seat_stays(stage: str) -> bool:
    """Tell whether the seat stays where it is in this step."""
    return stage in SEAT_STAYS


def reached(measure: str, stage: str) -> bool:
    """Tell whether `stage` reaches what `measure` is about."""
    return not (seat_stays(stage) and measure in ON_THE_SLIDE)


def moving(stage: str) -> tuple[str, ...]:
    """Return which of legs, body and arms move in the drive of `stage`."""
    return _MOVING.get(stage, ("legs", "body", "arms"))
