"""What is to be done: which clips are new or changed since the season last saw them."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from analysis import __version__
from analysis.coaching.standard import Standard, load_standard
from analysis.coaching.standard_text import standard_toml
from analysis.job import Job
from analysis.result import Review
from analysis.review import ReviewOptions
from analysis.season.record import ClipRecord, record_of
from analysis.season.sheet import read_sheet
from analysis.season.store import ClipPlace, Known, Season, StandardText
from analysis.squad.whose import Assigned, assign

#: The file inside the season folder in which clips in work are locked.
LOCK_NAME = "in-work.lock"


@dataclass(frozen=True)
class SquadSettings:
    """How a squad's clips are to be reviewed.

    Attributes
    ----------
    season : Path
    sheet : Path or None
        Without one the file names tell whose each clip is.
    standard : str
        A shipped name or a TOML file.
    draw : bool
        Make the annotated clips.
    again : bool
        Review also what is done already.
    date : str
        For clips that are not dated otherwise.
    added : tuple of str
        New athletes whose names are right although they are close to others.
    more_to_come : bool
        Lines of the sheet whose clip is not there yet are no problem.
    retry : bool
        Review again what went wrong for no fault of the clip's.
    language : str
        Of the clips' own pages and of the words on the clips.
    """

    season: Path
    sheet: Path | None = None
    standard: str = "novice"
    draw: bool = True
    again: bool = False
    date: str = ""
    added: tuple[str, ...] = ()
    more_to_come: bool = False
    retry: bool = True
    language: str = "en"


@dataclass(frozen=True)
class Planned:
    """One clip to review: the job, where its result belongs, and the standard in force."""

    job: Job
    place: ClipPlace
    standard: StandardText


@dataclass(frozen=True)
class Plan:
    """What is to be done.

    Attributes
    ----------
    to_do : tuple of Planned
        In the order of day, then as the paths were given.
    done : tuple of (ClipPlace, Known)
        Reviewed already, with nothing changed since.
    problems, remarks : tuple of str
        What has to be made clear first, and what is worth knowing.
    new_athletes : tuple of str
    """

    to_do: tuple[Planned, ...]
    done: tuple[tuple[ClipPlace, Known], ...]
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    new_athletes: tuple[str, ...]


@dataclass
class Fingerprints:
    """SHA-256 of files, kept while a file's size and time stay the same."""

    known: dict[tuple[str, int, int], str] = field(default_factory=dict)

    def of(self, path: Path) -> str:
        """Return the fingerprint of a file; ``OSError`` when it cannot be read."""
        state = path.stat()
        key = (str(path), state.st_size, state.st_mtime_ns)
        if key not in self.known:
            with path.open("rb") as file:
                self.known[key] = hashlib.file_digest(file, "sha256").hexdigest()
        return self.known[key]


def check_settings(settings: SquadSettings) -> None:
    """Raise ``SettingsError`` when sheet or standard cannot be used, before a season is begun."""
    load_standard(settings.standard)
    if settings.sheet:
        read_sheet(settings.sheet)


def make_plan(
    paths: Sequence[Path],
    season: Season,
    settings: SquadSettings,
    fingerprints: Fingerprints | None = None,
) -> Plan:
    """Work out what is to be done for the clips at `paths`.

    Raises
    ------
    SettingsError
        When the sheet or the standard cannot be used.
    """
    prints = fingerprints or Fingerprints()
    sheet = read_sheet(settings.sheet) if settings.sheet else None
    who = assign(
        paths,
        sheet,
        season.athletes(),
        added=settings.added,
        date=settings.date,
        more_to_come=settings.more_to_come,
    )
    problems, remarks = list(who.problems), list[str]()
    standards: dict[str, Standard] = {}
    seen: dict[str, Assigned] = {}
    to_do: list[Planned] = []
    done: list[tuple[ClipPlace, Known]] = []
    for clip in who.clips:
        try:
            sha256 = prints.of(clip.path)
        except OSError as error:
            problems.append(f"{clip.path.name} cannot be read: {error.strerror}.")
            continue
        first = seen.setdefault(sha256, clip)
        if first is not clip:
            words = f"{clip.path.name} is the same clip as {first.path.name}"
            if first.athlete == clip.athlete:
                remarks.append(f"{words} and is left out.")
            else:
                problems.append(f"{words}: {first.athlete} or {clip.athlete}?")
            continue
        if clip.athlete not in standards:
            standards[clip.athlete] = load_standard(settings.standard, athlete=clip.athlete)
        planned = _planned(clip, sha256, settings, standards[clip.athlete])
        known = season.known(sha256)
        if (
            known is not None
            and not settings.again
            and _stands(known, planned.place, retry=settings.retry)
        ):
            done.append((planned.place, known))
        else:
            to_do.append(planned)
    to_do.sort(key=lambda planned: planned.place.date)
    return Plan(tuple(to_do), tuple(done), tuple(problems), tuple(remarks), who.new_athletes)


def _stands(known: Known, place: ClipPlace, *, retry: bool) -> bool:
    """Tell whether an earlier result still holds, whatever its path is now."""
    if known.again and retry:
        return False
    same = (known.settings_key, known.athlete, known.date, known.pages)
    return same == (place.settings_key, place.athlete, place.date, place.pages)


def _planned(clip: Assigned, sha256: str, settings: SquadSettings, standard: Standard) -> Planned:
    options = ReviewOptions(
        stage=clip.stage,
        setting=clip.setting,
        who=clip.who,
        athlete=clip.athlete,
        date=clip.date,
        note=clip.note,
    )
    place = ClipPlace(
        sha256=sha256,
        file=clip.path.name,
        path=relative(clip.path, settings.season),
        athlete=clip.athlete,
        date=clip.date,
        note=clip.note,
        settings_key=settings_key(options, standard, settings),
    )
    folder = settings.season / place.pages
    job = Job(
        path=str(clip.path),
        out_dir=str(folder.parent),
        out_name=folder.name,
        standard=settings.standard,
        options=options,
        draw=settings.draw,
        gather=gather_record,
        private=True,
        language=settings.language,
        lock=str(settings.season / LOCK_NAME),
    )
    return Planned(job, place, text_of(standard))


def gather_record(review: Review, folder: Path) -> ClipRecord:
    """Return what the season keeps of a review; runs in the worker."""
    return record_of(review)


def settings_key(options: ReviewOptions, standard: Standard, settings: SquadSettings) -> str:
    """Return the fingerprint of everything but the clip that a result depends on."""
    parts = [
        __version__,
        standard.name,
        standard.version,
        standard.digest,
        options.stage,
        options.setting,
        options.note,
        settings.draw,
    ]
    if options.who != "auto":  # added later: results without it stand
        parts.append(str(options.who))
    if settings.language != "en":  # likewise
        parts.append(f"in {settings.language}")
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:16]


def text_of(standard: Standard) -> StandardText:
    """Return a standard to keep, without the limits of other athletes."""
    tables = dict(standard.tables)
    for kind in ("athlete", "athlete_neutral"):
        own = dict(tables.get(kind, {}))
        tables[kind] = {
            name: limits
            for name, limits in own.items()
            if standard.athlete and name.casefold() == standard.athlete.casefold()
        }
    return StandardText(
        digest=standard.digest,
        name=standard.name,
        title=standard.title,
        version=standard.version,
        text=standard_toml(replace(standard, tables=tables), standard.name),
    )


def relative(path: Path, season: Path) -> str:
    """Return a path as seen from the season folder, with ``/``; empty when there is no way."""
    try:
        return Path(os.path.relpath(path.resolve(), season.resolve())).as_posix()
    except ValueError:  # another drive
        return ""
