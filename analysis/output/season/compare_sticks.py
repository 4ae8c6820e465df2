"""The mean stroke before and after as stick figures, laid over each other."""

from __future__ import annotations

import warnings
from collections.abc import Sequence

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import JOINTS
from analysis.output.curves import values_at
from analysis.output.season.measured import Measured
from analysis.output.stick_figures import (
    PHASES,
    StickPicture,
    StickSet,
    moments_along,
    stick_picture,
)

_READING = (
    "The mean stroke before and after at five moments, the ankle on one spot and both counted in "
    "lengths of their own trunk. It shows where to look; the table says what can be told."
)


def mean_sticks(before: Sequence[Measured], after: Sequence[Measured]) -> StickPicture | None:
    """Return both sides' mean strokes over each other; ``None`` when either has none."""
    sides = [[clip for clip in side if clip.strokes] for side in (before, after)]
    if not all(sides):
        return None
    turn = float(np.mean([clip.drive_share for side in sides for clip in side]))
    sets = []
    for name, look, side in (("before", "dashed", sides[0]), ("after", "full", sides[1])):
        joints = np.concatenate([joints_in_trunks(clip, turn) for clip in side])
        count = len(joints)
        label = f"{name}, mean of {count} stroke{'' if count == 1 else 's'}"
        sets.append(StickSet(label, _mean(joints)[None], look))  # type: ignore[arg-type]
    facing = "left" if sides[1][0].facing == "left" else "right"
    alt = "The mean stroke before (dashed) and after (full line), laid over each other."
    return stick_picture(sets, facing=facing, alt=alt, reading=_READING)  # type: ignore[arg-type]


def joints_in_trunks(clip: Measured, turn: float) -> FloatArray:
    """Return the joints at the moments of ``PHASES`` [shape=(N, P, J, 2)].

    In lengths of the trunk from the ankle of the same instant, x to the feet, y up: so the place,
    the size and the side of the athlete in the picture drop out, and a camera that moves. `turn` is
    where the release is put, as everywhere on the page. NaN where a joint was not seen.
    """
    at = {name: clip.joints_px[:, JOINTS.index(name)] for name in ("ankle", "hip", "shoulder")}
    lengths = np.hypot(*(at["shoulder"] - at["hip"]).T)
    known = lengths[np.isfinite(lengths)]
    trunk_px = float(np.median(known)) if known.size else np.nan
    side = 1.0 if clip.facing == "right" else -1.0
    places = (clip.joints_px - at["ankle"][:, None]) / trunk_px * np.array([side, -1.0])
    events = np.stack([clip.catch_s, clip.release_s, clip.next_catch_s], axis=1)
    times = np.array([np.interp(moments_along(turn), [0.0, turn, 1.0], own) for own in events])
    found = np.full((clip.strokes, len(PHASES), len(JOINTS), 2), np.nan)
    for j in range(len(JOINTS)):
        for k in range(2):
            found[..., j, k] = values_at(clip.t_s, places[:, j, k], times)
    return found


def _mean(joints: FloatArray) -> FloatArray:
    with warnings.catch_warnings():
        # A joint that no stroke shows is NaN, and meant to be.
        warnings.simplefilter("ignore", RuntimeWarning)
        return np.asarray(np.nanmean(joints, axis=0))
