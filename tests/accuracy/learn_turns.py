"""Learns how late the handle's turns are read, and what is left of that: "turns" in learned.json.

python tests/accuracy/learn_turns.py FOLDER ... --pose-cache DIR [--write]

From rendered clips of 25 frames a second or more, never ones that are reported on: with fewer the
hand cannot be followed from frame to frame. After learn.py and learn_settings.py, whose numbers
place the wrist.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
from learn import Clip, asked_for, ship

from analysis.errors import SideonError
from analysis.motion import learned
from analysis.motion.motion import TurnError
from analysis.motion.reconstruct import reconstruct_motion
from analysis.stroke.analyse import analyse_strokes

#: Found and true events further apart than this are not the same one, s.
SAME_EVENT_S = 0.3
EVENTS = ("catch", "release")


def lateness_s(clip: Clip) -> dict[str, float]:
    """Return by how much a clip's catches and releases are late in the middle, s; NaN: none."""
    truth, pose = clip
    numbers = replace(learned.shipped(), turns=TurnError())
    motion = reconstruct_motion(pose, setting=truth.setting, numbers=numbers)
    strokes = analyse_strokes(motion, stage=truth.stage)
    late = {}
    for event, found in zip(EVENTS, (strokes.catch_s, strokes.release_s), strict=True):
        true = np.array([stroke[f"{event}_s"] for stroke in truth.strokes])
        off = found[np.abs(found[:, None] - true).argmin(axis=0)] - true
        near = off[np.abs(off) < SAME_EVENT_S]
        late[event] = float(np.median(near)) if len(near) else np.nan
    return late


def turns_of(late: list[dict[str, float]]) -> dict[str, float]:
    """Return how late each event is in the middle, and how clips scatter about that, s."""
    out = {}
    for event in EVENTS:
        values = np.array([clip[event] for clip in late])
        middle = float(np.nanmedian(values))
        out[f"{event}_late_s"] = round(middle, 4)
        # Tails are long: a standard error whose 1.96 hold 95 % of the clips.
        out[f"{event}_se_s"] = round(float(np.nanpercentile(np.abs(values - middle), 95)) / 1.96, 4)
    return out


def main() -> None:
    """Learn, print, and write when asked."""
    clips, write = asked_for(__doc__)
    late = []
    for clip in clips:
        try:
            late.append(lateness_s(clip))
        except SideonError as error:
            print(f"{clip[0].clip.name}: {error}")
    turns = turns_of(late)
    print(f"learned from {len(late)} clips: {json.dumps(turns)}")
    if write:
        ship({"turns": turns})


if __name__ == "__main__":
    main()
