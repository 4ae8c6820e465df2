"""Which strokes are whole at the clip's ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.motion.motion import Motion
from tests.made_motion import Technique, made_motion
from tests.stroke_helpers import read_motion


def cut_after_last_catch(later_s: float, *, angles: bool) -> tuple[Motion, int]:
    made = made_motion(Technique(rate_spm=24), strokes=4, end_phase=0.9)
    motion = made.motion
    last = float(read_motion(motion)[0].next_catch_s[-1])
    keep = motion.t_s <= last + later_s
    frames = {
        name: value[keep]
        for name, value in vars(motion).items()
        if isinstance(value, np.ndarray) and len(value) == len(keep)
    }
    if not angles:
        frames["angles_deg"] = np.full_like(frames["angles_deg"], np.nan)
    return replace(motion, **frames), 4


@pytest.mark.parametrize(
    ("later_s", "angles", "lost"),
    [(0.12, True, 0), (0.12, False, 1), (0.45, False, 0), (0.45, True, 0)],
)
def test_the_drive_after_the_last_catch_must_be_seen_to_begin(
    later_s: float, angles: bool, lost: int
) -> None:
    # With angles a glimpse of it is enough; a small athlete's handle wavers by as much.
    motion, strokes = cut_after_last_catch(later_s, angles=angles)
    assert read_motion(motion)[0].count == strokes - lost
