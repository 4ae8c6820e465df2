"""Clips of the season made into something to be shared."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.batch import run_reviews
from analysis.errors import SettingsError
from analysis.job import Event, Job, OnEvent, Outcome, ReviewJob, review_job
from analysis.motion.motion import Setting
from analysis.review import ReviewOptions
from analysis.season import read
from analysis.season.compare import find_side, names_of
from analysis.season.read import SeasonClip
from analysis.season.record import name_key
from analysis.season.store import Season
from analysis.squad.plan import relative
from analysis.stroke.strokes import STAGES

#: Files of a shared folder in which names could be written as text.
_TEXTS = (".html", ".json", ".csv")


@dataclass(frozen=True)
class Shared:
    """What was made.

    Attributes
    ----------
    outcomes : tuple of Outcome
    named : tuple of Path
        Files in which the athlete's name was found after all: not to be shared.
    """

    outcomes: tuple[Outcome, ...]
    named: tuple[Path, ...]


def clips_to_share(season: Season, words: Sequence[str]) -> list[SeasonClip]:
    """Return the reviewed clips meant by athletes' names or clips' file names, once each.

    Raises
    ------
    SettingsError
        When something is neither, or a clip is no longer where it was.
    """
    known = {name_key(name) for name in season.athletes()}
    found: dict[int, SeasonClip] = {}
    for word in words:
        if name_key(word) in known:
            clips = [c for c in read.clips(season, athlete=word) if c.reviewed]
        else:
            file = word.replace("\\", "/").rsplit("/", 1)[-1]
            if not any(file in names_of(clip) for clip in read.clips(season)):
                raise SettingsError(
                    f"{word} is neither an athlete nor a clip of this season; athletes are: "
                    f"{', '.join(season.athletes())}."
                )
            clips = find_side(season, file, None)
        found |= {clip.id: clip for clip in clips}
    if not found:
        raise SettingsError(f"There is no reviewed clip of {', '.join(words)} to share.")
    for clip in found.values():
        if not clip.path or not (season.folder / clip.path).is_file():
            raise SettingsError(
                f"The clip {clip.file} is not where it was when it was reviewed: review it again "
                f"from where it is now."
            )
    return list(found.values())


def unconsented(season: Season, athletes: Sequence[str]) -> list[str]:
    """Return who of some athletes has no consent noted in the season."""
    consented = {name_key(a.name) for a in read.athletes(season) if a.consented}
    return sorted({name for name in athletes if name_key(name) not in consented})


def share(
    season: Season,
    clips: Sequence[SeasonClip],
    out: Path,
    *,
    standard: str = "novice",
    language: str = "en",
    workers: int | None = None,
    on_event: OnEvent | None = None,
    review: ReviewJob = review_job,
) -> Shared:
    """Review clips once more and write them to `out` with every face blurred and no name."""
    names = free_names(out, [_earlier(season, out, clip) for clip in clips])
    jobs = [
        Job(
            path=str(season.folder / clip.path),
            out_dir=str(out),
            out_name=name,
            standard=standard,
            options=_options(clip),
            share=True,
            language=language,
            private=True,
        )
        for name, clip in zip(names, clips, strict=True)
    ]

    def keep(event: Event) -> None:
        if event.outcome is not None and event.outcome.status == "done":
            path = relative(Path(event.outcome.folder), season.folder)
            season.remember_shared(path, [clips[event.index].sha256])
        if on_event is not None:
            on_event(event)

    outcomes = run_reviews(jobs, workers, keep, review=review)
    named: list[Path] = []
    for clip, outcome in zip(clips, outcomes, strict=True):
        if outcome.status == "done":
            marks = (clip.file, clip.sha256)
            named += files_that_name(Path(outcome.folder), clip.athlete, marks)
    return Shared(tuple(outcomes), tuple(named))


def free_names(out: Path, earlier: Sequence[str]) -> list[str]:
    """Return folder names that tell nothing, ``clip-1``, …, and that nothing in `out` has yet.

    `earlier` are names to use again, empty where there is none.
    """
    numbers = (f"clip-{number}" for number in itertools.count(1))
    free = (name for name in numbers if name not in earlier and not (out / name).exists())
    return [name or next(free) for name in earlier]


def _earlier(season: Season, out: Path, clip: SeasonClip) -> str:
    """Return the name under which this clip was shared in `out` before; empty when it was not."""
    home = relative(out, season.folder)
    for path, sha256 in season.shared():
        folder, _, name = path.rpartition("/")
        if (folder, sha256) == (home, clip.sha256):
            return name
    return ""


def _options(clip: SeasonClip) -> ReviewOptions:
    stage = next((s for s in STAGES if s == clip.stage and clip.stage_named), None)
    setting: Setting = "boat" if clip.setting == "boat" else "erg"
    return ReviewOptions(stage=stage, setting=setting, athlete=clip.athlete, date=clip.date)


def files_that_name(folder: Path, athlete: str, marks: Sequence[str]) -> list[Path]:
    """Return the files in `folder` that still hold the athlete's name or one of `marks`."""
    word = re.compile(rf"(?<!\w){re.escape(athlete)}(?!\w)", re.IGNORECASE)
    found = []
    for path in sorted(folder.rglob("*")):
        if path.suffix in _TEXTS:
            text = path.read_text(encoding="utf-8", errors="replace")
            if word.search(text) or any(mark in text for mark in marks):
                found.append(path)
    return found
