"""Which way limbs and trunk point, by what a first fit makes of other evidence than landmarks."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.build import build_told, off_build_deg
from analysis.motion.edges import Silhouette
from analysis.motion.fit import FittedRower
from analysis.motion.learned import Learned
from analysis.motion.limb_looks import off_looks_deg
from analysis.motion.limb_turns import turned_by, turned_further_deg, ways_of
from analysis.motion.motion import SEGMENTS, Setting
from analysis.motion.rules import ENDS
from analysis.pose.track import LIMBS, PoseTrack

#: Which of SEGMENTS are followed in the picture.
_LIMBS_AT = [list(SEGMENTS).index(name) for name in LIMBS]


def segment_ways(
    pose: PoseTrack,
    rower: FittedRower,
    place_px: FloatArray,
    silhouette: Silhouette,
    where: Setting,
    numbers: Learned,
) -> FloatArray:
    """Return which way segments point.

    Limbs as fitted in the long run, turning as their own picture shows, turned as they look;
    limbs and trunk, at a machine, turned as the athlete's build tells.

    Parameters
    ----------
    pose : PoseTrack
    rower : FittedRower
        The first fit.
    place_px : array [shape=(T, 6, 2)]
        Its joints in the picture, px.
    silhouette : Silhouette
    where : Setting
    numbers : Learned

    Returns
    -------
    array [shape=(T, S, 2)]
        Unit vectors for each of ``SEGMENTS`` in the athlete's frame; NaN where nothing is told.
    """
    ends = rower.place_px[:, ENDS]
    further_deg = np.full(ends.shape[:2], np.nan)
    if np.isfinite(pose.limb_turned).any() or len(pose.pictured_frames):
        further_deg[:, _LIMBS_AT] = _seen_deg(pose, ends, place_px[:, ENDS], numbers)
    if where == "erg":
        told = build_told(rower.place_px, rower.segments_px, silhouette)
        by_build = off_build_deg(rower.place_px, told, numbers.build, pose.facing)
        both = np.nan_to_num(further_deg) + np.nan_to_num(by_build)
        further_deg = np.where(np.isnan(further_deg) & np.isnan(by_build), np.nan, both)
    return ways_of(ends, further_deg, pose.facing)


def _seen_deg(
    pose: PoseTrack, ends: FloatArray, ends_px: FloatArray, numbers: Learned
) -> FloatArray:
    """Return by how much each of ``LIMBS`` is to be turned by its own picture [shape=(T, N)]."""
    ends, ends_px = ends[:, _LIMBS_AT], ends_px[:, _LIMBS_AT]
    further_deg = turned_further_deg(pose.t_s, ends, ends_px, pose.limb_turned)
    turned_px = turned_by(ends_px, further_deg)
    return further_deg + off_looks_deg(pose, ends, turned_px, numbers.looks)
