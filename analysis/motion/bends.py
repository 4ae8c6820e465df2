"""How far joints are bent, and frames alike in that: what a segment is off by changes with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion.angles import included_deg
from analysis.pose.track import LIMBS

#: Frames whose elbow (arms) or knee (legs) is so bent, or whose trunk so leans, are taken together:
#: lowest and highest, degrees. A bent limb has other things around it than a straight one, and errs
#: otherwise.
Bends = Mapping[str, tuple[tuple[float, float], ...]]
BENDS: Bends = {
    "arm": ((0.0, 130.0), (110.0, 155.0), (150.0, 180.0)),
    "leg": ((0.0, 110.0), (90.0, 155.0), (150.0, 180.0)),
    "trunk": ((-90.0, -3.0), (-12.0, 14.0), (8.0, 90.0)),
}
#: Groups of each.
GROUPS = 3
#: The same where every frame tells, and not the few of which there are pictures: elbows are bent
#: furthest for a moment only, and err most there.
FINER: Bends = {**BENDS, "arm": ((0.0, 100.0), (90.0, 130.0), (110.0, 155.0), (150.0, 180.0))}

#: Segment → which of BENDS it goes with.
PART_OF = {
    "upper_arm": "arm",
    "forearm": "arm",
    "trunk": "trunk",
    "thigh": "leg",
    "shank": "leg",
}

#: Fewer frames tell nothing.
_LEAST_FRAMES = 6
#: No segment is turned further than this, degrees: a small error is better than a large guess.
_MOST_DEG = 4.0


@dataclass(frozen=True)
class Alike:
    """Frames [shape=(F,), bool] of one `group` of BENDS, so bent on the mean."""

    group: int
    frames: BoolArray
    bend_deg: float


def limbs_bend_deg(ends: FloatArray) -> dict[str, FloatArray]:
    """Return the angle of elbow ("arm") and knee ("leg") [shape=(T,) each].

    Of both ends of each of ``LIMBS`` [shape=(T, N, 2, 2)], in any unit.
    """
    at = {name: ends[:, index] for index, name in enumerate(LIMBS)}
    return {
        "arm": included_deg(at["upper_arm"][:, 0], at["forearm"][:, 0], at["forearm"][:, 1]),
        "leg": included_deg(at["thigh"][:, 0], at["thigh"][:, 1], at["shank"][:, 1]),
    }


def alike(
    segment: str, bend_deg: FloatArray, known: BoolArray | None = None, bends: Bends = BENDS
) -> Iterator[Alike]:
    """Yield each group of a segment's frames that has enough of them.

    Parameters
    ----------
    segment : str
        Of ``PART_OF``.
    bend_deg : array [shape=(F,)]
        What its frames are grouped by.
    known : array [shape=(F,)] of bool, optional
        Frames that count; all when left out.
    bends : mapping of str to (lowest, highest)
    """
    for group, (low, high) in enumerate(bends[PART_OF[segment]]):
        chosen = (bend_deg >= low) & (bend_deg <= high)
        if known is not None:
            chosen &= known
        if chosen.sum() >= _LEAST_FRAMES:
            yield Alike(group, chosen, float(bend_deg[chosen].mean()))


def turned_between(
    bend_deg: FloatArray, groups: Sequence[Alike], turn_deg: Sequence[float]
) -> FloatArray:
    """Return by how much to turn a segment in every frame [shape=(T,), deg].

    From the turn of each group, linear between their mean bends; 0 without any.
    """
    if not groups:
        return np.zeros(len(bend_deg))
    knots = [each.bend_deg for each in groups]
    turn = np.clip(turn_deg, -_MOST_DEG, _MOST_DEG)
    return np.asarray(np.interp(bend_deg, knots, turn))
