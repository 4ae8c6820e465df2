"""Who is who while somebody crosses: a seated rower is not a passer-by on their feet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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
#: And nearer to there than to where anybody else sits, by so much.
_NEARER = 0.3


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
        True where the points sit, legs ahead, in the rower's place. Where others in the clip sit
        too, the rower's place is told from frames alone in which it is sure, and the points have
        to be nearer to it than to anybody else's.
    """
    others = [t for t in tracks if t is not chosen and t.seen.mean() >= _LEAST_SEEN]
    seated = [_where_sure(t) for t in others if evidence(t).why_not != "not seated"]
    sure = _where_sure(chosen) if seated else chosen
    if not all(t.seen.any() for t in (sure, *seated)):
        return np.zeros(len(t_s), bool)
    place = Place.of(sure)
    hip, knee = xy_px[:, HIPS].mean(axis=1), xy_px[:, KNEES].mean(axis=1)
    reach = (knee - hip) / place.trunk_px
    ahead = reach[:, 0] * (1.0 if facing == "right" else -1.0)
    torso_px = xy_px[:, TORSO]
    off = place.off_by(torso_px, t_s)
    plain = (reach[:, 1] < MAX_HIP_OVER_KNEE) & (ahead > MIN_LEGS_AHEAD) & (off < _NEAR)
    for track in seated:
        theirs = replace(Place.of(track), trunk_px=place.trunk_px)
        plain &= theirs.off_by(torso_px, t_s) - off > _NEARER
    return np.asarray(plain)


def _where_sure(track: PersonTrack) -> PersonTrack:
    """Return the track as if unsure frames had not seen the person."""
    return replace(track, box_px=np.where(track.unsure[:, None], np.nan, track.box_px))
