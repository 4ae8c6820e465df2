"""Which step of the build-up a stroke belongs to, told from how seat and trunk move."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from analysis.stroke.progress import LEAST_SLIDE_SHARE, LEAST_TRUNK_DEG
from analysis.stroke.strokes import STAGES, Stage

#: Above this share of a full slide a stroke is read as a full slide, if a short one.
QUARTER_UP_TO_SHARE = 0.38


def stage_of_stroke(slide_share: float, trunk_swing_deg: float) -> Stage:
    """Return the stage of one stroke.

    Parameters
    ----------
    slide_share : float
        Seat travel ÷ travel from legs flat to shins vertical.
    trunk_swing_deg : float
        How far the trunk swings, degrees.

    Notes
    -----
    ``half_slide`` is never recognised: a half slide that nobody named may as well be a full
    slide that is too short.
    """
    if slide_share < LEAST_SLIDE_SHARE:
        return "arms_only" if trunk_swing_deg < LEAST_TRUNK_DEG else "arms_and_body"
    return "quarter_slide" if slide_share < QUARTER_UP_TO_SHARE else "full_slide"


def stage_of_clip(stages: Sequence[Stage]) -> Stage:
    """Return the stage of most strokes; the later in the build-up when as many show two."""
    counted = Counter(stages)
    return max(counted, key=lambda stage: (counted[stage], STAGES.index(stage)))
