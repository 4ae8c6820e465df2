"""Clothes, hair and shoes: colours by where a point of the skin is, and cloth off the skin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .body import SIDES, Body
from .rig import LATERAL

Colour = tuple[float, float, float]
BARE = 9.0  # a length beyond any limb, m


def linear(hex_colour: str) -> Colour:
    """"#rrggbb" as linear light."""
    v = [int(hex_colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    return tuple(x ** 2.2 for x in v)


@dataclass(frozen=True)
class Look:
    """What somebody wears. Lengths in shares of the limb: sleeve 0 vest … 1 wrist, leg likewise.

    `loose_m` is how far the shirt stands off the skin, `hair` one of short, long, bun, cap.
    """

    skin: str = "#c68e6a"
    hair_colour: str = "#3a2a1c"
    hair: str = "short"
    top: str = "#2f5d8a"
    bottom: str = "#22252b"
    shoe: str = "#d8d8d4"
    sock: str = "#e6e6e6"
    stripe: str = "#f2f2f2"
    stripe_width_m: float = 0.0
    sleeve: float = 0.3
    leg: float = 0.42
    loose_m: float = 0.012
    wrinkle: float = 0.55
    sock_from: float = 0.93


@dataclass(frozen=True)
class Worn:
    """A look measured out on a body, as the shader wants it."""

    look: Look
    arm_m: float
    leg_m: float
    ankle_m: float

    def uniforms(self) -> dict[str, object]:
        """Values by uniform name."""
        k = self.look
        return {
            "skin": linear(k.skin), "hair": linear(k.hair_colour), "top": linear(k.top),
            "bottom": linear(k.bottom), "shoe": linear(k.shoe), "sock": linear(k.sock),
            "stripe": linear(k.stripe), "sleeve": max(k.sleeve, 0.02) * self.arm_m,
            "leg": k.leg * self.leg_m, "waist": 0.0, "sock_from": k.sock_from * self.ankle_m,
            "shoe_from": 0.97 * self.ankle_m, "wrinkle": k.wrinkle,
            "stripe_width": k.stripe_width_m,
        }


@dataclass(frozen=True)
class Dressed:
    """A dressed body, ready for skinning and drawing.

    rest (V, 3) m and normals (V, 3) of the clothed skin; weights (V, B); cut, part (V, 4) as the
    shader reads them; faces (F, 3).
    """

    look: Worn
    rest: np.ndarray
    normals: np.ndarray
    weights: np.ndarray
    cut: np.ndarray
    part: np.ndarray
    faces: np.ndarray

    def skinned(self, transforms: np.ndarray) -> np.ndarray:
        """Positions and normals (V, 6) float32 under bone matrices (B, 3, 4)."""
        m = (self.weights @ transforms.reshape(len(transforms), 12)).reshape(-1, 3, 4)
        position = np.einsum("vij,vj->vi", m[:, :, :3], self.rest) + m[:, :, 3]
        # Normals of the bent skin, from its triangles: blended matrices would shade folds wrongly.
        a, b, c = (position[self.faces[:, k]] for k in range(3))
        n = np.cross(b - a, c - a)
        total = np.empty_like(position)
        corner = self.faces.T.ravel()
        for axis in range(3):
            total[:, axis] = np.bincount(corner, np.tile(n[:, axis], 3), len(position))
        total /= np.linalg.norm(total, axis=1, keepdims=True) + 1e-12
        return np.concatenate([position, total], 1).astype("f4")


def _smooth(x, a, b):
    u = np.clip((x - a) / (b - a), 0, 1)
    return u * u * (3 - 2 * u)


def _value_noise(p: np.ndarray, seed: int) -> np.ndarray:
    """Smooth noise in −1 … 1 at points (N, 3), unit cell 1."""
    rng = np.random.default_rng(seed)
    table = rng.uniform(-1, 1, (16, 16, 16))
    i = np.floor(p).astype(int)
    f = p - i
    f = f * f * (3 - 2 * f)
    out = 0.0
    for dx in (0, 1):
        for dy in (0, 1):
            for dz in (0, 1):
                w = ((f[:, 0] if dx else 1 - f[:, 0]) * (f[:, 1] if dy else 1 - f[:, 1])
                     * (f[:, 2] if dz else 1 - f[:, 2]))
                j = (i + np.array([dx, dy, dz])) % 16
                out = out + w * table[j[:, 0], j[:, 1], j[:, 2]]
    return out


def dress(body: Body, look: Look, seed: int = 0) -> Dressed:
    """Put clothes on a body."""
    v = body.vertices.astype(float)
    names = body.names

    def share(*stems: str, side: str = "") -> np.ndarray:
        pick = [i for i, n in enumerate(names) if n.startswith(stems) and n.endswith(side)]
        return body.weights[:, pick].sum(1)

    cut = np.zeros((len(v), 4))
    part = np.zeros((len(v), 4))
    arm_m = leg_m = ankle_m = 0.0
    hip_z = body.head("upperleg01.L")[2]
    for side in SIDES:
        shoulder, elbow = body.head(f"upperarm01.{side}"), body.head(f"lowerarm01.{side}")
        wrist, ankle = body.head(f"wrist.{side}"), body.head(f"foot.{side}")
        upper = np.linalg.norm(elbow - shoulder)
        arm_m = upper + np.linalg.norm(wrist - elbow)
        u, f = (elbow - shoulder) / upper, (wrist - elbow) / np.linalg.norm(wrist - elbow)
        fore = share("lowerarm", "wrist", "finger", side=side)
        along = np.where(fore > 0.5, upper + (v - elbow) @ f, (v - shoulder) @ u)
        mine = v[:, 1] * LATERAL[side] > 0.0
        arm = share("upperarm", "lowerarm", "wrist", "finger", side=side)
        cut[:, 0] = np.where(mine & (arm > 0.25), np.maximum(along, 0.0), cut[:, 0])
        leg_m = hip_z - body.head(f"lowerleg01.{side}")[2]
        ankle_m = hip_z - ankle[2]
        leg_m = ankle_m
    leg = share("upperleg", "lowerleg", "foot", "toes")
    cut[:, 1] = np.where(leg > 0.2, np.maximum(hip_z - v[:, 2], 0.0), 0.0)
    neck_z = body.head("neck01")[2]
    torso_m = neck_z - hip_z
    waist = hip_z + 0.17 * torso_m / 0.55
    cut[:, 2] = v[:, 2] - waist
    # The collar lies lower in front than behind.
    collar = neck_z + 0.02 - 0.16 * np.clip(v[:, 0] - body.head("neck01")[0], -0.1, 0.16)
    cut[:, 3] = collar - v[:, 2]

    head = share("head", "neck03")
    crown = v[head > 0.5]
    top_z, eye_z = crown[:, 2].max(), crown[:, 2].max() - 0.52 * np.ptp(crown[:, 2])
    nose_x, mid_x = crown[:, 0].max(), 0.5 * (crown[:, 0].max() + crown[:, 0].min())
    tall = top_z - eye_z
    ahead = (v[:, 0] - mid_x) / (nose_x - mid_x)
    line = eye_z + tall * (0.62 * np.clip(ahead, -1, 1) + 0.02)
    if look.hair in ("long", "bun"):
        line = np.where(ahead < 0.1, line - 0.35 * tall, line)
    part[:, 0] = np.where(head > 0.4, (v[:, 2] - line) / 0.02, -1.0)
    part[:, 1] = share("foot", "toes") + 0.6 * (cut[:, 1] > ankle_m)
    part[:, 2] = share("wrist", "finger")
    part[:, 3] = np.where(share("head", "neck02", "neck03") > 0.5, 1.0, 0.0)

    normals = _rest_normals(v, body.faces)
    off = np.zeros(len(v))
    bumpy = 1.0 + 0.45 * _value_noise(v * [9, 9, 7] + 3.7, seed)
    torso = 1 - np.clip(share("upperarm", "lowerarm", "wrist", "finger") + leg
                        + share("head", "neck"), 0, 1)
    sleeve_m, leg_cut_m = look.sleeve * arm_m, look.leg * ankle_m
    shirt = torso * _smooth(cut[:, 3], 0.0, 0.05) * _smooth(cut[:, 2], -0.02, 0.02)
    sleeve = _smooth(sleeve_m - cut[:, 0], -0.004, 0.01) * (cut[:, 0] > 0) * (sleeve_m > 0.02)
    hang = 0.55 + 0.45 * _smooth(cut[:, 3], 0.05, 0.35)
    off += look.loose_m * bumpy * np.maximum(shirt * hang, 0.7 * sleeve)
    shorts = _smooth(leg_cut_m - cut[:, 1], -0.004, 0.012) * np.where(cut[:, 1] > 0, 1.0, 0.0)
    shorts = np.maximum(shorts, torso * _smooth(-cut[:, 2], -0.02, 0.02) * 0.6)
    tight = 0.25 if look.leg > 0.6 else 0.75
    off += tight * look.loose_m * bumpy * shorts + 0.002 * shorts
    off += 0.008 * _smooth(part[:, 1], 0.45, 0.7) * (cut[:, 1] > 0.96 * ankle_m)
    puff = {"short": 0.010, "cap": 0.016, "long": 0.020, "bun": 0.014}[look.hair]
    off += puff * _smooth(part[:, 0], -0.2, 1.2) * (part[:, 3] > 0.5)
    off *= 1 - _smooth(part[:, 2], 0.3, 0.6)
    rest = (v + off[:, None] * normals).astype("f4")
    worn = Worn(look, float(arm_m), float(leg_m), float(ankle_m))
    return Dressed(worn, rest, normals.astype("f4"), body.weights, cut.astype("f4"),
                   part.astype("f4"), body.faces)


def _rest_normals(v: np.ndarray, faces: np.ndarray) -> np.ndarray:
    n = np.zeros_like(v)
    face = np.cross(v[faces[:, 1]] - v[faces[:, 0]], v[faces[:, 2]] - v[faces[:, 0]])
    for k in range(3):
        np.add.at(n, faces[:, k], face)
    return n / (np.linalg.norm(n, axis=1, keepdims=True) + 1e-12)
