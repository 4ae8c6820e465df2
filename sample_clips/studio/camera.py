"""A phone on a tripod, or in a hand: where it stands and where it sees things."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Camera:
    """A pinhole camera beside the athlete.

    Attributes
    ----------
    size_px : (width, height)
    facing : side of the picture the feet are on, "left" or "right"
    distance_m : from the aim point, measured in the horizontal plane
    height_m : over the floor or the water
    aim_m : (x, z) of the point in the middle plane that is seen at the picture's centre
    yaw_deg : 0 looks square on to the middle plane; + stands nearer to the feet and looks back
    tilt_deg : roll; + upright edges lean to the right in the picture
    pitch_deg : + looks down; None = whatever it takes to have the aim point in the centre
    view_deg : horizontal field of view
    """

    size_px: tuple[int, int]
    facing: str
    distance_m: float
    height_m: float
    aim_m: tuple[float, float]
    yaw_deg: float = 0.0
    tilt_deg: float = 0.0
    pitch_deg: float | None = None
    view_deg: float = 58.0

    @property
    def near(self) -> str:
        """Side of the athlete's body that is nearer: "L" or "R"."""
        return "R" if self.facing == "right" else "L"

    @property
    def focal_px(self) -> float:
        """Focal length, px."""
        return 0.5 * self.size_px[0] / float(np.tan(np.radians(self.view_deg) / 2))

    @property
    def down_deg(self) -> float:
        """Pitch, + down, deg."""
        if self.pitch_deg is not None:
            return self.pitch_deg
        return float(np.degrees(np.arctan2(self.height_m - self.aim_m[1], self.distance_m)))

    def place(self) -> tuple[np.ndarray, np.ndarray]:
        """Rotation (3, 3), world → camera (x right, y down, z ahead), and position (3,) m."""
        s = 1.0 if self.facing == "right" else -1.0  # + : stands at −y and looks along +y
        yaw, down = np.radians(self.yaw_deg), np.radians(self.down_deg)
        ahead = np.array([-np.sin(yaw), s * np.cos(yaw), 0.0])
        stand = np.array([self.aim_m[0], 0.0, 0.0]) - self.distance_m * ahead
        stand[2] = self.height_m
        look = np.cos(down) * ahead - np.array([0, 0, np.sin(down)])
        right = np.cross(look, [0.0, 0, 1])
        right /= np.linalg.norm(right)
        below = np.cross(look, right)
        roll = np.radians(self.tilt_deg)
        x = np.cos(roll) * right - np.sin(roll) * below
        y = np.sin(roll) * right + np.cos(roll) * below
        # Turning the camera counter-clockwise turns the picture clockwise.
        return np.stack([x, y, look]), stand

    def project(self, points: np.ndarray) -> np.ndarray:
        """World points (…, 3) m to pixels (…, 2); pixel centres are at whole numbers."""
        rotation, stand = self.place()
        c = (points - stand) @ rotation.T
        centre = 0.5 * np.array(self.size_px) - 0.5
        return centre + self.focal_px * c[..., :2] / c[..., 2:]

    def clip_matrix(self, near_m: float = 0.3, far_m: float = 400.0) -> np.ndarray:
        """World → OpenGL clip coordinates, (4, 4) float32."""
        rotation, stand = self.place()
        w, h = self.size_px
        view = np.eye(4)
        view[:3, :3] = rotation
        view[:3, 3] = -rotation @ stand
        f = self.focal_px
        lens = np.zeros((4, 4))
        lens[0, 0], lens[1, 1] = 2 * f / w, -2 * f / h
        lens[2, 2] = (far_m + near_m) / (far_m - near_m)
        lens[2, 3] = -2 * far_m * near_m / (far_m - near_m)
        lens[3, 2] = 1.0
        return (lens @ view).astype(np.float32)
