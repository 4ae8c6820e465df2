"""Which way segments point: what a build and pictures tell, taken together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.motion.bends import FINER, PART_OF
from analysis.motion.build import TOLD, BuildWeights
from analysis.motion.edges import Silhouette
from analysis.motion.fit import fit_rower
from analysis.motion.learned import shipped
from analysis.motion.motion import SEGMENTS, Setting
from analysis.motion.rules import ENDS, FITTED
from analysis.motion.ways import segment_ways
from analysis.pose.track import Facing, PoseTrack
from tests.motion.made_limbs import made_limbs
from tests.motion.made_rower import planar_rower

FRAMES = 24
TRUNK = list(SEGMENTS).index("trunk")
SHANK = list(SEGMENTS).index("shank")


def unpictured(facing: Facing = "right") -> PoseTrack:
    """A clip of which no pictures of limbs were kept."""
    pose = made_limbs(frames=FRAMES, facing=facing).pose
    none = pose.pictured_frames[:0]
    return replace(
        pose,
        pictured_frames=none,
        pictured_ends_px=pose.pictured_ends_px[none],
        pictured_grey=pose.pictured_grey[none],
    )


def turned_deg(
    pose: PoseTrack, where: Setting, turn: dict[str, float], frames: int = FRAMES
) -> np.ndarray:
    """By how much ways differ from the fit, + clockwise [shape=(T, S), deg]; NaN without."""
    t_s = np.arange(frames) / 10.0
    rower = fit_rower(t_s, planar_rower(t_s)[None], np.full((1, frames, 6), 2.0))
    weights = {}
    for name, deg in turn.items():
        weights[name] = np.zeros((len(FINER[PART_OF[name]]), 1 + TOLD))
        weights[name][:, 0] = deg
    build = BuildWeights(np.zeros(TOLD), np.ones(TOLD), weights)
    numbers = replace(shipped(), build=build, looks={})
    nobody = Silhouette(
        np.zeros(0, np.intp),
        np.zeros((0, 100, 2)),
        np.zeros((frames, len(FITTED))),
        np.zeros((frames, 2)),
    )
    ways = segment_ways(pose, rower, rower.place_px, nobody, where, numbers)
    line = rower.place_px[:, ENDS[:, 1]] - rower.place_px[:, ENDS[:, 0]]
    angles = [np.degrees(np.arctan2(v[..., 1], v[..., 0])) for v in (line, ways)]
    return np.asarray((angles[0] - angles[1] + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("facing", ["right", "left"])
def test_a_build_turns_the_trunk_alike_whichever_way_it_faces(facing: Facing) -> None:
    # In the athlete's frame the feet are always to the right.
    off = turned_deg(unpictured(facing), "erg", {"trunk": 2.0})
    assert off[:, TRUNK] == pytest.approx(2.0)
    assert np.isnan(np.delete(off, TRUNK, axis=1)).all()


def test_in_a_boat_a_build_tells_nothing() -> None:
    assert np.isnan(turned_deg(unpictured(), "boat", {"trunk": 2.0})).all()


def test_pictures_and_build_add_up() -> None:
    pose = made_limbs(frames=FRAMES).pose
    alone = turned_deg(pose, "erg", {})
    both = turned_deg(pose, "erg", {"shank": 1.5})
    assert np.isfinite(alone[:, SHANK]).all() and np.isnan(alone[:, TRUNK]).all()
    assert both[:, SHANK] - alone[:, SHANK] == pytest.approx(1.5)


def test_without_anything_told_no_way_is_known() -> None:
    assert np.isnan(turned_deg(unpictured(), "erg", {})).all()
