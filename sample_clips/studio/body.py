"""A parametric human body, reduced to what posing and truth need.

The body model (anny) is asked once per body; the answer is kept in a cache file, so that
rendering itself needs neither torch nor the body model.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

CACHE_VERSION = 4
SIDES = ("L", "R")
COCO_SIDE = {"L": "left", "R": "right"}
# Marked joints that the body model regresses from its skin.
MARKED = ("ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "big_toe")
RIG_JOINT = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}
BACK_POINTS = 90


@dataclass(frozen=True)
class Figure:
    """Shape of one person, as the body model's sliders (each 0 … 1).

    `gender` 0 is male, 1 female; `age` 0.35 is about 12 years, 0.67 a young adult, 0.9 about 70.
    """

    gender: float = 0.5
    age: float = 0.67
    muscle: float = 0.5
    weight: float = 0.5
    height: float = 0.5
    proportions: float = 0.5


@dataclass(frozen=True)
class Body:
    """Rest shape, skinning and landmarks of one person.

    Attributes
    ----------
    vertices : (V, 3) float32, m
    faces : (F, 3) int32
    weights : (V, B) float32, skinning weights, rows sum to 1
    heads : (B, 3) float64, m, centres of rotation at rest
    parents : (B,) int, −1 for the root; parents come before children
    names : bone names, length B
    tracked : names of the tracked skin points, length K
    tracked_moment : (K, B, 3) float64, m, and tracked_mass : (K, B) float64: a tracked point
        is a fixed blend of skin, so it is linear in the bones' transforms
    """

    figure: Figure
    vertices: np.ndarray
    faces: np.ndarray
    weights: np.ndarray
    heads: np.ndarray
    parents: np.ndarray
    names: tuple[str, ...]
    tracked: tuple[str, ...]
    tracked_moment: np.ndarray
    tracked_mass: np.ndarray

    def bone(self, name: str) -> int:
        """Index of a bone."""
        return self.names.index(name)

    def head(self, name: str) -> np.ndarray:
        """Rest centre of a bone, (3,) m."""
        return self.heads[self.names.index(name)]

    @property
    def stature_m(self) -> float:
        """Standing height without shoes, m."""
        return float(np.ptp(self.vertices[:, 2]))


def _keeper(name: str, parent_of: dict[str, str | None]) -> str:
    """The posed bone that a bone of the full rig moves with."""
    stem = name.split(".")[0]
    side = name[-2:] if name[-2:] in (".L", ".R") else ""
    if stem.startswith("toe"):
        return "toes" + side
    if stem.startswith(("metacarpal", "breast")):
        return _keeper(str(parent_of[name]), parent_of)
    wanted = ("root", "pelvis", "upperleg", "lowerleg", "foot", "spine", "clavicle", "shoulder",
              "upperarm", "lowerarm", "wrist", "finger", "neck", "head")
    return name if stem.startswith(wanted) else "head"


def _ray_hits(vertices, faces, y_m, z_m):
    """Rearmost skin hit by a ray along x at (y, z): three vertex indices and their weights."""
    tri = vertices[faces]
    a, b, c = tri[:, 0, 1:], tri[:, 1, 1:], tri[:, 2, 1:]
    p = np.array([y_m, z_m])
    den = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        u = ((p[0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (p[1] - a[:, 1])) / den
        v = ((b[:, 0] - a[:, 0]) * (p[1] - a[:, 1]) - (p[0] - a[:, 0]) * (b[:, 1] - a[:, 1])) / den
    eps = 1e-7
    hit = np.flatnonzero((u >= -eps) & (v >= -eps) & (u + v <= 1 + eps) & np.isfinite(u + v))
    w = np.stack([1 - u[hit] - v[hit], u[hit], v[hit]], 1)
    x = (tri[hit, :, 0] * w).sum(1)
    k = int(np.argmin(x))
    return faces[hit[k]], w[k]


def _back_line(vertices, faces, hip_z_m, neck_z_m):
    """Blends (N, V-sparse) of skin up the back, from the gluteal fold to the neck's base (C7).

    Up to the sacrum the line runs over the buttock, 4.5 cm beside the cleft, because that is
    what sits on the seat and what is seen from the side.
    """
    low = hip_z_m - 0.10 * (neck_z_m - hip_z_m) / 0.55
    rows = []
    for f in np.linspace(0.0, 1.0, BACK_POINTS):
        z = low + f * (neck_z_m - low)
        y = 0.045 * float(np.clip((0.34 - f) / 0.14, 0.0, 1.0)) + 1e-4
        rows.append(_ray_hits(vertices, faces, y, z))
    return rows


def _keep_seat_on_pelvis(vertices, weights, heads, names) -> None:
    """Hand the buttocks' skin from the thighs to the pelvis, in place.

    The model is skinned for standing; sitting down, its thighs would carry the skin that one
    sits on up and away from the seat.
    """
    for side in SIDES:
        hip = heads[names.index(f"upperleg01.{side}")]
        leg = [names.index(f"{n}.{side}") for n in ("upperleg01", "upperleg02")]
        size = np.ptp(vertices[:, 2]) / 1.75
        behind = np.clip((hip[0] + 0.015 * size - vertices[:, 0]) / (0.05 * size), 0, 1)
        high = np.clip((vertices[:, 2] - (hip[2] - 0.165 * size)) / (0.06 * size), 0, 1)
        give = (behind * high)[:, None] * weights[:, leg]
        weights[:, leg] -= give
        weights[:, names.index("root")] += give.sum(1)


def _build(figure: Figure) -> dict[str, np.ndarray]:
    import warnings

    warnings.simplefilter("ignore")
    import anny
    import torch
    from anny.keypoints import KeypointsRegressor

    model = anny.create_fullbody_model(pose_parameterization="local-ref", triangulate_faces=True)
    with torch.no_grad():
        out = model(phenotype_kwargs=asdict(figure))
        regressor = KeypointsRegressor.coco(model)
    turn = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])  # the model faces −y; we face +x
    vertices = out["rest_vertices"][0].numpy() @ turn.T
    heads_full = out["rest_bone_heads"][0].numpy() @ turn.T
    faces = model.faces.numpy().astype(np.int32)
    labels = list(model.bone_labels)
    parents_full = [int(p) for p in model.bone_parents]
    parent_of = {n: labels[p] if p >= 0 else None
                 for n, p in zip(labels, parents_full, strict=True)}
    keep = {n: _keeper(n, parent_of) for n in labels}
    names = list(dict.fromkeys(keep.values()))
    heads = np.zeros((len(names), 3))
    parents = np.full(len(names), -1)
    for i, n in enumerate(names):
        if n.startswith("toes"):
            members = [k for k, m in enumerate(labels) if keep[m] == n and "-1" in m]
            heads[i] = heads_full[members].mean(0)
            parents[i] = names.index("foot" + n[4:])
        else:
            heads[i] = heads_full[labels.index(n)]
            up = parent_of[n]
            parents[i] = names.index(keep[up]) if up is not None else -1
    index = model.vertex_bone_indices.numpy()
    weight = model.vertex_bone_weights.numpy()
    column = np.array([names.index(keep[n]) for n in labels])
    weights = np.zeros((len(vertices), len(names)))
    np.add.at(weights, (np.arange(len(vertices))[:, None], column[index]), weight)
    weights /= weights.sum(1, keepdims=True)
    _keep_seat_on_pelvis(vertices, weights, heads, names)

    blends: dict[str, np.ndarray] = {}
    regress = regressor.regression_weights.numpy()
    for side in SIDES:
        for joint in MARKED:
            row = regressor.labels.index(f"{COCO_SIDE[side]}_{joint}")
            blends[f"{joint}.{side}"] = regress[row]
    hip_z = heads[names.index("upperleg01.L"), 2]
    neck_z = heads[names.index("neck01"), 2]
    for i, (tri, w) in enumerate(_back_line(vertices, faces, hip_z, neck_z)):
        row = np.zeros(len(vertices))
        np.add.at(row, tri, w)
        blends[f"back{i:02d}"] = row
    blend = np.stack(list(blends.values()))
    return {
        "vertices": vertices.astype(np.float32),
        "faces": faces,
        "weights": weights.astype(np.float32),
        "heads": heads,
        "parents": parents,
        "names": np.array(names),
        "tracked": np.array(list(blends)),
        "tracked_moment": np.einsum("kv,vb,vx->kbx", blend, weights, vertices, optimize=True),
        "tracked_mass": blend @ weights,
    }


def cache_dir() -> Path:
    """Where built bodies are kept (`SIDEON_STUDIO_CACHE`, else the temporary directory)."""
    return Path(os.environ.get("SIDEON_STUDIO_CACHE",
                               Path(tempfile.gettempdir()) / "sideon-studio"))


def load_body(figure: Figure) -> Body:
    """Build a body, or take it from the cache."""
    key = hashlib.sha256(
        json.dumps([CACHE_VERSION, asdict(figure)], sort_keys=True).encode()
    ).hexdigest()[:16]
    path = cache_dir() / f"body-{key}.npz"
    if path.exists():
        with np.load(path) as file:
            data = dict(file)
    else:
        data = _build(figure)
        path.parent.mkdir(parents=True, exist_ok=True)
        scratch = path.with_suffix(f".{os.getpid()}.npz")
        np.savez(scratch, **data)
        scratch.replace(path)
    data["names"] = tuple(str(n) for n in data["names"])
    data["tracked"] = tuple(str(n) for n in data["tracked"])
    return Body(figure=figure, **data)
