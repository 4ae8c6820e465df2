"""The filming check of one clip, without coaching, drawing or page.

It goes through the same stages as a review up to the strokes, so that both say the same of the
same clip; the landmarks are kept, and a review of the clip afterwards does not seek them again.
Of a long clip only the minute in the middle is looked at, if that shows enough of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import ClipError

if TYPE_CHECKING:
    from analysis.filming import Checked
    from analysis.review import ReviewOptions

#: Of a clip longer than this, a part as long as that is looked at, s. The middle, because at the
#: start somebody still puts the phone up or gets onto the machine.
LONG_S, PART_S = 120.0, 60.0

Progress = Callable[[float], None]


def check_clip(path: Path, options: ReviewOptions, *, progress: Progress | None = None) -> Checked:
    """Check how one clip was filmed; nothing is written but kept landmarks.

    A long clip of which no part is named is judged by its middle, and by all of it where the middle
    does not show enough strokes.

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
    if options.from_s is None and options.to_s is None:
        from analysis.clip import probe

        duration_s = probe(path).duration_s
        if duration_s > LONG_S:
            start_s = (duration_s - PART_S) / 2.0
            middle = replace(options, from_s=start_s, to_s=start_s + PART_S)
            try:
                part = _looked_at(path, middle, progress, whole_s=duration_s)
            except ClipError:
                part = None  # perhaps they rest just then
            if part is not None and _shows_enough(part):
                return part
    return _looked_at(path, options, progress)


def _shows_enough(part: Checked) -> bool:
    return all(point.level == "good" for point in part.points if point.key == "strokes")


def _looked_at(
    path: Path, options: ReviewOptions, progress: Progress | None, *, whole_s: float | None = None
) -> Checked:
    """Check the part of a clip that `options` name; `whole_s` is told where it is but a part."""
    from analysis.errors import TooFewStrokesError
    from analysis.filming import Checked, filming_quality, what_can_be_told, yaw_effects_deg
    from analysis.motion.reconstruct import reconstruct_motion
    from analysis.pose.estimate import estimate_pose
    from analysis.pose.kept import kept_or_estimated
    from analysis.review import missing_end_told
    from analysis.stroke.analyse import analyse_strokes

    find_pose = kept_or_estimated if options.keep else estimate_pose
    with missing_end_told(path):
        pose = find_pose(
            path, who=options.who, from_s=options.from_s, to_s=options.to_s, progress=progress
        )
    whole = reconstruct_motion(pose, setting=options.setting)
    motion = what_can_be_told(whole)
    try:
        strokes = analyse_strokes(motion, stage=options.stage).count
    except TooFewStrokesError as error:
        strokes = error.found
    people = "one person" if pose.people_seen == 1 else f"{pose.people_seen} people"
    clip = pose.clip
    length = f"{clip.duration_s:.0f} s"
    if whole_s is not None:
        length += f" in the middle of {whole_s:.0f} s looked at (--from 0 looks at all)"
    seen = (
        f"{clip.width_px}×{clip.height_px}, {clip.mean_fps:.0f} pictures a second,"
        f" {length}; {people}; the athlete faces {pose.facing},"
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
