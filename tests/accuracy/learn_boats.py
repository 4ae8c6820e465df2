"""What landmarks are off by in boats, whose side hides the feet; after ``learn.py``.

    python tests/accuracy/learn_boats.py TRUTH_FOLDER … --pose-cache DIR [--write]

Feet that nobody can see are placed by the models where they usually are, too near to the knee, and
the knee goes with them. What that is beyond what ``learn.py`` learned on all clips together is a
plain shift of knee and ankle: the median over boats of each boat's median. Of hips nothing is
taken, which differ more between boats than they are off.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from learn import ASTRAY, LEARNED, Clip, asked_for, frame_of

from analysis.motion import learned
from analysis.motion.corrections import corrected
from analysis.motion.learned import MODELS
from analysis.motion.motion import JOINTS

#: Joints that the side of a boat hides, or whose neighbour it hides.
HIDDEN = ("knee", "ankle")


def off_by(clip: Clip) -> np.ndarray:
    """Median error of corrected landmarks of ``HIDDEN`` [shape=(W, H, 2), trunk lengths]."""
    numbers = learned.shipped()
    turn, joints, unit, evidence = frame_of(clip)
    out = np.full((len(MODELS), len(HIDDEN), 2), np.nan)
    for witness, model in enumerate(MODELS):
        xy = evidence.xy_px[witness] @ turn.T
        place = corrected(xy, model, unit, numbers.offsets, numbers.postures)
        for number, joint in enumerate(HIDDEN):
            off = (place[:, JOINTS.index(joint)] - joints[:, JOINTS.index(joint)]) / unit
            near = np.linalg.norm(off, axis=1) < ASTRAY
            if near.sum() >= 20:
                out[witness, number] = np.median(off[near], axis=0)
    return out


def main() -> None:
    """Learn, print, and write when asked."""
    clips, write = asked_for(__doc__)
    boats = [c for c in clips if c[0].setting == "boat"]
    off = np.array([off_by(boat) for boat in boats])
    middle = np.nanmedian(off, axis=0)
    table = {
        model: {
            joint: [round(-float(v), 4) for v in middle[witness, number]]
            for number, joint in enumerate(HIDDEN)
        }
        for witness, model in enumerate(MODELS)
    }
    spread = np.nanstd(off, axis=0)
    print(f"learned from {len(boats)} boats\n{json.dumps(table)}")
    print(f"boats differ by {np.round(spread, 3).tolist()}")
    if write:
        numbers = json.loads(LEARNED.read_text(encoding="utf-8"))
        numbers["in_boats"] = table
        LEARNED.write_text(json.dumps(numbers, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
