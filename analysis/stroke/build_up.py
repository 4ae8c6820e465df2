"""Steps of the build-up, by name; stands apart so that who only names them loads nothing else."""

from __future__ import annotations

from typing import Literal

Stage = Literal["arms_only", "arms_and_body", "quarter_slide", "half_slide", "full_slide"]

#: The build-up, in the order in which beginners go through it.
STAGES: tuple[Stage, ...] = (
    "arms_only",
    "arms_and_body",
    "quarter_slide",
    "half_slide",
    "full_slide",
)

#: Steps in which the seat stays where it is and the legs lie flat.
SEAT_STAYS: tuple[Stage, ...] = ("arms_only", "arms_and_body")
