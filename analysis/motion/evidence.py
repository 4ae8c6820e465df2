"""What each landmark model says of the near side, ready to be weighed against each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion.filters import median_of_known
from analysis.motion.motion import JOINTS
from analysis.pose.sides import Points, far_points, near_points
from analysis.pose.track import Facing, LandmarkTrack, PoseTrack

#: Witnesses in the order of the W axis.
MODELS = ("thunder", "mediapipe")

#: Below this score a landmark is a guess and is left out.
_LEAST_SCORE = 0.12

#: Hands move at up to about five trunk lengths a second (2.5 m/s), so within this time a joint
#: stays closer to its median than this share of the trunk.
_STRAY_WINDOW_S, _STRAY = 0.1, 0.55
#: Where models see different bodies, this one is right as a rule (:mod:`uncertainty`).
_STEADY = "thunder"

#: Two models that place a joint further apart than this do not see the same body, share of the
#: trunk; looks further apart than the second are not compared, s.
_APART, _BESIDE_S = 0.3, 0.1

#: A look stands for no more frames than this, however long none follows.
_MOST_STOOD_FOR = 8


@dataclass(frozen=True)
class Evidence:
    """Near-side joints as each model saw them.

    Attributes
    ----------
    xy_px : array [shape=(W, T, J, 2)]
        Picture px, in the order of ``MODELS`` and ``JOINTS``; NaN where a model gave none.
    score : array [shape=(W, T, J)]
        The model's own confidence, 0…1.
    asked : array [shape=(W, T)] of bool
        Frames that each model looked at: where the models take turns, it is not that one saw
        nothing.
    """

    xy_px: FloatArray
    score: FloatArray
    asked: BoolArray

    @property
    def seen(self) -> BoolArray:
        """Whether any model saw the joint [shape=(T, J)].

        Where a model did not look, its looks just before and after count.
        """
        seen = np.isfinite(self.xy_px[..., 0])
        for asked, by_model in zip(self.asked, seen, strict=True):
            looks = np.flatnonzero(asked)
            if len(looks):
                after = np.searchsorted(looks, np.arange(len(asked)))
                last, next_ = np.maximum(after - ~asked, 0), np.minimum(after, len(looks) - 1)
                by_model |= by_model[looks[last]] | by_model[looks[next_]]
        return np.asarray(seen.any(axis=0))

    @property
    def stands_for(self) -> FloatArray:
        """How many frames each look stands for [shape=(W, T)]: 1 where all are looked at.

        Half of those between it and the looks before and after, as far as they are not far away.
        """
        frames = np.ones(self.asked.shape)
        for asked, share in zip(self.asked, frames, strict=True):
            looks = np.flatnonzero(asked)
            if len(looks) > 1:
                between = np.minimum(np.diff(looks), _MOST_STOOD_FOR)
                share[looks] = (np.r_[between[:1], between] + np.r_[between, between[-1:]]) / 2.0
        return frames


def near_side_evidence(pose: PoseTrack) -> Evidence:
    """Collect the near-side joints of both models; frames of uncertain identity are left out."""
    return _collect(pose, near_points)


def far_side_evidence(pose: PoseTrack) -> Evidence:
    """Collect the far side's joints likewise."""
    return _collect(pose, far_points)


def _collect(pose: PoseTrack, points_of: Callable[[LandmarkTrack, Facing], Points]) -> Evidence:
    frames = len(pose.t_s)
    xy = np.full((len(MODELS), frames, len(JOINTS), 2), np.nan)
    score = np.zeros((len(MODELS), frames, len(JOINTS)))
    asked = np.zeros((len(MODELS), frames), dtype=bool)
    for witness, model in enumerate(MODELS):
        if model not in pose.landmarks:
            continue
        asked[witness] = pose.landmarks[model].looked_at
        points = points_of(pose.landmarks[model], pose.facing)
        for joint, name in enumerate(JOINTS):
            if name in points:
                xy[witness, :, joint], score[witness, :, joint] = points[name]
    xy[:, pose.identity_uncertain] = np.nan
    xy[score < _LEAST_SCORE] = np.nan
    return Evidence(xy, score, asked)


def without_strays(near: Evidence, t_s: FloatArray, unit_px: float) -> Evidence:
    """Leave out points that jump away, to somebody else or to the other limb.

    A point is left out when it lies further than ``_STRAY`` trunk lengths from the median of what
    all models saw of that joint within ``_STRAY_WINDOW_S``, more than a joint moves in that time.
    Where that would leave nothing of a joint for so long, for models contradict each other, what
    ``_STEADY`` saw is held against that model alone.

    Parameters
    ----------
    near : Evidence
    t_s : array [shape=(T,)]
    unit_px : float
        Length of the trunk, px.
    """
    first = np.searchsorted(t_s, t_s - _STRAY_WINDOW_S)
    last = np.searchsorted(t_s, t_s + _STRAY_WINDOW_S, side="right")
    xy = near.xy_px.copy()
    own = near.xy_px[MODELS.index(_STEADY)]
    stays = np.zeros(own.shape[:2], dtype=bool)
    for frame, (a, b) in enumerate(zip(first, last, strict=True)):
        around = near.xy_px[:, a:b].reshape(-1, len(JOINTS), 2)
        away = np.linalg.norm(near.xy_px[:, frame] - median_of_known(around), axis=-1)
        xy[:, frame][away > _STRAY * unit_px] = np.nan
        off = np.linalg.norm(own[frame] - median_of_known(own[a:b]), axis=-1)
        stays[frame] = off <= _STRAY * unit_px
    left = np.asarray(np.isfinite(xy[..., 0]).any(axis=0))
    for frame, (a, b) in enumerate(zip(first, last, strict=True)):
        lost = stays[frame] & ~left[a:b].any(axis=0)
        xy[MODELS.index(_STEADY), frame, lost] = own[frame, lost]
    return Evidence(xy, near.score, near.asked)


def apart(near: Evidence, t_s: FloatArray, unit_px: float) -> BoolArray:
    """Return where the models do not see the same joint [shape=(T, J)].

    Where they take turns, a look is held against the other model's looks just before and after.

    Parameters
    ----------
    near : Evidence
    t_s : array [shape=(T,)]
    unit_px : float
        Length of the trunk, px.
    """
    both = [np.full(near.xy_px.shape[1:], np.nan) for _ in near.xy_px]
    for seen, filled in zip(near.xy_px, both, strict=True):
        for joint in range(len(JOINTS)):
            known = np.flatnonzero(np.isfinite(seen[:, joint, 0]))
            if not len(known):
                continue
            after = np.searchsorted(t_s[known], t_s)
            ends = known[np.maximum(after - 1, 0)], known[np.minimum(after, len(known) - 1)]
            close = np.min([np.abs(t_s[end] - t_s) for end in ends], axis=0) < _BESIDE_S
            for axis in (0, 1):
                between = np.interp(t_s, t_s[known], seen[known, joint, axis])
                filled[close, joint, axis] = between[close]
    off = np.linalg.norm(both[0] - both[1], axis=-1)
    return np.asarray(off > _APART * unit_px)


def trunk_px(near: Evidence) -> float:
    """Return the length of the trunk in the picture, px: the median over witnesses and frames."""
    trunk = near.xy_px[:, :, JOINTS.index("shoulder")] - near.xy_px[:, :, JOINTS.index("hip")]
    return float(np.nanmedian(np.linalg.norm(trunk, axis=-1)))


def mean_of_seen(xy: FloatArray) -> FloatArray:
    """Return the mean of those witnesses [shape=(W, T, J, 2)] that saw a joint; NaN without any."""
    seen = np.isfinite(xy)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.sum(np.where(seen, xy, 0.0), axis=0) / seen.sum(axis=0))
