"""How deep joints lie under the outline, from rendered truth; part of ``learn.py``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.motion.edges import EDGES, Edge, depth_px
from analysis.motion.motion import JOINTS


@dataclass(frozen=True)
class MiddlePlane:
    """One clip's true joints in the athlete's middle plane.

    ``joints`` [shape=(T, J, 2), px]; ``share`` [shape=(T, J)], how much nearer each is than the
    plane; ``side`` [shape=(2,)], about which nearness magnifies; ``turn`` [shape=(2, 2)], with
    which picture points become places.
    """

    joints: np.ndarray
    share: np.ndarray
    side: np.ndarray
    turn: np.ndarray

    @property
    def unit(self) -> float:
        """Length of the trunk, px."""
        trunk = self.joints[:, JOINTS.index("shoulder")] - self.joints[:, JOINTS.index("hip")]
        return float(np.median(np.linalg.norm(trunk, axis=1)))


def depths_of(clip: MiddlePlane, outline_px: np.ndarray, edge: Edge) -> tuple[np.ndarray, ...]:
    """Bend, degrees, and depth, trunk lengths, of one edge in every frame [shape=(T,) each]."""
    at = {name: clip.joints[:, index] for index, name in enumerate(JOINTS)}
    nearer = 1.0 / (1.0 - clip.share[:, JOINTS.index(edge.joint)])
    point = clip.side + nearer[:, None] * (at[edge.joint] - clip.side)
    most = edge.most * clip.unit * float(nearer.max())
    depth, _ = depth_px(outline_px @ clip.turn, point, edge.towards(at), most, clip.unit)
    return edge.bend(at), depth / nearer / clip.unit


def learn_depths(clips: list[tuple[MiddlePlane, np.ndarray]]) -> dict:
    """Usual depth by bend, spread within clips and between them, of every edge."""
    table = {}
    for name, edge in EDGES.items():
        at_deg = np.array(edge.at_deg)
        width = np.gradient(at_deg) / 2
        told = [depths_of(*clip, edge) for clip in clips]
        rows = []
        for bend, depth in told:
            here = [
                depth[(np.abs(bend - a) < w) & np.isfinite(depth)]
                for a, w in zip(at_deg, width, strict=True)
            ]
            rows.append([np.median(part) if len(part) > 4 else np.nan for part in here])
        with np.errstate(all="ignore"):
            seen = np.isfinite(rows).sum(axis=0) > 2
            usual = np.interp(at_deg, at_deg[seen], np.nanmedian(np.array(rows)[:, seen], axis=0))
        off = [(depth - np.interp(bend, at_deg, usual))[np.isfinite(depth)] for bend, depth in told]
        off = [each for each in off if len(each) > 5]
        middle = np.array([np.median(each) for each in off])
        within = np.concatenate([each - m for each, m in zip(off, middle, strict=True)])
        table[name] = {
            "at_deg": list(at_deg),
            "depth": [round(float(d), 4) for d in usual],
            "within": round(1.4826 * float(np.median(np.abs(within))), 4),
            "between": round(float(np.sqrt(np.mean(middle**2))), 4),
        }
    return table
