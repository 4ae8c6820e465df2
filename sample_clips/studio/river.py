"""A single scull on a river: hull, riggers, oars, water and the far bank."""

from __future__ import annotations

import numpy as np

from . import mesh
from .dress import linear
from .mesh import Mesh
from .motion import BOAT_SEAT_M, SCULL_LOCK_Y_M, lock_place
from .rotations import about
from .shoot import Rower

OUTBOARD_M = 2.0
INBOARD_M = 0.80
SPEED_M_S = 2.9


def hull_mesh(bow_m: float, stern_m: float, colour: str, deck: str) -> Mesh:
    """Hull and decks from bow (−x) to stern, open where the athlete sits."""
    x = np.linspace(bow_m, stern_m, 61)
    u = (x - bow_m) / (stern_m - bow_m)
    half = 0.25 * np.clip(np.sin(np.pi * u), 0, 1) ** 0.62 + 0.012
    top = 0.155 + 0.05 * (2 * u - 1) ** 2
    around = np.linspace(0, np.pi, 13)
    rows = []
    for xi, h, z in zip(x, half, top, strict=True):
        y = h * np.cos(around)
        below = z - (z + 0.09) * np.sin(around) ** 0.75
        rows.append(np.stack([np.full_like(y, xi), y, below], -1))
    shell = mesh.sheet(np.array(rows), linear(colour), mesh.METAL)
    parts = [shell]
    for part in (x < -1.75, x > 0.42):
        edge = np.stack([np.stack([x[part], s * half[part], top[part] + 0.03 * (s == 0)], -1)
                         for s in (-1, 0, 1)], 1)
        parts.append(mesh.sheet(edge, linear(deck), mesh.MATT))
    # Saxboards along the cockpit
    for s in (-1, 1):
        inside = (x > -1.85) & (x < 0.5)
        low = np.stack([x[inside], s * half[inside], top[inside] - 0.01], -1)
        high = low + np.array([0, 0, 0.045])
        parts.append(mesh.sheet(np.stack([low, high], 1), linear(deck), mesh.MATT))
    return mesh.join(parts)


def rigger_mesh(lock_x_m: float, lock_z_m: float) -> Mesh:
    """Both riggers with their pins."""
    tube = linear("#9aa0a6")
    parts = []
    for s in (-1, 1):
        pin = np.array([lock_x_m, s * SCULL_LOCK_Y_M, lock_z_m])
        up = np.array([0, 0, 0.06])
        low = pin - up
        for dx, z in ((-0.35, 0.19), (0.30, 0.19), (0.0, 0.12)):
            parts.append(mesh.rod((lock_x_m + dx, s * 0.24, z), low, 0.011, tube, mesh.METAL))
        parts.append(mesh.rod(low, pin + up, 0.010, tube, mesh.METAL))
        parts.append(mesh.box(pin, (0.045, 0.05, 0.07), linear("#1f2124")))
    return mesh.join(parts)


def oar_mesh(grip: np.ndarray, lock: np.ndarray, feather: float, blade: str) -> Mesh:
    """One scull from the hand through its oarlock to the blade."""
    d = (lock - grip) / np.linalg.norm(lock - grip)
    end, tip = grip - 0.06 * d, lock + OUTBOARD_M * d
    shaft = linear("#26292d")
    parts = [
        mesh.rod(end, grip + 0.10 * d, 0.017, linear("#3f6f8f"), sides=8),
        mesh.rod(grip + 0.10 * d, tip, 0.019, shaft, sides=8),
    ]
    across = np.cross(d, [0, 0, 1.0])
    across /= np.linalg.norm(across)
    upright = np.cross(across, d)
    turned = about(d, np.array(np.radians(82.0) * feather)) @ upright
    u = np.linspace(-0.02, 0.44, 9)
    wide = 0.10 * np.clip(np.sin(np.pi * np.clip((u + 0.06) / 0.54, 0, 1)), 0, 1) ** 0.5
    grid = np.stack([tip + u[:, None] * d + (s * wide)[:, None] * turned for s in (-1, 0, 1)], 1)
    parts.append(mesh.sheet(grid, linear(blade), mesh.MATT))
    return mesh.join(parts)


class Sculler(Rower):
    """An athlete in a single scull; draws the boat instead of a machine."""

    def load(self, raster, t_s: np.ndarray) -> None:
        """Pose all frames and put the shapes on the graphics side."""
        self.pose, self.posture, line = self.rowing.pose(t_s)
        self.feather = np.clip(line.feather, 0, 1)
        low, high = self.rowing.ends_m()
        lock_x = lock_place(low, high) + 0.03
        self.hands = {}
        for side, s in (("L", 1.0), ("R", -1.0)):
            hand = 0.45 * self.pose.at(f"finger3-1.{side}") + 0.55 * self.pose.at(
                f"finger3-3.{side}")
            self.hands[s] = hand
        in_drive = self.feather < 0.05
        work_z = float(np.median(self.hands[1.0][in_drive, 2]))
        # The blade is at the water's surface when the hand is at its working height.
        lock_z = work_z / (1 + INBOARD_M / (OUTBOARD_M + 0.2)) - 0.01
        self.locks = {s: np.array([lock_x, s * SCULL_LOCK_Y_M, lock_z]) for s in (1.0, -1.0)}
        self.person = raster.figure(self.dressed)
        hull = mesh.join([hull_mesh(-4.3, 3.2, self.paint.rail, self.paint.accent),
                          rigger_mesh(lock_x, lock_z)])
        self.hull = raster.solid(hull)
        seat = mesh.box((-0.02, 0, BOAT_SEAT_M - 0.015), (0.22, 0.26, 0.03), linear("#2a2c2f"))
        rail = mesh.box((-0.7, 0, BOAT_SEAT_M - 0.07), (1.3, 0.2, 0.015), linear("#6d7074"))
        self.rail = raster.solid(rail)
        self.seat = raster.solid(seat)
        self.oars = {s: raster.solid(self._oar(s, 0)) for s in (1.0, -1.0)}

    def _oar(self, s: float, i: int) -> Mesh:
        grip = self.hands[s][i] + [0, 0, 0.012 * s]
        return oar_mesh(grip, self.locks[s], float(self.feather[i]), self.paint.frame)

    def things(self, i: int) -> list:
        """What is to be drawn of frame i."""
        transforms = self.pose.skin_transforms(i)
        transforms[:, :, 3] += self.shift.astype("f4")
        self.person.pose(transforms)
        self.seat.place(self.shift + np.array([self.posture.hip_x_m[i], 0, 0]))
        for fixed in (self.hull, self.rail):
            fixed.place(self.shift)
        for s, oar in self.oars.items():
            oar.replace(self._oar(s, i)).place(self.shift)
        return [self.hull, self.rail, self.seat, *self.oars.values(), self.person]


class River:
    """Water around the hull and a bank that glides by."""

    backdrop = ()

    def __init__(self, raster, shot, away: float):
        rng = np.random.default_rng(shot.seed + 5)
        water = mesh.plate((-150, -30 * away, 0), (300, 0, 0), (0, 90 * away, 0),
                           linear("#3c5560"), mesh.WATER)
        self.water = raster.solid(water)
        far = 42.0 * away
        parts = [mesh.plate((-150, far, 0), (300, 0, 0), (0, 9 * away, 2.6), linear("#6f8350"),
                            mesh.GRASS),
                 mesh.plate((-150, far + 9 * away, 2.6), (300, 0, 0), (0, 60 * away, 2.0),
                            linear("#7d8f57"), mesh.GRASS)]
        for _ in range(70):
            x, y = rng.uniform(-110, 90), far + away * rng.uniform(8, 22)
            r = rng.uniform(1.6, 4.2)
            green = linear(rng.choice(["#4d6238", "#5b6f3e", "#3f5634", "#6c7a45"]))
            parts.append(mesh.ball((x, y, 2.6 + 0.8 * r), (r, r, 1.15 * r), green, mesh.LEAVES, 9))
        for _ in range(4):
            x = rng.uniform(-80, 60)
            parts.append(mesh.box((x, far + 12 * away, 5.0), (9, 5, 5), linear("#b7a58c")))
            parts.append(mesh.box((x, far + 12 * away, 7.8), (9.6, 5.6, 1.0), linear("#7a4d3f")))
        self.bank = raster.solid(mesh.join(parts))
        self.water.casts = self.bank.casts = False

    def things(self, now_s: float) -> tuple[list, dict]:
        """What is drawn afresh, and how."""
        way = SPEED_M_S * now_s
        self.bank.place((way, 0, 0))
        return [self.bank, self.water], {"drift": (-way, 0.0), "now_s": now_s}
