"""Who is who while somebody crosses: a seated rower is not a passer-by on their feet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.pose.linking import PersonTrack
from analysis.pose.people import HIPS, KNEES, TORSO
from analysis.pose.place import Place
from analysis.pose.rower import MAX_HIP_OVER_KNEE, MIN_LEGS_AHEAD, evidence
from analysis.pose.track import Facing

#: Somebody seen in less of the clip is a fragment of a track, not a second rower.
_LEAST_SEEN = 0.3
#: The torso is where the rower is expected, in trunk lengths.
_NEAR = 0.6


def plainly_the_rower(
    t_s: FloatArray,
    xy_px: FloatArray,
    facing: Facing,
    chosen: PersonTrack,
    tracks: Sequence[PersonTrack],
) -> BoolArray:
    """Find frames in which the points can only be the rower's, though somebody crosses.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times, s.
    xy_px : array [shape=(T, 17, 2)]
        The followed person's keypoints.
    facing : "left" or "right"
        The side that the rower's feet are on.
    chosen : PersonTrack
    tracks : sequence of PersonTrack
        Everybody, `chosen` among them.

    Returns
    -------
    array [shape=(T,)] of bool
        True where the points sit, legs ahead, in the rower's place; nowhere if anybody else in
        the clip sits too, for then that tells nothing.
    """
    others = [t for t in tracks if t is not chosen and t.seen.mean() >= _LEAST_SEEN]
    if any(evidence(t).why_not != "not seated" for t in others):
        return np.zeros(len(t_s), bool)
    place = Place.of(chosen)
    hip, knee = xy_px[:, HIPS].mean(axis=1), xy_px[:, KNEES].mean(axis=1)
    reach = (knee - hip) / place.trunk_px
    ahead = reach[:, 0] * (1.0 if facing == "right" else -1.0)
    near = [place.off_by(xy, float(t)) < _NEAR for t, xy in zip(t_s, xy_px[:, TORSO], strict=True)]
    return np.asarray((reach[:, 1] < MAX_HIP_OVER_KNEE) & (ahead > MIN_LEGS_AHEAD) & near)
