"""What the scripts that learn of limbs and builds have in common."""

from __future__ import annotations

import zlib
from dataclasses import replace

import numpy as np

from analysis.motion import learned
from analysis.motion.build import BuildWeights
from analysis.pose.track import PoseTrack

#: A limb further off than this was fitted to somebody else, degrees.
ASTRAY_DEG = 12.0
#: Limbs' networks; none of them has seen the clips of its own fold.
FOLDS = 3


def before_pictures(pose: PoseTrack) -> PoseTrack:
    """Return what the first fit is made from."""
    none = pose.pictured_frames[:0]
    return replace(
        pose,
        limb_turned_deg=None,
        pictured_frames=none,
        pictured_ends_px=pose.pictured_ends_px[none],
        pictured_grey=pose.pictured_grey[none],
    )


def untold() -> learned.Learned:
    """Return what ships, but for builds."""
    ships = learned.shipped()
    return replace(ships, build=BuildWeights(ships.build.usual, ships.build.scatter, {}))


def fold_of(clip: str) -> int:
    """Return the fold of a clip, by its name alone."""
    return zlib.crc32(clip.encode()) % FOLDS


def unseen(numbers: learned.Learned, clip: str) -> learned.Learned:
    """Return numbers with those networks alone that were not learned from a clip."""
    own = fold_of(clip)
    return replace(numbers, looks={limb: [nets[own]] for limb, nets in numbers.looks.items()})


def turned_deg(fitted: np.ndarray, true: np.ndarray) -> np.ndarray:
    """Return by how much limbs [shape=(F, 2, 2), px] are to be turned, + clockwise."""
    angles = [np.arctan2(*(ends[:, 1] - ends[:, 0]).T[::-1]) for ends in (true, fitted)]
    return (np.degrees(angles[0] - angles[1]) + 180.0) % 360.0 - 180.0
