"""The filming check of one clip, without coaching, drawing or page.

It goes through the same stages as a review up to the strokes, so that both say the same of the
same clip; the landmarks are kept, and a review of the clip afterwards does not seek them again.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.filming import Checked
    from analysis.review import ReviewOptions


def check_clip(
    path: Path, options: ReviewOptions, *, progress: Callable[[float], None] | None = None
) -> Checked:
    """Check how one clip was filmed; nothing is written but kept landmarks.

    Parameters
    ----------
    path : Path
    options : ReviewOptions
        `who`, the part of the clip, the setting; the others do not matter.
    progress : callable, optional
        Called with the share of the work done, 0…1.

    Raises
    ------
    ClipError
        The clip cannot be read, or nobody rows in it.
    """
    from analysis.errors import TooFewStrokesError
    from analysis.filming import Checked, filming_quality, what_can_be_told, yaw_effects_deg
    from analysis.motion.reconstruct import reconstruct_motion
    from analysis.pose.estimate import estimate_pose
    from analysis.pose.kept import kept_or_estimated
    from analysis.stroke.analyse import analyse_strokes

    find_pose = kept_or_estimated if options.keep else estimate_pose
    pose = find_pose(
        path, who=options.who, from_s=options.from_s, to_s=options.to_s, progress=progress
    )
    whole = reconstruct_motion(pose, setting=options.setting)
    motion = what_can_be_told(whole)
    try:
        strokes = analyse_strokes(motion, stage=options.stage).count
    except TooFewStrokesError as error:
        # One is told apart from none by the words only; either way nothing can be measured.
        strokes = 1 if "one whole stroke" in str(error) else 0
    people = "one person" if pose.people_seen == 1 else f"{pose.people_seen} people"
    clip = pose.clip
    seen = (
        f"{clip.width_px}×{clip.height_px}, {clip.mean_fps:.0f} pictures a second,"
        f" {clip.duration_s:.0f} s; {people}; the athlete faces {pose.facing},"
        f" trunk {whole.segments_px['trunk']:.0f} px"
    )
    refused = "" if motion is whole else motion.notes[-1]
    if strokes < 2:
        refused = "Strokes cannot be measured: fewer than two are whole."
    return Checked(
        file=path.name,
        seen=seen,
        points=filming_quality(pose, motion, strokes),
        refused=refused,
        yaw_deg=whole.yaw_deg,
        yaw_effects_deg=yaw_effects_deg(whole.yaw_deg),
    )
