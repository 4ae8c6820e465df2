"""The pipeline: one clip → one review, and many clips one after the other.

This is the only place that knows all stages. They are imported when a clip is reviewed: finding
clips and checking options must not wait for them.
"""

from __future__ import annotations

import platform
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from analysis import __version__
from analysis.errors import NoRowerError, SettingsError, TooFewStrokesError

if TYPE_CHECKING:
    from analysis.coach_marks import CoachMarks
    from analysis.coaching.standard import Standard
    from analysis.motion.motion import Motion, Setting
    from analysis.pose.rower import Who
    from analysis.pose.track import PoseTrack
    from analysis.result import Review
    from analysis.stroke.strokes import Stage, Strokes

#: File endings that are taken for clips when a folder is given.
CLIP_ENDINGS = (".avi", ".m4v", ".mkv", ".mov", ".mp4", ".mts", ".webm")

#: Share of the work done when each stage ends, for one progress bar over all of them.
_POSE_DONE = 0.75


@dataclass(frozen=True)
class ReviewOptions:
    """What the coach says about a clip before it is reviewed.

    Attributes
    ----------
    stage : str or None
        The build-up stage; ``None`` lets it be recognised.
    setting : "erg", "boat" or None
        ``None`` decides by whether the camera moves.
    who : str or int
        Which rower: ``"auto"``, ``"nearest"``, ``"left"``, ``"right"`` or a number from the bow.
    from_s, to_s : float or None
        Part of the clip, s.
    athlete : str or None
        ``None`` takes the file name up to the first ``_``.
    stature_m : float or None
        Body height, for stroke length in metres.
    keep : bool
        Take landmarks kept from an earlier review of this clip, and keep them for the next.
    marks : CoachMarks or None
        What a coach put right by hand; it also says whom to follow.
    """

    stage: Stage | None = None
    setting: Setting | None = None
    who: Who = "auto"
    from_s: float | None = None
    to_s: float | None = None
    athlete: str | None = None
    stature_m: float | None = None
    date: str = ""
    note: str = ""
    keep: bool = True
    marks: CoachMarks | None = None


def review_clip(
    path: Path,
    standard: Standard,
    options: ReviewOptions | None = None,
    *,
    out_name: str = "",
    progress: Callable[[float], None] | None = None,
) -> Review:
    """Review one clip; nothing is written.

    Parameters
    ----------
    path : Path
    standard : Standard
        The standard in force for this athlete.
    options : ReviewOptions, optional
    out_name : str
        Folder name of its files; the file stem when empty.
    progress : callable, optional
        Called with the share of the work done, 0…1.

    Raises
    ------
    ClipError
        When the clip cannot be reviewed; its text is one plain sentence for the coach.
    """
    from analysis.decoding import cores
    from analysis.pose.beside import helpers
    from analysis.pose.kept import kept_or_estimated

    chosen = options or ReviewOptions()
    tell = progress or (lambda share: None)
    marks = chosen.marks
    who = cast("Who", marks.who if marks is not None else chosen.who)
    find_pose = kept_or_estimated if chosen.keep else _estimate
    with missing_end_told(path):
        with helpers(1) if cores() > 1 else nullcontext() as pool:
            loads: list[Any] = []

            def got_on(share: float) -> None:
                # Not before: loading holds Python's lock, and the models' own start waits for it.
                if pool is not None and not loads:
                    loads.append(pool.submit(_load_later_stages))
                    if share < 1.0:  # kept landmarks are all there at once
                        loads.append(pool.submit(_load_what_fits_and_draws))
                tell(share * _POSE_DONE)

            pose = find_pose(path, who=who, from_s=chosen.from_s, to_s=chosen.to_s, progress=got_on)
            for load in loads:
                load.result()
        return _judged(path, pose, standard, chosen, who, out_name, tell)


@contextmanager
def missing_end_told(path: Path) -> Iterator[None]:
    """Say of a clip that shows too little whether the end of its file is missing."""
    try:
        yield
    except (NoRowerError, TooFewStrokesError) as error:
        from analysis.decoding import cut_off

        missing = cut_off(path)
        if missing:
            error.args = (f"{missing} {error}",)
        raise


def _estimate(path: Path, **said: Any) -> PoseTrack:
    from analysis.pose.estimate import estimate_pose

    return estimate_pose(path, **said)


def _load_later_stages() -> None:
    """Load what comes after the landmarks while the clip is being read."""
    from analysis import filming  # noqa: F401
    from analysis.coaching import assess  # noqa: F401
    from analysis.output import write  # noqa: F401


def _load_what_fits_and_draws() -> None:
    """Load what only the fit and figures need, which is done without when they are kept."""
    import scipy.linalg
    import scipy.sparse  # noqa: F401

    from analysis.motion import reconstruct  # noqa: F401
    from analysis.output import html, svg
    from analysis.stroke import analyse  # noqa: F401

    svg.load()
    html.load()


def _judged(
    path: Path,
    pose: PoseTrack,
    standard: Standard,
    chosen: ReviewOptions,
    who: Who,
    out_name: str,
    tell: Callable[[float], None],
) -> Review:
    """Turn landmarks into a review."""
    from analysis.coaching.assess import assess
    from analysis.filming import filming_quality
    from analysis.pose.memory import give_back
    from analysis.result import Review

    marks = chosen.marks
    if marks is not None:
        marks.check_clip(pose.clip.sha256, float(pose.t_s[0]), float(pose.t_s[-1]))
    motion, strokes = _measured(pose, standard, chosen)
    give_back()
    athlete = chosen.athlete or athlete_of(path)
    findings = assess(strokes, standard)
    tell(1.0)
    return Review(
        source=str(path),
        out_name=out_name or path.stem,
        athlete=athlete,
        pose=pose,
        motion=motion,
        strokes=strokes,
        findings=findings,
        quality=filming_quality(pose, motion, strokes.count),
        versions=versions(standard) | dict(pose.models),
        date=chosen.date or date_of(path),
        note=chosen.note,
        who=who,
        marks=marks,
    )


def _measured(pose: PoseTrack, standard: Standard, chosen: ReviewOptions) -> tuple[Motion, Strokes]:
    """Fit and read the strokes, or take what was kept of both.

    What does the work is loaded only when there is work to do.
    """
    from analysis.kept_results import kept_or_made

    def fit() -> Motion:
        from analysis.filming import what_can_be_told
        from analysis.motion.reconstruct import reconstruct_motion

        return what_can_be_told(reconstruct_motion(pose, setting=chosen.setting))

    def read() -> Strokes:
        from analysis.stroke.analyse import analyse_strokes

        return analyse_strokes(motion, marks=chosen.marks, **said)

    said: dict[str, Any] = {
        "stage": chosen.stage,
        "neutral_raw_deg": standard.neutral_raw_deg,
        "stature_m": chosen.stature_m,
    }
    if not chosen.keep:
        motion = fit()
        return motion, read()
    sha256 = pose.clip.sha256
    unnamed = replace(pose, clip=replace(pose.clip, file=""))
    motion = kept_or_made(sha256, "motion", (unnamed, chosen.setting), fit)
    return motion, kept_or_made(sha256, "strokes", (motion, chosen.marks, said), read)


def athlete_of(path: Path) -> str:
    """Return the athlete's name that a file name carries: its stem up to the first ``_``."""
    return path.stem.split("_", 1)[0]


def date_of(path: Path) -> str:
    """Return the ISO date that a file name carries, or an empty text."""
    found = re.search(r"(?<!\d)(20\d\d-[01]\d-[0-3]\d)(?!\d)", path.stem)
    return found.group(1) if found else ""


def find_clips(places: list[Path]) -> list[Path]:
    """Return the clips named by files and folders, sorted by path within a folder, once each.

    A file that is named is taken as it is, whatever its ending; a folder gives the files in it
    with an ending of ``CLIP_ENDINGS`` (hidden files are left out).

    Raises
    ------
    SettingsError
        When a place does not exist, or no clip is found at all.
    """
    clips: dict[Path, None] = {}
    for place in places:
        if place.is_dir():
            inside = sorted(p for p in place.iterdir() if p.suffix.lower() in CLIP_ENDINGS)
            clips.update({p: None for p in inside if p.is_file() and not p.name.startswith(".")})
        elif place.exists():
            clips[place] = None
        else:
            raise SettingsError(f"{place} does not exist: check the name and try again.")
    if not clips:
        names = ", ".join(str(place) for place in places)
        endings = " ".join(CLIP_ENDINGS)
        raise SettingsError(f"No clip in {names}: put video files there ({endings}).")
    return list(clips)


def versions(standard: Standard) -> dict[str, str]:
    """Return what a later reader needs to know how the numbers came to be."""
    from analysis.pose.kept import library_versions

    return {
        "sideon": __version__,
        "python": platform.python_version(),
        "standard": f"{standard.name} {standard.version}",
        **library_versions(),
    }
