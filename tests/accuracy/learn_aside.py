"""What near joints are off by when the camera stands aside; after ``learn.py``.

    python tests/accuracy/learn_aside.py TRUTH_FOLDER … --pose-cache DIR [--write]

Of clips at the machine. The median error of each corrected landmark of a clip is told by where the
camera stood and by how far apart the model put the near and the far joint, robustly; on average
over the clips nothing is taken, for that is learned before. Prints what is left on clips left out,
each in turn, with and without.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from learn import ASTRAY, Clip, asked_for, frame_of, ship, square_of

from analysis.motion import learned
from analysis.motion.corrections import corrected
from analysis.motion.evidence import far_side_evidence
from analysis.motion.learned import MODELS
from analysis.motion.motion import JOINTS
from analysis.motion.near_and_far import gaps

#: Joints that something is learned of; feet are side by side, how far apart they seem is nothing.
JOINTS_OFF, WITHOUT_GAP = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle"), ("ankle",)
#: Holds the weights of yaw, rad, and gap, trunk lengths, to 0, as strongly as so much of their
#: squares in the clips together.
RIDGE = 0.01
#: Clips off by more than so many spreads count less and less.
STRAY = 2.5
ROUNDS = 6
LEAST_CLIPS = 8

Told = tuple[float, np.ndarray, np.ndarray]


def told_by(clip: Clip) -> Told:
    """Yaw, rad, gaps [shape=(W, J)] and median errors [shape=(W, J, 2)], trunk lengths."""
    numbers = learned.shipped()
    truth, pose = clip
    turn, joints, unit, near = frame_of(clip)
    far_xy = square_of(clip).put(far_side_evidence(pose).xy_px) @ turn.T
    gap = gaps(near.xy_px @ turn.T, far_xy, unit)
    off_by = np.full((len(MODELS), len(JOINTS), 2), np.nan)
    for witness, model in enumerate(MODELS):
        xy = near.xy_px[witness] @ turn.T
        off = (corrected(xy, model, unit, numbers.offsets, numbers.postures) - joints) / unit
        for joint in range(len(JOINTS)):
            good = np.linalg.norm(off[:, joint], axis=1) < ASTRAY
            if good.sum() > 20:
                off_by[witness, joint] = np.median(off[good, joint], axis=0)
    return np.radians(truth.camera["yaw_deg"]), gap, off_by


def terms_and_errors(told: list[Told], model: str, joint: str) -> tuple[np.ndarray, np.ndarray]:
    """Terms [shape=(N, 2 or 3)] and errors [shape=(N, 2)] of the clips that tell of a joint."""
    w, j = MODELS.index(model), JOINTS.index(joint)
    columns = [
        (1.0, yaw) if joint in WITHOUT_GAP else (1.0, yaw, gap[w, j]) for yaw, gap, _ in told
    ]
    terms, errors = np.array(columns), np.array([off[w, j] for _, _, off in told])
    known = np.isfinite(terms).all(axis=1) & np.isfinite(errors).all(axis=1)
    return terms[known], errors[known]


def weights_of(terms: np.ndarray, error: np.ndarray) -> np.ndarray:
    """Weights of the terms, robustly; their mean over the clips is 0."""
    held = RIDGE * np.eye(terms.shape[1])
    held[0, 0] = 0.0
    counts = np.ones(len(error))
    for _ in range(ROUNDS):
        scaled = terms * counts[:, None]
        weights = np.linalg.solve(scaled.T @ terms + held, scaled.T @ error)
        rest = error - terms @ weights
        counts = 1.0 / (1.0 + (rest / (STRAY * 1.4826 * np.median(np.abs(rest)))) ** 2)
    weights[0] -= np.mean(terms @ weights)
    return np.asarray(weights)


def left(terms: np.ndarray, error: np.ndarray) -> tuple[float, float]:
    """Scatter of the errors without, and with each clip's taken out as the others have it."""
    rest = []
    for number in range(len(error)):
        others = np.arange(len(error)) != number
        rest.append(error[number] - terms[number] @ weights_of(terms[others], error[others]))
    return float(np.std(error)), float(np.std(rest))


def main() -> None:
    """Learn, print, and write when asked."""
    clips, write = asked_for(__doc__)
    told = [told_by(clip) for clip in clips if clip[0].setting == "erg"]
    table: dict = {model: {} for model in MODELS}
    for model in MODELS:
        for joint in JOINTS_OFF:
            terms, errors = terms_and_errors(told, model, joint)
            if len(errors) < LEAST_CLIPS:
                continue
            by_axis = [[round(float(w), 4) for w in weights_of(terms, e)] for e in errors.T]
            table[model][joint] = [[*row, 0.0][:3] for row in by_axis]
            spread = "; ".join("{:.4f} → {:.4f}".format(*left(terms, e)) for e in errors.T)
            print(f"{model} {joint}, {len(errors)} clips, along and up: {spread}")
    print(json.dumps(table))
    if write:
        ship({"aside": table})


if __name__ == "__main__":
    main()
