"""Checks of options before the first frame is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.pose.rower import Who
    from analysis.review import ReviewOptions

_WHO: dict[str, Who] = {
    "auto": "auto",
    "nearest": "nearest",
    "left": "left",
    "right": "right",
}


def rower(text: str) -> Who:
    """Turn the text of ``--who`` into a choice; ``SettingsError`` when it is none."""
    if text in _WHO:
        return _WHO[text]
    if text.isdecimal() and int(text) >= 1:
        return int(text)
    raise SettingsError(
        f"--who {text} is not known here: use auto, nearest, left, right, or a seat number"
        " counted from the bow, starting at 1 (a review takes all, too)."
    )


def check_options(options: ReviewOptions) -> None:
    """Raise ``SettingsError`` with one plain sentence when an option makes no sense."""
    start = options.from_s or 0.0
    if start < 0:
        raise SettingsError(f"--from {start:g} lies before the clip: give seconds from 0.")
    if options.to_s is not None and options.to_s <= start:
        raise SettingsError(
            f"--to {options.to_s:g} must come after --from {start:g}: give a later time."
        )
    if options.stature_m is not None and not 0.8 <= options.stature_m <= 2.5:
        raise SettingsError(
            f"--stature-m {options.stature_m:g} is no body height in metres: 1.72, for example."
        )


def check_corrections(options: ReviewOptions, clips: list[Path]) -> None:
    """Raise ``SettingsError`` when a file of corrections cannot go with these clips."""
    marks = options.marks
    if marks is None:
        return
    if len(clips) != 1:
        raise SettingsError(
            f"--corrections belongs to one clip, and {len(clips)} were given: name that clip only."
        )
    if options.who not in ("auto", marks.who):
        raise SettingsError(
            f"--who {options.who} and {marks.source}, which follows {marks.who}, do not agree: "
            "leave one of them out."
        )
    from analysis.clip import content_hash

    try:
        marks.check_clip(content_hash(clips[0]), float("-inf"), float("inf"))
    except OSError:
        return  # a clip that cannot be read is told when it is opened
