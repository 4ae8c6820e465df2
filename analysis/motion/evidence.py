"""What each landmark model says of the near side, ready to be weighed against each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.motion.learned import MODELS
from analysis.motion.motion import JOINTS
from analysis.pose.sides import Points, far_points, near_points
from analysis.pose.track import Facing, LandmarkTrack, PoseTrack

#: Below this score a landmark is a guess and is left out.
_LEAST_SCORE = 0.12


@dataclass(frozen=True)
class Evidence:
    """Near-side joints as each model saw them.

    Attributes
    ----------
    xy_px : array [shape=(W, T, J, 2)]
        Picture px, in the order of ``MODELS`` and ``JOINTS``; NaN where a model gave none.
    score : array [shape=(W, T, J)]
        The model's own confidence, 0…1.
    """

    xy_px: FloatArray
    score: FloatArray

    @property
    def seen(self) -> BoolArray:
        """Whether any model saw the joint [shape=(T, J)]."""
        return np.asarray(np.isfinite(self.xy_px[..., 0]).any(axis=0))


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
    for witness, model in enumerate(MODELS):
        if model not in pose.landmarks:
            continue
        points = points_of(pose.landmarks[model], pose.facing)
        for joint, name in enumerate(JOINTS):
            if name in points:
                xy[witness, :, joint], score[witness, :, joint] = points[name]
    xy[:, pose.identity_uncertain] = np.nan
    xy[score < _LEAST_SCORE] = np.nan
    return Evidence(xy, score)
