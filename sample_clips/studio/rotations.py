"""Rotation matrices in batches; every matrix is (T, 3, 3), every vector (T, 3) or (3,)."""

from __future__ import annotations

import numpy as np


def unit(v: np.ndarray) -> np.ndarray:
    """Vectors of length 1 along the last axis."""
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def about(axis: np.ndarray, angle_rad: np.ndarray) -> np.ndarray:
    """Rotation about an axis (Rodrigues)."""
    angle = np.asarray(angle_rad, float)
    axis = np.broadcast_to(unit(np.asarray(axis, float)), (*angle.shape, 3))
    zero = np.zeros(angle.shape)
    x, y, z = axis[..., 0], axis[..., 1], axis[..., 2]
    k = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], -1).reshape(*angle.shape, 3, 3)
    s, c = np.sin(angle)[..., None, None], np.cos(angle)[..., None, None]
    return np.eye(3) + s * k + (1 - c) * (k @ k)


def pitch(angle_deg: np.ndarray) -> np.ndarray:
    """Rotation in the sagittal plane, + forward (z turns towards x)."""
    return about(np.array([0.0, 1, 0]), np.radians(angle_deg))


def frame(direction: np.ndarray, side: np.ndarray) -> np.ndarray:
    """Orthonormal columns: the direction, the part of `side` across it, and their product."""
    d = unit(np.asarray(direction, float))
    s = np.asarray(side, float)
    s = unit(s - (s * d).sum(-1, keepdims=True) * d)
    d, s = np.broadcast_arrays(d, s)
    return np.stack([d, s, np.cross(d, s)], -1)


def turn_onto(rest_dir, rest_side, direction, side) -> np.ndarray:
    """Rotation that carries the rest frame onto the wanted frame."""
    return frame(direction, side) @ np.swapaxes(frame(rest_dir, rest_side), -1, -2)


def swing(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Smallest rotation that carries direction a to direction b."""
    a, b = unit(a), unit(b)
    axis = np.cross(a, b)
    s = np.linalg.norm(axis, axis=-1)
    angle = np.arctan2(s, (a * b).sum(-1))
    axis = np.where(s[..., None] > 1e-9, axis, np.array([0.0, 0, 1]))
    return about(axis, angle)


def twist_rad(axis: np.ndarray, v: np.ndarray, w: np.ndarray) -> np.ndarray:
    """Angle about `axis` from v to w, both seen along the axis, rad."""
    axis = unit(axis)
    v = v - (v * axis).sum(-1, keepdims=True) * axis
    w = w - (w * axis).sum(-1, keepdims=True) * axis
    return np.arctan2((np.cross(v, w) * axis).sum(-1), (v * w).sum(-1))


def apply(rotation: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Rotate vectors."""
    return np.einsum("...ij,...j->...i", rotation, v)
