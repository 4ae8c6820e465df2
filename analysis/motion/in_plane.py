"""From the picture into the athlete's frame, seen square on, and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray, IntArray
from analysis.motion.edges import Silhouette
from analysis.motion.level import Level
from analysis.motion.plane import to_picture, to_place
from analysis.motion.tilt import Tilt
from analysis.motion.view import View, from_middle_plane
from analysis.pose.track import Facing

#: Frames worked on at once: a clip may be long.
_BLOCK = 500


@dataclass(frozen=True)
class Camera:
    """How the camera stands to the athlete's plane.

    Attributes
    ----------
    level : Level
        Turns its pictures level and square on.
    tilt : Tilt
        The roll that is left in them.
    view : View
        Where it stands, in px of the turned pictures.
    origin_px : array [shape=(T, 2)]
        Where it sees the origin of the athlete's frame, in the turned pictures.
    facing : "left" or "right"
    """

    level: Level
    tilt: Tilt
    view: View
    origin_px: FloatArray
    facing: Facing


def in_picture(place: FloatArray, out: FloatArray, camera: Camera) -> FloatArray:
    """Return near joints of the athlete's frame [shape=(T, J, 2)] in the picture, px.

    Undoes `to_place` and what was done before it.
    """
    origin = camera.origin_px[:, None, :]
    middle = to_picture(place, origin, camera.tilt.deg, camera.facing)
    return camera.level.back(from_middle_plane(middle, out, camera.view))


def outlines_in_plane(
    outline_px: FloatArray, outlined: IntArray, out: FloatArray, camera: Camera
) -> Silhouette:
    """Return the outlines in the athlete's frame, with where near joints are seen against them.

    Of a long clip they are among the largest of all, and the models take turns: frames without one
    take no room.

    Parameters
    ----------
    outline_px : array [shape=(N, P, 2)]
        In the picture, NaN where there is none.
    outlined : array [shape=(N,)]
        The frames that they are of, rising.
    out : array [shape=(T, 6)]
        How far the joints of ``FITTED`` stand out of the middle plane, trunks.
    camera : Camera
    """
    origin, tilt_deg, facing = camera.origin_px, camera.tilt.deg, camera.facing
    found = _found(outline_px)
    frames = outlined[found]
    placed = np.empty((len(frames), *outline_px.shape[1:]))
    for start in range(0, len(frames), _BLOCK):
        part = slice(start, start + _BLOCK)
        flat = camera.level.put(outline_px[found[part]])
        placed[part] = to_place(flat, origin[frames[part], None], tilt_deg, facing)
    side = to_place(camera.view.side_px, origin, tilt_deg, facing)
    return Silhouette(frames, placed, out / camera.view.distance_trunks, side)


def _found(outline_px: FloatArray) -> IntArray:
    """Return which outlines [shape=(N, P, 2)] are known."""
    parts = [
        start + np.flatnonzero(np.isfinite(outline_px[start : start + _BLOCK]).all(axis=(1, 2)))
        for start in range(0, len(outline_px), _BLOCK)
    ]
    return np.concatenate([np.zeros(0, np.intp), *parts])


def spread_out(values: FloatArray, frames: IntArray, count: int) -> FloatArray:
    """Return values of some frames as values of all `count` of them, NaN elsewhere."""
    found = np.full((count, *values.shape[1:]), np.nan)
    found[frames] = values
    return found
