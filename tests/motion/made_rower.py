"""A planar rower who keeps every rule of the fit exactly; made, not measured."""

from __future__ import annotations

import numpy as np

from analysis.motion import angles
from analysis.motion.fit import FITTED

TRUNK, THIGH, SHANK, UPPER_ARM, FOREARM = 110.0, 95.0, 92.0, 70.0, 60.0
SEAT_HEIGHT = 20.0


def planar_rower(t_s: np.ndarray, period_s: float = 2.5) -> np.ndarray:
    """Joints (T, 6, 2) of a rower who keeps every rule of the fit exactly (made here)."""
    turn = 2 * np.pi * t_s / period_s
    hip = np.stack([-125 + 45 * np.cos(turn), np.full_like(turn, SEAT_HEIGHT)], axis=1)
    ankle = np.zeros_like(hip)
    reach = np.linalg.norm(ankle - hip, axis=1)
    at_hip = np.arccos((THIGH**2 + reach**2 - SHANK**2) / (2 * THIGH * reach))
    rise = np.arctan2(-hip[:, 1], -hip[:, 0]) + at_hip
    knee = hip + THIGH * np.stack([np.cos(rise), np.sin(rise)], axis=1)
    lean = np.radians(8 + 20 * np.cos(turn))
    shoulder = hip + TRUNK * np.stack([np.sin(lean), np.cos(lean)], axis=1)
    hang = 1 + 0.5 * np.cos(turn)
    elbow = shoulder + UPPER_ARM * np.stack([np.sin(hang), -np.cos(hang)], axis=1)
    wrist = elbow + FOREARM * np.stack([np.ones_like(turn), 0.2 * np.sin(turn)], axis=1)
    wrist = elbow + (wrist - elbow) / np.linalg.norm(wrist - elbow, axis=1)[:, None] * FOREARM
    return np.stack([ankle, knee, hip, shoulder, elbow, wrist], axis=1)


def uneven_times(frames: int = 240) -> np.ndarray:
    return np.cumsum(np.random.default_rng(1).uniform(0.028, 0.038, frames))


def knee_of(place: np.ndarray) -> np.ndarray:
    ankle, knee, hip = (place[:, FITTED.index(n)] for n in ("ankle", "knee", "hip"))
    return angles.knee_deg(hip, knee, ankle)
