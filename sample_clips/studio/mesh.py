"""Triangle meshes of simple things."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

# What a surface is made of; the shader draws each in its own way.
PLAIN, MATT, PLANKS, PLASTER, BRICK, WATER, GRASS, METAL, LEAVES = range(9)


@dataclass(frozen=True)
class Mesh:
    """Corners of triangles, three rows each: position, normal, colour (N, 3) and kind (N,)."""

    position: np.ndarray
    normal: np.ndarray
    colour: np.ndarray
    kind: np.ndarray

    def packed(self) -> np.ndarray:
        """Interleaved float32 rows (N, 10) for the graphics buffer."""
        return np.concatenate(
            [self.position, self.normal, self.colour, self.kind[:, None]], 1).astype("f4")

    def moved(self, rotation: np.ndarray | None = None, shift=(0.0, 0.0, 0.0)) -> Mesh:
        """A rotated, then shifted copy."""
        r = np.eye(3) if rotation is None else rotation
        return Mesh(self.position @ r.T + np.asarray(shift), self.normal @ r.T,
                    self.colour, self.kind)


def join(parts: Iterable[Mesh]) -> Mesh:
    """One mesh of many."""
    parts = list(parts)
    return Mesh(*(np.concatenate([getattr(p, f) for p in parts])
                  for f in ("position", "normal", "colour", "kind")))


def triangles(points: np.ndarray, normals: np.ndarray | None, colour, kind: int = PLAIN) -> Mesh:
    """Mesh of corner points (3F, 3); flat normals if none are given."""
    points = np.asarray(points, float)
    if normals is None:
        tri = points.reshape(-1, 3, 3)
        n = np.cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])
        n /= np.linalg.norm(n, axis=1, keepdims=True) + 1e-12
        normals = np.repeat(n, 3, 0)
    count = len(points)
    return Mesh(points, normals, np.tile(np.asarray(colour, float), (count, 1)),
                np.full(count, float(kind)))


def box(centre, size, colour, kind: int = PLAIN, turn: np.ndarray | None = None) -> Mesh:
    """Cuboid with edge lengths `size`, turned about its centre."""
    half = np.asarray(size, float) / 2
    corners = np.array([[i, j, k] for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)]) * half
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    rows = [corners[i] for a, b, c, d in quads for i in (a, b, c, a, c, d)]
    return triangles(np.array(rows), None, colour, kind).moved(turn, centre)


def rod(a, b, radius_m, colour, kind: int = PLAIN, sides: int = 14,
        end_radius_m: float | None = None) -> Mesh:
    """Round bar from a to b with closed ends."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    d = b - a
    d = d / (np.linalg.norm(d) + 1e-12)
    u = np.cross(d, [0, 0, 1.0] if abs(d[2]) < 0.9 else [1.0, 0, 0])
    u /= np.linalg.norm(u)
    v = np.cross(d, u)
    ang = np.linspace(0, 2 * np.pi, sides + 1)
    ring = np.cos(ang)[:, None] * u + np.sin(ang)[:, None] * v
    r2 = radius_m if end_radius_m is None else end_radius_m
    low, high = a + radius_m * ring, b + r2 * ring
    pts, nrm = [], []
    for i in range(sides):
        pts += [low[i], low[i + 1], high[i + 1], low[i], high[i + 1], high[i]]
        nrm += [ring[i], ring[i + 1], ring[i + 1], ring[i], ring[i + 1], ring[i]]
        pts += [a, low[i + 1], low[i], b, high[i], high[i + 1]]
        nrm += [-d] * 3 + [d] * 3
    return triangles(np.array(pts), np.array(nrm), colour, kind)


def ball(centre, radius_m, colour, kind: int = PLAIN, rings: int = 8) -> Mesh:
    """Sphere; a radius of three numbers makes an ellipsoid."""
    lat = np.linspace(-np.pi / 2, np.pi / 2, rings + 1)
    lon = np.linspace(0, 2 * np.pi, 2 * rings + 1)
    p = np.stack([np.cos(lat)[:, None] * np.cos(lon), np.cos(lat)[:, None] * np.sin(lon),
                  np.sin(lat)[:, None] * np.ones_like(lon)], -1)
    return sheet(p * np.asarray(radius_m), colour, kind, normals=p).moved(shift=centre)


def sheet(grid: np.ndarray, colour, kind: int = PLAIN, normals: np.ndarray | None = None) -> Mesh:
    """Surface through a grid of points (R, C, 3)."""
    if normals is None:
        du, dv = np.gradient(grid, axis=0), np.gradient(grid, axis=1)
        normals = np.cross(du, dv)
        normals /= np.linalg.norm(normals, axis=-1, keepdims=True) + 1e-12

    def corners(a: np.ndarray) -> np.ndarray:
        p, q, r, s = a[:-1, :-1], a[1:, :-1], a[1:, 1:], a[:-1, 1:]
        return np.stack([p, q, r, p, r, s], 2).reshape(-1, 3)

    return triangles(corners(grid), corners(normals), colour, kind)


def plate(corner, along, across, colour, kind: int = PLAIN) -> Mesh:
    """Flat parallelogram from one corner and two edges."""
    c, u, v = (np.asarray(x, float) for x in (corner, along, across))
    return triangles(np.array([c, c + u, c + u + v, c, c + u + v, c + v]), None, colour, kind)
