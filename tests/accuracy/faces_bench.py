"""Bench of faces to be blurred: how much of the true head is covered, frame by frame.

Run as ``python -m tests.accuracy.faces_bench [CLIPS] [--seconds S]`` from the top of the checkout;
CLIPS is a folder of clips with truth, the sample clips by default. By the people finder alone:
what is shared also has the athlete's face from the review's landmarks, so that this is the worse
half of it.

The head is taken to be a circle about the face, 0.06 trunks before the true ear, 0.22 trunks in
radius (a head is about 0.45 trunks high: common proportions of the body, from memory).
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

from analysis.clip import Clip
from analysis.output.season.faces import Face, FaceFinder, held

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
HEAD, BEFORE_EAR = 0.22, 0.06

#: Points of the unit disc on which covering is looked at.
_GRID = np.stack(np.meshgrid(*[np.linspace(-1, 1, 41)] * 2), axis=-1).reshape(-1, 2)
DISC = _GRID[np.linalg.norm(_GRID, axis=1) <= 1]


def covered(middle: np.ndarray, radius: float, faces: list[Face]) -> float:
    """Return the share of a circle that lies inside others."""
    points = middle + radius * DISC
    inside = np.zeros(len(points), dtype=bool)
    for x, y, r in faces:
        inside |= np.hypot(points[:, 0] - x, points[:, 1] - y) <= r
    return float(inside.mean())


def shares(path: Path, seconds: float) -> np.ndarray:
    """Return for each frame how much of the athlete's head is blurred."""
    truth = json.loads(path.with_suffix("").with_suffix(".truth.json").read_text())
    finder = FaceFinder(tuple(truth["size"]))
    with Clip(path, to_s=seconds) as clip:
        seen = [(frame.t_s, finder.run(frame.rgb)) for frame in clip]
    t_s = np.array([t for t, _ in seen])
    faces = held(t_s, [found for _, found in seen])
    joints = {name: np.array(truth["joints_px"][name]) for name in ("ear", "shoulder", "hip")}
    trunk = float(np.median(np.linalg.norm(joints["shoulder"] - joints["hip"], axis=1)))
    forward = 1.0 if truth["facing"] == "right" else -1.0
    at = np.abs(np.array(truth["t_s"])[None] - t_s[:, None]).argmin(axis=1)
    middles = joints["ear"][at] + [forward * BEFORE_EAR * trunk, 0.0]
    pairs = zip(middles, faces, strict=True)
    return np.array([covered(m, HEAD * trunk, found) for m, found in pairs])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clips", type=Path, nargs="?", default=SAMPLES)
    parser.add_argument("--seconds", type=float, default=3.0)
    said = parser.parse_args()
    print(
        f"{'clip':36s}{'frames':>8s}{'covered, mean %':>18s}{'least %':>10s}{'frames < 95 %':>15s}"
    )
    everything = []
    for path in sorted(said.clips.glob("*.mp4")):
        found = 100 * shares(path, said.seconds)
        everything.append(found)
        row = f"{found.mean():18.1f}{found.min():10.1f}{int((found < 95).sum()):15d}"
        print(f"{path.stem:36s}{len(found):8d}{row}", flush=True)
    found = np.concatenate(everything)
    row = f"{found.mean():18.1f}{found.min():10.1f}{int((found < 95).sum()):15d}"
    print(f"{'all':36s}{len(found):8d}{row}")


if __name__ == "__main__":
    main()
