"""What knees and ankles are off by at the machine and in boats; after ``learn.py``.

    python tests/accuracy/learn_settings.py TRUTH_FOLDER … --pose-cache DIR [--write]

Feet that the side of a boat hides are placed by the models where they usually are, too near to the
knee, and the knee goes with them. What that is beyond what ``learn.py`` learned on all clips
together is a plain shift of knee and ankle: the median over clips of each clip's median, for
machines and boats each. Of hips nothing is taken, which differ more between boats than they are
off. A setting of which there are no clips keeps what it has.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from learn import Clip, asked_for, off_by, ship, shipped_part

from analysis.motion import learned
from analysis.motion.evidence import MODELS
from analysis.motion.motion import JOINTS

#: Joints that the side of a boat hides, or whose neighbour it hides.
LEGS = ("knee", "ankle")


def legs_off_by(clip: Clip) -> np.ndarray:
    """Median error of corrected landmarks of ``LEGS`` [shape=(W, L, 2), trunk lengths]."""
    numbers = learned.shipped()
    off = off_by(clip, numbers.offsets, numbers.postures)
    out = np.full((len(MODELS), len(LEGS), 2), np.nan)
    for witness, number in np.ndindex(len(MODELS), len(LEGS)):
        leg = off[witness, :, JOINTS.index(LEGS[number])]
        told = leg[np.isfinite(leg[:, 0])]
        if len(told) >= 20:
            out[witness, number] = np.median(told, axis=0)
    return out


def main() -> None:
    """Learn, print, and write when asked."""
    clips, write = asked_for(__doc__)
    tables: dict = {}
    for setting in ("erg", "boat"):
        off = np.array([legs_off_by(clip) for clip in clips if clip[0].setting == setting])
        if not len(off):
            continue
        middle, spread = np.nanmedian(off, axis=0), np.nanstd(off, axis=0)
        tables[setting] = {
            model: {
                joint: [round(-float(v), 4) for v in middle[witness, number]]
                for number, joint in enumerate(LEGS)
            }
            for witness, model in enumerate(MODELS)
        }
        print(f"{setting}: learned from {len(off)} clips\n{json.dumps(tables[setting])}")
        print(f"they differ by {np.round(spread, 3).tolist()}")
    if write:
        ship({"by_setting": shipped_part("by_setting") | tables})


if __name__ == "__main__":
    main()
