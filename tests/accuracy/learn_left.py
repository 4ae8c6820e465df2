"""Learns what every angle is still off by: "left_over" in learned.json, but for the back's.

python tests/accuracy/learn_left.py FOLDER ... --pose-cache DIR [--write]

From the clips that builds were learned from, last of all, but for those that are refused for want
of whole strokes: each is measured by builds learned without its group and networks that have not
seen it, all else as it ships. The
back's own is learned by learn_back.py.
"""

from __future__ import annotations

from dataclasses import replace

from learn import BACK, GROUPS, asked_for, collect, ship, shipped_part, summarise
from learn_build import build_of, examples_of
from limb_examples import unseen, untold

from analysis.errors import SideonError
from analysis.motion.motion import ANGLES
from analysis.motion.reconstruct import reconstruct_motion
from analysis.stroke.analyse import analyse_strokes


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
    for group in range(GROUPS):
        kept = [e for i, (_, own) in enumerate(told) if i % GROUPS != group for e in own]
        numbers = replace(untold(), build=build_of(kept))
        for (truth, pose), _ in told[group::GROUPS]:
            collect(off, truth, pose, unseen(numbers, truth.clip.stem))
    now = shipped_part("left_over")
    # What changes from frame to frame is that of 30 a second, as learn.py found it.
    left_over = {
        name: summarise(name, off[name]) | {"noise_deg": now[name]["noise_deg"]}
        for name in ANGLES
        if name != BACK and off[name]
    }
    for name, values in left_over.items():
        print(f"{name}: {now[name]} → {values}")
    if write:
        ship({"left_over": now | left_over})


if __name__ == "__main__":
    main()
