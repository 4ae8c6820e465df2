"""Reads the truth files that lie beside rendered clips (sample_clips/README.md describes them)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class Truth:
    """What is known exactly of one rendered clip.

    ``angles_deg`` maps an angle to its series (T,); ``joints_px`` a near-side joint to (T, 2).
    ``strokes`` holds the whole strokes' events; ``catches_s`` and ``releases_s`` all in view.
    """

    clip: Path
    setting: str
    stage: str
    planted: tuple[str, ...]
    facing: str
    t_s: Array
    joints_px: dict[str, Array]
    angles_deg: dict[str, Array]
    strokes: tuple[dict, ...]
    catches_s: Array
    releases_s: Array
    camera: dict[str, float]

    def at(self, angle: str, when_s: Array) -> Array:
        """Angle at given times, linear between frames."""
        return np.interp(when_s, self.t_s, self.angles_deg[angle])


def read_truth(path: Path) -> Truth:
    """Read ``<stem>.truth.json``; the clip is its neighbour."""
    data = json.loads(path.read_text())
    return Truth(
        clip=path.parent / data["clip"],
        setting=data["setting"],
        stage=data["stage"],
        planted=tuple(data["planted"]),
        facing=data["facing"],
        t_s=np.array(data["t_s"], dtype=float),
        joints_px={name: np.array(xy, dtype=float) for name, xy in data["joints_px"].items()},
        angles_deg={name: np.array(a, dtype=float) for name, a in data["angles_deg"].items()},
        strokes=tuple(data["strokes"]),
        catches_s=np.array(data["catches_s"], dtype=float),
        releases_s=np.array(data["releases_s"], dtype=float),
        camera=data["camera"],
    )


def find_truth(folder: Path) -> list[Truth]:
    """All truth files of a folder whose clip is there too, by name."""
    found = (read_truth(path) for path in sorted(folder.glob("*.truth.json")))
    return [truth for truth in found if truth.clip.exists()]
