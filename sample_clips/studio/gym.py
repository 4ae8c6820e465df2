"""A rowing machine of no particular make, and the room it stands in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import mesh
from .dress import linear
from .mesh import Mesh
from .rig import Machine, Pose
from .rotations import pitch


@dataclass(frozen=True)
class Paint:
    """Colours of the machine."""

    frame: str = "#5b6066"
    rail: str = "#b9bdc0"
    dark: str = "#1d1f22"
    accent: str = "#c46a2a"


def grip_m(pose: Pose) -> np.ndarray:
    """Middle of the handle, (T, 3) m: where the fingers close."""
    hold = []
    for side in ("L", "R"):
        knuckle = pose.at(f"finger3-1.{side}")
        tip = pose.at(f"finger3-3.{side}")
        hold.append(0.45 * knuckle + 0.55 * tip)
    mid = 0.5 * (hold[0] + hold[1])
    mid[:, 1] = 0.0
    return mid


def machine_frame(machine: Machine, seat_top_m: float, rear_x_m: float, front_x_m: float,
                  paint: Paint) -> Mesh:
    """Everything that does not move; the handle comes forward as far as front_x_m."""
    frame, rail, dark, accent = (linear(getattr(paint, k))
                                 for k in ("frame", "rail", "dark", "accent"))
    bx, bz = machine.ball_m
    top = seat_top_m - 0.055
    end = rear_x_m - 0.28
    fx = front_x_m - 0.16
    parts = [
        mesh.box(((bx + end) / 2 + 0.02, 0, top - 0.045), (bx - end, 0.075, 0.07), frame),
        mesh.box(((bx + end) / 2 + 0.02, 0, top - 0.006), (bx - end, 0.055, 0.012), rail,
                 mesh.METAL),
        mesh.box((end + 0.10, 0, (top - 0.05) / 2 + 0.01), (0.06, 0.06, top - 0.07), frame),
        mesh.box((end + 0.10, 0, 0.02), (0.07, 0.50, 0.04), dark),
        mesh.box((fx + 0.64, 0, 0.02), (0.08, 0.56, 0.04), dark),
        mesh.rod((fx + 0.64, 0, 0.03), (fx + 0.52, 0, 0.36), 0.035, frame),
        mesh.rod((bx - 0.02, 0, top - 0.05), (fx + 0.42, 0, 0.36), 0.040, frame),
    ]
    # The wheel in its cage
    wheel = np.array([fx + 0.52, 0.0, 0.42])
    side = np.array([0.0, 1.0, 0.0])
    parts += [
        mesh.rod(wheel - 0.085 * side, wheel + 0.085 * side, 0.255, dark, sides=40),
        mesh.rod(wheel - 0.092 * side, wheel + 0.092 * side, 0.17, frame, sides=32),
        mesh.rod(wheel - 0.097 * side, wheel + 0.097 * side, 0.06, accent, sides=24),
        mesh.box((fx + 0.31, 0, 0.55), (0.26, 0.05, 0.05), frame, turn=pitch(-12.0)),
        mesh.rod((fx + 0.36, 0, 0.58), (fx + 0.24, 0, 0.98), 0.016, frame),
        mesh.box((fx + 0.21, 0, 1.03), (0.035, 0.17, 0.14), dark, turn=pitch(20.0)),
    ]
    # Footboards, straps and heel cups; the sole lies on the board.
    tilt = pitch(-machine.board_deg)
    for y in (-machine.foot_y_m, machine.foot_y_m):
        middle = np.array([bx - 0.075, y, bz - 0.068]) + tilt @ [0, 0, -0.042]
        parts += [
            mesh.box(middle, (0.31, 0.115, 0.018), dark, turn=tilt),
            mesh.box(middle + tilt @ [0.045, 0, 0.055], (0.035, 0.125, 0.075), accent, turn=tilt),
            mesh.box(middle + tilt @ [-0.15, 0, 0.02], (0.015, 0.10, 0.05), frame, turn=tilt),
        ]
    parts.append(mesh.rod((bx + 0.02, -machine.foot_y_m - 0.05, bz - 0.10),
                          (bx + 0.02, machine.foot_y_m + 0.05, bz - 0.10), 0.018, frame))
    return mesh.join(parts)


def seat_mesh(seat_top_m: float, paint: Paint) -> Mesh:
    """The sliding seat, hips over x = 0."""
    dark, frame = linear(paint.dark), linear(paint.frame)
    return mesh.join([
        mesh.box((-0.02, 0, seat_top_m - 0.018), (0.25, 0.30, 0.036), dark),
        mesh.box((-0.13, 0, seat_top_m + 0.004), (0.05, 0.28, 0.035), dark),
        mesh.box((-0.02, 0, seat_top_m - 0.045), (0.16, 0.10, 0.03), frame),
    ])


def handle_mesh(paint: Paint, half_m: float) -> Mesh:
    """The handle, its middle at the origin."""
    dark = linear(paint.dark)
    return mesh.join([
        mesh.rod((0, -half_m, 0), (0, half_m, 0), 0.016, dark),
        mesh.box((0.02, 0, 0), (0.05, 0.05, 0.03), dark),
    ])


def chain_mesh(a, b) -> Mesh:
    """The chain from its port to the handle."""
    return mesh.rod(a, b, 0.0055, linear("#8d8f92"), mesh.METAL, sides=6)


@dataclass(frozen=True)
class Room:
    """A boathouse room: how far the wall is and what it is made of."""

    wall_m: float = 2.6
    wall: str = "plaster"
    wall_colour: str = "#b9b3a4"
    floor: str = "mats"
    floor_colour: str = "#55585a"
    windows: int = 1
    bars: bool = False
    seed: int = 0


def floor_mesh(room: Room, away: float, deep_m: float = 0.8) -> Mesh:
    """The part of the floor on which shadows fall, a hair above the rest."""
    kind = {"mats": mesh.MATT, "planks": mesh.PLANKS}[room.floor]
    return mesh.plate((-2.5, -0.7 * away, 0.0015), (3.9, 0, 0), (0, away * (0.7 + deep_m), 0),
                      linear(room.floor_colour), kind)


def room_mesh(room: Room, away: float) -> Mesh:
    """The room; `away` is +1 when the wall is on the athlete's left (+y), else −1."""
    rng = np.random.default_rng(room.seed)
    floor_kind = {"mats": mesh.MATT, "planks": mesh.PLANKS}[room.floor]
    wall_kind = {"plaster": mesh.PLASTER, "brick": mesh.BRICK}[room.wall]
    y = away * room.wall_m
    wide, high = 16.0, 4.2
    parts = [
        mesh.plate((-9, y - away * 12, 0), (wide + 2, 0, 0), (0, away * 12, 0),
                   linear(room.floor_colour), floor_kind),
        mesh.plate((-9, y, 0), (wide + 2, 0, 0), (0, 0, high), linear(room.wall_colour), wall_kind),
        mesh.box((-1, y - away * 0.01, 0.06), (wide, 0.02, 0.12), linear("#6d675c")),
    ]
    place = rng.uniform(-4.4, -3.4)
    for _ in range(room.windows):
        parts.append(_window(place, y, away, rng))
        place += rng.uniform(2.2, 3.4)
    door_x = rng.choice([-3.1, 1.3]) + rng.uniform(-0.3, 0.3)
    frame = linear("#d9d5c8")
    parts += [
        mesh.box((door_x, y - away * 0.02, 1.02), (0.92, 0.05, 2.04), linear(
            rng.choice(["#7a5a3c", "#41586b", "#8a8d86"])), mesh.MATT),
        mesh.box((door_x - 0.49, y - away * 0.03, 1.03), (0.07, 0.07, 2.08), frame),
        mesh.box((door_x + 0.49, y - away * 0.03, 1.03), (0.07, 0.07, 2.08), frame),
        mesh.box((door_x, y - away * 0.03, 2.10), (1.05, 0.07, 0.07), frame),
    ]
    for _ in range(3):
        x, z = rng.uniform(-3.2, 1.4), rng.uniform(1.3, 1.9)
        colour = linear(rng.choice(["#d8c9a0", "#9fb4c0", "#c98f7a", "#e3e0d8", "#6f8a6b"]))
        size = rng.uniform(0.3, 0.8), rng.uniform(0.3, 0.6)
        parts.append(mesh.box((x, y - away * 0.015, z), (size[0], 0.02, size[1]), colour))
        parts.append(mesh.box((x, y - away * 0.027, z + 0.3 * size[1]),
                              (0.7 * size[0], 0.006, 0.12 * size[1]), linear("#4a4a4a")))
    if room.bars:
        x0 = rng.uniform(-2.4, -0.8)
        wood = linear("#a57f4e")
        parts += [mesh.box((x0 + dx, y - away * 0.08, 1.2), (0.05, 0.10, 2.4), wood)
                  for dx in (0.0, 0.95)]
        parts += [mesh.rod((x0, y - away * 0.12, z), (x0 + 0.95, y - away * 0.12, z), 0.018, wood,
                           sides=8) for z in np.arange(0.2, 2.4, 0.2)]
    return mesh.join(parts)


def _window(x: float, y: float, away: float, rng: np.random.Generator) -> Mesh:
    w, h, sill = rng.uniform(0.9, 1.4), rng.uniform(0.9, 1.3), rng.uniform(1.0, 1.3)
    frame, glass = linear("#e8e6df"), tuple(1.25 * v for v in linear("#dfe9ef"))
    parts = [mesh.box((x, y - away * 0.012, sill + h / 2), (w, 0.02, h), glass)]
    parts += [mesh.box((x + dx * w / 2, y - away * 0.03, sill + h / 2), (0.06, 0.06, h + 0.06),
                       frame) for dx in (-1, 0, 1)]
    parts += [mesh.box((x, y - away * 0.03, sill + z), (w + 0.06, 0.06, 0.06), frame)
              for z in (0.0, h)]
    return mesh.join(parts)
