"""Somebody who walks through the picture behind the athlete."""

from __future__ import annotations

import numpy as np

from . import rotations as rot
from .body import SIDES, Figure, load_body
from .dress import Look, dress
from .rig import LATERAL, Pose


class Walker:
    """A passer-by; `speed_m_s` + walks towards +x."""

    def __init__(self, figure: Figure, look: Look, y_m: float, speed_m_s: float, seed: int):
        self.body = load_body(figure)
        self.dressed = dress(self.body, look, seed)
        self.y_m, self.speed = y_m, speed_m_s
        self.start_x = -0.6 - 4.0 * speed_m_s

    def load(self, raster, t_s: np.ndarray) -> None:
        """Pose all frames and put the shape on the graphics side."""
        self.person = raster.figure(self.dressed)
        heading = np.zeros_like(t_s) + (0.0 if self.speed > 0 else np.pi)
        facing = rot.about(np.array([0.0, 0, 1]), heading)
        step = 2 * np.pi * abs(self.speed) / 1.25 * t_s
        x = self.start_x + self.speed * t_s
        root = np.stack([x, np.full_like(x, self.y_m), np.zeros_like(x)], -1)
        pose = Pose.start(self.body, facing @ rot.pitch(np.full_like(x, 3.0)), root)
        for side in SIDES:
            s = LATERAL[side]
            phase = step if side == "L" else step + np.pi
            thigh = -22 * np.sin(phase) - 6
            bend = 8 + 50 * np.clip(np.cos(phase), 0, 1) ** 2
            close = rot.about(np.array([1.0, 0, 0]), np.full_like(x, -s * np.radians(5)))
            pose.turn(f"upperleg01.{side}", local=rot.pitch(thigh) @ close)
            pose.turn(f"lowerleg01.{side}", local=rot.pitch(bend))
            hang = rot.about(np.array([1.0, 0, 0]), np.full_like(x, -s * np.radians(36)))
            pose.turn(f"upperarm01.{side}", local=rot.pitch(20 * np.sin(phase)) @ hang)
            pose.turn(f"lowerarm01.{side}", local=rot.pitch(np.full_like(x, -8.0)))
        self.pose = pose.finish()
        sole = -self.body.vertices[:, 2].min() + self.body.head("toes.L")[2]
        lowest = np.minimum(pose.at("toes.L")[:, 2], pose.at("toes.R")[:, 2])
        self.pose.centre[:, :, 2] += sole - lowest

    def things(self, i: int) -> list:
        """What is to be drawn of frame i."""
        return [self.person.pose(self.pose.skin_transforms(i))]
