"""Learns what every angle is still off by: "left_over" in learned.json, but for the back's.

python tests/accuracy/learn_left.py FOLDER ... --pose-cache DIR [--write]

From the clips that builds were learned from, last of all, but for those that are refused for want
of whole strokes: each is measured by builds learned without its group and networks that have not
seen it, all else as it ships. Most of them have few frames a second, where limbs are followed
worse; so errors are told by all, and their size by clips of 24 frames a second or more, as people
film. The back's own is learned by learn_back.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from learn import BACK, GROUPS, Clip, asked_for, collect, ship, shipped_part, summarise
from learn_build import build_of, examples_of
from limb_examples import unseen, untold

from analysis.errors import SideonError
from analysis.motion.learned import Learned, LeftOver
from analysis.motion.motion import ANGLES
from analysis.motion.reconstruct import reconstruct_motion
from analysis.stroke.analyse import analyse_strokes

#: People film at 24 frames a second or more.
AS_FILMED_S = 1.001 / 24

Measured = tuple[Clip, Learned]


def as_filmed(measured: list[Measured]) -> list[Measured]:
    """Return those clips that have as many frames a second as people film."""
    return [one for one in measured if np.median(np.diff(one[0][1].t_s)) < AS_FILMED_S]


def errors_in_se(measured: list[Measured], left_over: dict) -> dict[str, float]:
    """Return how many standard errors angles are off by: the root of the mean square of clips.

    Standard errors are those that `left_over` gives, as it stands in learned.json.
    """
    squares: dict[str, list[float]] = {name: [] for name in left_over}
    told = {
        name: LeftOver(np.array(e["at_deg"]), np.array(e["se_deg"]), e["noise_deg"])
        for name, e in left_over.items()
    }
    for (truth, pose), numbers in measured:
        numbers = replace(numbers, left_over={**numbers.left_over, **told})
        motion = reconstruct_motion(pose, setting=truth.setting, numbers=numbers)
        for name in left_over:
            off = (motion.angle(name) - truth.at(name, motion.t_s)) / motion.angle_se(name)
            squares[name].append(float(np.nanmean(off**2)))
    return {name: float(np.sqrt(np.mean(values))) for name, values in squares.items()}


def main() -> None:
    """Learn, print, and write when asked."""
    given, write = asked_for(__doc__)
    told = []
    for clip in given:
        if clip[0].setting != "erg":
            continue
        try:
            analyse_strokes(reconstruct_motion(clip[1], setting="erg"), stage=clip[0].stage)
            told.append((clip, examples_of(clip)))
        except SideonError as error:
            print(f"{clip[0].clip.name}: {error}")
    off: dict = {name: [] for name in ANGLES}
    measured: list[Measured] = []
    for group in range(GROUPS):
        kept = [e for i, (_, own) in enumerate(told) if i % GROUPS != group for e in own]
        numbers = replace(untold(), build=build_of(kept))
        for clip, _ in told[group::GROUPS]:
            measured.append((clip, unseen(numbers, clip[0].clip.stem)))
            collect(off, *clip, measured[-1][1])
    ship_left_over(off, as_filmed(measured), write)


def ship_left_over(off: dict, filmed: list[Measured], write: bool) -> None:
    """Sum up errors, print, and write when asked."""
    now = shipped_part("left_over")
    # What changes from frame to frame is that of 30 a second, as learn.py found it.
    left_over = {
        name: summarise(name, off[name]) | {"noise_deg": now[name]["noise_deg"]}
        for name in ANGLES
        if name != BACK and off[name]
    }
    for name, share in errors_in_se(filmed, left_over).items():
        by_all = left_over[name]["se_deg"]
        left_over[name]["se_deg"] = [round(share * se, 2) for se in by_all]
        print(f"{name}: by all {by_all}, × {share:.2f} by {len(filmed)} as people film")
        print(f"  {now[name]} → {left_over[name]}")
    if write:
        ship({"left_over": now | left_over})


if __name__ == "__main__":
    main()
