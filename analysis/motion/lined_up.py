"""How square-on the camera stands, told by level edges that run along the machine.

The rail, the machine's frame, seams of the floor and the wall behind run the way the athlete rows.
Seen square on they are parallel in the picture; from nearer to the feet, those below the camera and
those above it run together towards the back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion.level import Level
from analysis.motion.tilt import Tilt
from analysis.motion.view import UNSEEN_YAW, Yaw
from analysis.pose.track import Facing

#: How true level edges are, and how well their ends are placed.
TRUE_DEG, END_PX = 0.5, 0.4
#: Machines are lined up with the room by eye (common practice).
LINED_UP_SE_DEG = 2.0
#: Edges off by more than so many of their errors count less and less.
_STRAY = 2.0
#: Fewer may be shadows, or parts of the machine that rise.
_LEAST = 8
#: The machine's own edges contradict the room's when so many times as many agree on something else.
_CONTRADICTS = 1.5
#: Directions tried first, degrees, and how usual they are; then only edges count, as good as.
_TRIED_DEG, _USUAL_DEG, _HELD_SE_DEG = np.arange(-24.0, 25.0, 3.0), 8.0, 20.0
_ROUNDS, _STEP = 8, 1e-4
#: Where the machine's own edges are, trunk lengths from the hip: from below the seat to the floor,
#: and so far along.
_BELOW_HIP, _ALONG = (0.1, 1.1), 3.0


def yaw_by_edges(
    edges_px: FloatArray, hip_px: FloatArray, unit: float, level: Level, tilt: Tilt, facing: Facing
) -> Yaw:
    """Return what level edges tell of where the camera stands.

    The room's edges have a say as long as the machine's own do not contradict them.

    Parameters
    ----------
    edges_px : array [shape=(E, 4)]
        x0, y0, x1, y1 of each in the picture, px.
    hip_px : array [shape=(2,)]
        The athlete's place in the level picture, px.
    unit : float
        Length of the trunk, px.
    level : Level
        What puts the camera level.
    tilt : Tilt
        The roll that is still in the level picture.
    facing : "left" or "right"

    Returns
    -------
    Yaw
        Of no edges: 0, with an error that leaves it open.
    """
    ends_px = level.put(edges_px.reshape(-1, 2, 2))
    rays = (ends_px - level.centre_px) / level.focal_px
    run = np.linalg.norm(ends_px[:, 1] - ends_px[:, 0], axis=1)
    if len(rays) < _LEAST:
        return UNSEEN_YAW
    sd = np.hypot(math.radians(TRUE_DEG), math.sqrt(2.0) * END_PX / run)
    held = np.array([math.radians(tilt.deg), 0.0, 0.0])
    known = math.radians(tilt.se_deg), level.pitch_se_rad, math.radians(_HELD_SE_DEG)
    edges = _Edges(rays, sd, held, np.array(known))
    machine = _on_machine((ends_px.mean(axis=1) - hip_px) / unit, tilt.deg)
    told = edges.agreed()[1]
    told = Yaw(told.deg, math.hypot(told.se_deg, LINED_UP_SE_DEG))
    own, room = edges.only(machine), edges.only(~machine)
    if min(len(own.rays), len(room.rays)) >= _LEAST:
        (turn, by_own), (room_turn, by_room) = own.agreed(), room.agreed()
        allowed = math.hypot(math.hypot(by_own.se_deg, by_room.se_deg), LINED_UP_SE_DEG)
        apart = abs(by_own.deg - by_room.deg) > 2.0 * allowed
        if apart and own.agreeing(turn) > _CONTRADICTS * own.agreeing(room_turn):
            told = by_own
    return told if facing == "right" else Yaw(-told.deg, told.se_deg)


def _on_machine(from_hip: FloatArray, tilt_deg: float) -> BoolArray:
    """Tell which places [shape=(E, 2), trunk lengths from the hip] are where the machine is."""
    roll = math.radians(tilt_deg)
    along = from_hip @ [math.cos(roll), math.sin(roll)]
    below = from_hip @ [-math.sin(roll), math.cos(roll)]
    low, high = _BELOW_HIP
    return np.asarray((low < below) & (below < high) & (np.abs(along) < _ALONG))


@dataclass(frozen=True)
class _Edges:
    """Level edges, and what else is known of how they are seen.

    `rays` [shape=(E, 2, 2)], the ends' places from the middle of the picture ÷ focal length;
    `sd` [shape=(E,)], how far off they may be, rad; `held` and `held_se` [shape=(3,), rad] of roll,
    pitch and by how much the edges' right ends are nearer: a turn.
    """

    rays: FloatArray
    sd: FloatArray
    held: FloatArray
    held_se: FloatArray

    def only(self, which: BoolArray) -> _Edges:
        """Return some of them."""
        return replace(self, rays=self.rays[which], sd=self.sd[which])

    def agreed(self) -> tuple[FloatArray, Yaw]:
        """Return the turn that they agree on [shape=(3,), rad], and its last part."""
        turn = self._likeliest()
        for _ in range(_ROUNDS):
            off = _off(self.rays, turn)
            moved = [(_off(self.rays, turn + _STEP * axis) - off) / _STEP for axis in np.eye(3)]
            slope = np.stack(moved, axis=1)
            weight = self._counts(off) / self.sd**2
            normal = slope.T @ (slope * weight[:, None]) + np.diag(self.held_se**-2.0)
            pull = slope.T @ (weight * off) + (turn - self.held) / self.held_se**2
            turn = turn - np.linalg.solve(normal, pull)
        se = math.sqrt(np.linalg.inv(normal)[2, 2])
        return turn, Yaw(math.degrees(turn[2]), math.degrees(se))

    def agreeing(self, turn: FloatArray) -> float:
        """Return how many of them agree with a turn."""
        return float(self._counts(_off(self.rays, turn)).sum())

    def _counts(self, off: FloatArray) -> FloatArray:
        """How much each counts [shape=(E,)]: 1 where it is not off, rad, less the further it is."""
        return np.asarray(1.0 / (1.0 + (off / (_STRAY * self.sd)) ** 2))

    def _likeliest(self) -> FloatArray:
        """Return the one of a few turns that most edges agree with [shape=(3,), rad]."""
        tried = self.held + np.radians(_TRIED_DEG)[:, None] * [0.0, 0.0, 1.0]
        off = np.stack([_off(self.rays, turn) for turn in tried])
        cost = _STRAY**2 * np.log1p((off / (_STRAY * self.sd)) ** 2).sum(axis=1)
        return np.asarray(tried[np.argmin(cost + (_TRIED_DEG / _USUAL_DEG) ** 2)])


def _off(rays: FloatArray, turn: FloatArray) -> FloatArray:
    """Return how far edges [shape=(E, 2, 2)] point past where level ones run together, rad [(E,)].

    `turn` is roll, pitch and how much nearer the right end is, rad.
    """
    roll, pitch, nearer = turn
    x, z = math.cos(nearer), -math.sin(nearer)
    y, z = -math.sin(pitch) * z, math.cos(pitch) * z
    x, y = math.cos(roll) * x - math.sin(roll) * y, math.sin(roll) * x + math.cos(roll) * y
    middle, run = rays.mean(axis=1), rays[:, 1] - rays[:, 0]
    towards = np.array([x, y]) - z * middle
    cross = run[:, 0] * towards[:, 1] - run[:, 1] * towards[:, 0]
    return np.asarray(np.arctan(cross / (run * towards).sum(axis=1)))
