"""Making something to be shared: every face blurred in the pictures, no name in the words.

Faces are found twice over: the athlete's from the review's own landmarks, and everybody's by the
people finder in the pictures. It is thorough, not perfect: look at the clip before it leaves the
machine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import JOINTS
from analysis.output.season.faces import GROWS_TO, HEAD_RADIUS, write_blurred
from analysis.result import NO_FINGERPRINT, Review

#: What an athlete is called in something to be shared, and what the clip is called.
NOBODY, CLIP_NAME = "An athlete", "clip.mp4"

#: How far the middle of a face lies before the ear ÷ trunk.
BEFORE_EAR = 0.08

#: A place between two known ones is off by this many trunks more for each second to the nearest.
_UNSURE_PER_S = 1.0

#: A head not seen for longer is taken to be above the shoulder, s.
_BRIDGED_S = 0.3


def shareable(
    review: Review, folder: Path, *, progress: Callable[[float], None] | None = None
) -> Review:
    """Return the review as something to be shared, with a blurred copy of its clip in `folder`.

    The name, the note, the file's name and its fingerprint are left out. Write it with
    :func:`analysis.output.write.write_review`, then remove `folder`.

    Raises
    ------
    SideonError
        When the clip can no longer be read.
    """
    target = folder / CLIP_NAME
    size = review.pose.clip.width_px, review.pose.clip.height_px
    write_blurred(
        Path(review.source), target, review.motion.t_s, own_faces(review), size, progress=progress
    )
    return replace(
        review,
        source=str(target),
        athlete=NOBODY,
        note="",
        marks=None,
        pose=replace(
            review.pose, clip=replace(review.pose.clip, file=CLIP_NAME, sha256=NO_FINGERPRINT)
        ),
    )


def own_faces(review: Review) -> FloatArray:
    """Return where the athlete's face is in each frame [shape=(T, 3): x, y, radius, px].

    From the near ear and whatever points of the face the landmark models gave. Where neither saw
    the head it is on the way from one known place to the next; after a while without, above the
    shoulder; where nothing is known at either end, at the last place known. The further off in
    time that is, the larger. NaN when nothing was ever seen of it.
    """
    motion = review.motion
    trunk = motion.segments_px["trunk"]
    middle = _seen_faces(review, trunk)
    return _everywhere(motion.t_s, middle, _above_shoulder(motion.joints_px), trunk)


def faces_by_joints(t_s: FloatArray, joints_px: FloatArray, facing: str) -> FloatArray:
    """Return the same as `own_faces` [shape=(T, 3)] from joints alone [shape=(T, J, 2), px]."""
    off = joints_px[:, JOINTS.index("shoulder")] - joints_px[:, JOINTS.index("hip")]
    trunk = float(np.nanmedian(np.hypot(off[:, 0], off[:, 1])))
    forward = 1.0 if facing == "right" else -1.0
    middle = joints_px[:, JOINTS.index("ear")] + [forward * BEFORE_EAR * trunk, 0.0]
    return _everywhere(t_s, middle, _above_shoulder(joints_px), trunk)


def _everywhere(t_s: FloatArray, middle: FloatArray, above: FloatArray, trunk: float) -> FloatArray:
    """Complete known middles of faces [shape=(T, 2), px] to a circle in every frame."""
    middle, radius = middle.copy(), np.full(len(t_s), HEAD_RADIUS * trunk)
    long_unseen = _away_s(t_s, middle) > _BRIDGED_S
    middle[long_unseen] = above[long_unseen]
    radius[long_unseen] *= 1.3
    known = np.isfinite(middle).all(axis=1)
    faces = np.full((len(t_s), 3), np.nan)
    if known.any():
        for axis in (0, 1):
            faces[:, axis] = np.interp(t_s, t_s[known], middle[known, axis])
        wider = radius + _UNSURE_PER_S * trunk * _away_s(t_s, middle)
        faces[:, 2] = np.minimum(wider, GROWS_TO * HEAD_RADIUS * trunk)
    return faces


def _away_s(t_s: FloatArray, places: FloatArray) -> FloatArray:
    """Return how far off in time the nearest known place is [shape=(T,), s]; infinite without."""
    known = np.isfinite(places).all(axis=1)
    if not known.any():
        return np.full(len(t_s), np.inf)
    return np.asarray(np.abs(t_s[:, None] - t_s[None, known]).min(axis=1))


def _seen_faces(review: Review, trunk: float) -> FloatArray:
    """Return the middle of the face as landmarks show it [shape=(T, 2), px], NaN where none do."""
    motion = review.motion
    forward = 1.0 if motion.facing == "right" else -1.0
    seen = [motion.joints_px[:, JOINTS.index("ear")] + [forward * BEFORE_EAR * trunk, 0.0]]
    for track in review.pose.landmarks.values():
        for name in ("nose", "left_eye", "right_eye"):
            if name in track.names:
                point = track.point(name) - [forward * 0.1 * trunk, 0.0]
                sure = track.score[:, track.names.index(name)] > 0.3
                seen.append(np.where(sure[:, None], point, np.nan))
    places = np.stack(seen)
    known = np.asarray(np.isfinite(places).all(axis=2), dtype=bool)
    count = known.sum(axis=0)
    total = np.where(known[..., None], places, 0.0).sum(axis=0)
    return np.where(count[:, None] > 0, total / np.maximum(count, 1)[:, None], np.nan)


def _above_shoulder(joints_px: FloatArray) -> FloatArray:
    """Return where a head is on the line from hip to shoulder [shape=(T, 2), px]."""
    shoulder = joints_px[:, JOINTS.index("shoulder")]
    hip = joints_px[:, JOINTS.index("hip")]
    return np.asarray(shoulder + 0.35 * (shoulder - hip))
