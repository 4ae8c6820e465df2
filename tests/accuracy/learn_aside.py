"""What near joints are off by when the camera stands aside; after ``learn.py``.

    python tests/accuracy/learn_aside.py TRUTH_FOLDER … --pose-cache DIR [--write]

Of clips at the machine. What each corrected landmark is off by is told by where the camera stood
and by how far apart the model put the near and the far joint; on average over the clips nothing is
taken, for that is learned before. What is left on clips left out, in groups, is how well landmarks
are believed (``spread``); it is printed with what there was, root mean square, and likewise of each
clip's median.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from learn import GROUPS, Clip, asked_for, frame_of, off_by, ship, shipped_part, square_of

from analysis.motion import learned
from analysis.motion.evidence import MODELS, far_side_evidence
from analysis.motion.motion import JOINTS
from analysis.motion.near_and_far import TERMS, gaps, terms

#: Joints that something is learned of, and which terms tell of it, along and up. Knees and ankles
#: err too, but told so legs were no better placed, at full compression worse. Hands are seen too
#: well to be told by the far one's unsteady place in single frames; nor does that tell of heights.
TOLD_BY = {
    "shoulder": ((0, 1, 2, 3), (0, 1, 2)),
    "elbow": ((0, 1, 2), (0, 1, 2)),
    "wrist": ((0, 1, 2), (0, 1, 2)),
    "hip": ((0, 1, 2, 3), (0, 1, 2)),
}
#: Holds the weights to 0, as strongly as terms of this mean square would.
RIDGE = 0.0002
LEAST_FRAMES, LEAST_CLIPS = 20, 8

#: One clip's terms [shape=(W, T, J, TERMS)] and errors [shape=(W, T, J, 2)].
Told = tuple[np.ndarray, np.ndarray]
#: The same of one joint, one axis: [shape=(N, terms)] and [shape=(N,)].
Part = tuple[np.ndarray, np.ndarray]


def told_by(clip: Clip) -> Told:
    """Terms and errors, trunk lengths, of every landmark; NaN of one gone astray."""
    numbers = learned.shipped()
    truth, pose = clip
    turn, _, unit, near = frame_of(clip)
    far_xy = square_of(clip).put(far_side_evidence(pose).xy_px) @ turn.T
    gap = gaps(near.xy_px @ turn.T, far_xy, unit)
    off = off_by(clip, numbers.offsets, numbers.postures)
    return terms(truth.camera["yaw_deg"], gap), off


def parts_of(told: list[Told], model: str, joint: str, axis: int) -> list[Part]:
    """Terms and errors of one joint along one axis, of every clip that tells of it."""
    at = MODELS.index(model), slice(None), JOINTS.index(joint)
    parts = []
    for clip_terms, off in told:
        by, error = clip_terms[at][:, TOLD_BY[joint][axis]], off[at][:, axis]
        known = np.isfinite(by).all(axis=1) & np.isfinite(error)
        if known.sum() > LEAST_FRAMES:
            parts.append((by[known], error[known]))
    return parts


def weights_of(parts: list[Part]) -> np.ndarray:
    """Weights of the terms; every clip weighs the same, and their mean over the clips is 0."""
    squares = np.mean([by.T @ by / len(by) for by, _ in parts], axis=0)
    with_error = np.mean([by.T @ error / len(by) for by, error in parts], axis=0)
    held = RIDGE * np.eye(len(squares))
    held[0, 0] = 0.0
    weights = np.linalg.solve(squares + held, with_error)
    weights[0] -= np.mean([(by @ weights).mean() for by, _ in parts])
    return np.asarray(weights)


def left(parts: list[Part]) -> tuple[float, float, float, float]:
    """Errors without and with taking out what others tell, whole and by medians of clips."""
    rest = []
    for number, (by, error) in enumerate(parts):
        others = [part for i, part in enumerate(parts) if i % GROUPS != number % GROUPS]
        rest.append(error - by @ weights_of(others))
    found = []
    for errors in ([error for _, error in parts], rest):
        middle = np.mean([error.mean() for error in errors])
        found.append(np.sqrt(np.mean([np.mean((error - middle) ** 2) for error in errors])))
        found.append(np.std([np.median(error) for error in errors]))
    return found[0], found[2], found[1], found[3]


def main() -> None:
    """Learn, print, and write when asked."""
    clips, write = asked_for(__doc__)
    told = [told_by(clip) for clip in clips if clip[0].setting == "erg"]
    table: dict = {model: {} for model in MODELS}
    offsets = shipped_part("offsets")
    for model in MODELS:
        for joint, by_axis in TOLD_BY.items():
            both = [parts_of(told, model, joint, axis) for axis in (0, 1)]
            if len(both[0]) < LEAST_CLIPS:
                continue
            rows, rest = np.zeros((2, TERMS)), []
            for axis, way in enumerate(("along", "up")):
                rows[axis, list(by_axis[axis])] = weights_of(both[axis])
                was, whole, *middles = left(both[axis])
                rest.append(whole)
                told_so = "medians {:.4f} → {:.4f}".format(*middles)
                print(f"{model:9s} {joint:8s} {way:5s} {was:.4f} → {whole:.4f}, {told_so}")
            offsets[model][joint]["spread"] = round(float(np.hypot(*rest) / np.sqrt(2.0)), 4)
            table[model][joint] = np.round(rows, 4).tolist()
    print(f"learned from {len(told)} clips\n{json.dumps(table)}")
    if write:
        ship({"aside": table, "offsets": offsets})


if __name__ == "__main__":
    main()
