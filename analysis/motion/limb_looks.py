"""How limbs lie in their own pictures, all of a clip's taken together.

Landmarks miss a limb's direction by one or two degrees throughout a clip, each person's otherwise:
nothing that follows them from frame to frame can tell. The limb's own picture tells, but which of
its edges are skin, sleeve, the other limb or the room no mechanics says: that is learned
(``tests/accuracy/learn_looks.py``), and looked at by a small network (:mod:`small_net`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.at_most import at_most
from analysis.checks import FloatArray
from analysis.motion.bends import PART_OF, Alike, alike, limbs_bend_deg, turned_between
from analysis.motion.laid_limbs import laid_along
from analysis.motion.small_net import SmallNet
from analysis.pose.track import LIMBS, PoseTrack

#: Limb → networks that are asked.
LimbNets = Mapping[str, Sequence[SmallNet]]

#: Pictures that are looked at, in each clip: more tell no more of a limb.
_MOST_PICTURES = 60
#: A limb smaller than this is like none that was learned from (35 to 58 px at least), px.
_LEAST_PX = 30.0
#: Networks that scatter by this much are believed half.
_SCATTERED_DEG = 1.5


def off_looks_deg(
    pose: PoseTrack, ends: FloatArray, ends_px: FloatArray, nets: LimbNets
) -> FloatArray:
    """Return how far limbs lie off the fit by what they look like.

    Parameters
    ----------
    pose : PoseTrack
    ends : array [shape=(T, N, 2, 2)]
        Both fitted ends of each of ``LIMBS`` in the athlete's frame.
    ends_px : array [shape=(T, N, 2, 2)]
        The same in the picture, px.
    nets : mapping of str to networks
        By limb; one without is not turned.

    Returns
    -------
    array [shape=(T, N)]
        Degrees by which the limb is to be turned, + clockwise in the picture; 0 where nobody knows.
    """
    off = np.zeros(ends.shape[:2])
    bends = limbs_bend_deg(ends)
    looked = at_most(_MOST_PICTURES, np.arange(len(pose.pictured_frames)))
    frames = pose.pictured_frames[looked]
    for limb, name in enumerate(LIMBS):
        if not nets.get(name) or not len(frames) or _length_px(ends_px[:, limb]) < _LEAST_PX:
            continue
        laid, known = laid_along(
            pose.pictured_grey[looked, limb],
            pose.pictured_ends_px[looked, limb],
            ends_px[frames, limb],
            pose.facing,
        )
        bend = bends[PART_OF[name]]
        groups = list(alike(name, bend[frames], known))
        if groups:
            off[:, limb] = turned_between(bend, groups, _turn_deg(nets[name], laid, groups))
    return off if pose.facing == "right" else -off


def _turn_deg(nets: Sequence[SmallNet], laid: FloatArray, groups: Sequence[Alike]) -> list[float]:
    """Return by how much networks turn a limb in each group of its pictures, degrees."""
    seen = [net.seen(laid) for net in nets]
    return [
        agreed_deg(
            [
                net.off_deg(of_net[each.frames], each.bend_deg)
                for net, of_net in zip(nets, seen, strict=True)
            ]
        )
        for each in groups
    ]


def agreed_deg(told_deg: Sequence[float]) -> float:
    """Return the mean of what networks tell, and less of it the less they agree.

    On what is like nothing that they were taught by, each makes something else of it.
    """
    return float(np.mean(told_deg) / (1.0 + (np.std(told_deg) / _SCATTERED_DEG) ** 2))


def _length_px(ends_px: FloatArray) -> float:
    """Return the usual length of a limb [shape=(T, 2, 2), px]."""
    return float(np.median(np.linalg.norm(ends_px[:, 1] - ends_px[:, 0], axis=1)))
