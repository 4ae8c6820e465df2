"""Watching a folder: clips reviewed as they arrive, the season's pages renewed after each.

All that has to last is in the season, one transaction a clip: a watch that was killed and is
started again goes on where it was. Each clip is reviewed in a process of its own; one thread a
worker waits for it, and only the caller's thread touches the season.
"""

from __future__ import annotations

import queue
import sqlite3
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.batch import one_thread_each, run_reviews, worker_count
from analysis.errors import SettingsError, SideonError
from analysis.job import Event, Outcome, ReviewJob, review_job
from analysis.output import words
from analysis.output.season.running_page import RunningPage, RunningRow, write_running_page
from analysis.output.season.squad_page import first_title
from analysis.output.season.write import write_season_pages
from analysis.season import read
from analysis.season.read import SeasonClip
from analysis.season.store import Season
from analysis.squad.arrivals import Arrival, Arrivals, State
from analysis.squad.plan import Fingerprints, Planned, SquadSettings, make_plan
from analysis.squad.run import keep_outcome, note_plan

#: How often the folder is looked through, s.
LOOK_S = 1.0

#: The page is written no more often than this, s.
PAGE_S = 1.0

#: A clip that another run has in work is looked at again after so long, s.
ELSEWHERE_S = 10.0

#: Most clips at once, however many cores there are: more than that never arrive together.
MOST_AT_ONCE = 8


@dataclass
class _Work:
    """A clip in work, from which state of its file."""

    planned: Planned
    state: State
    share: float = 0.0


class Watch:
    """One session.

    Parameters
    ----------
    folder : Path
    season : Season
        Open, for `settings.season`; used in the thread that calls :meth:`run`.
    settings : SquadSettings
    workers : int, optional
    tell : callable, optional
        Called with one plain line for everything that is worth saying.
    review : callable
        What reviews one clip; must be importable in a new process.
    """

    def __init__(
        self,
        folder: Path,
        season: Season,
        settings: SquadSettings,
        *,
        workers: int | None = None,
        tell: Callable[[str], None] | None = None,
        review: ReviewJob = review_job,
    ) -> None:
        self._season, self._review = season, review
        self._settings = replace(settings, more_to_come=True, retry=False)
        self._workers = worker_count(MOST_AT_ONCE, workers)
        self._tell = tell or (lambda line: None)
        self._arrivals, self._prints = Arrivals(folder), Fingerprints()
        self._events: queue.SimpleQueue[tuple[Path, Event]] = queue.SimpleQueue()
        self._there: list[Arrival] = []
        self._work: dict[Path, _Work] = {}
        self._next: list[Planned] = []
        self._elsewhere: dict[str, float] = {}
        self._known: dict[str, Path] = {}
        self._had: set[str] = set()
        self._problems: tuple[str, ...] = ()
        self._told: set[str] = set()
        self._seen: object = None
        self._stopping = False

    def run(self, stop: Callable[[], bool]) -> None:
        """Watch until `stop` says True; what is in work then is given up and comes next time.

        Raises
        ------
        SettingsError
            At the start, when folder, sheet or standard cannot be used.
        """
        self._look(first=True)
        self._write_page()
        looked_s = written_s = time.monotonic()
        with one_thread_each(), ThreadPoolExecutor(self._workers) as threads:
            try:
                while not stop():
                    self._begin(threads)
                    ended = self._take_events()
                    now_s = time.monotonic()
                    if now_s - looked_s >= LOOK_S or ended:
                        self._look()
                        looked_s = now_s
                    if now_s - written_s >= PAGE_S or ended:
                        self._write_page()
                        written_s = now_s
            finally:
                self._stopping = True
        while not self._events.empty():  # what ended in the very last moment is kept
            self._take_events()
        self._next = [*(work.planned for work in self._work.values()), *self._next]
        self._work.clear()
        self._write_page(stopped=f"Stopped at {_clock()}. What was finished is kept.")

    # --- what is there ------------------------------------------------------------------------

    def _look(self, *, first: bool = False) -> None:
        try:
            self._there = self._arrivals.look(time.monotonic())
            # Planned again only when something is new: files, the sheet, somebody else's work.
            now_s = time.monotonic()
            again = [sha for sha, until_s in self._elsewhere.items() if until_s <= now_s]
            for sha in again:
                del self._elsewhere[sha]
            seen = (self._ready(), self._sheet_state())
            if seen != self._seen or again:
                self._plan()
                self._seen = seen
        except (SideonError, OSError, sqlite3.Error) as error:
            if first:
                raise SettingsError(_folder_words(error, self._arrivals.folder)) from error
            self._say_once(_folder_words(error, self._arrivals.folder))

    def _ready(self) -> dict[Path, State]:
        return {a.path: a.state for a in self._there if a.ready}

    def _sheet_state(self) -> State | None:
        sheet = self._settings.sheet
        if sheet is None:
            return None
        status = sheet.stat()
        return status.st_size, status.st_mtime_ns

    def _plan(self) -> None:
        plan = make_plan(list(self._ready()), self._season, self._settings, self._prints)
        note_plan(self._season, self._settings, plan)
        self._problems = plan.problems
        places = [p.place for p in plan.to_do] + [place for place, _ in plan.done]
        self._known = {place.sha256: self._arrivals.folder / place.file for place in places}
        self._had |= {place.sha256 for place, _ in plan.done}
        in_work = {work.planned.place.sha256 for work in self._work.values()}
        self._next = [
            planned
            for planned in plan.to_do
            if planned.place.sha256 not in in_work
            and planned.place.sha256 not in self._elsewhere
            # Known once and no more: the athlete was forgotten meanwhile.
            and (
                planned.place.sha256 not in self._had
                or self._season.known(planned.place.sha256) is not None
            )
        ]
        for line in (*plan.problems, *plan.remarks):
            self._say_once(line)

    # --- work ---------------------------------------------------------------------------------

    def _begin(self, threads: ThreadPoolExecutor) -> None:
        """Hand out the clips that wait, one a free worker."""
        ready = self._ready()
        while self._next and len(self._work) < self._workers:
            planned = self._next.pop(0)
            path = Path(planned.job.path)
            if path in ready and path not in self._work:
                self._work[path] = _Work(planned, ready[path])
                threads.submit(self._review_one, path, planned)

    def _review_one(self, path: Path, planned: Planned) -> None:
        """Review one clip, in a thread of its own and a process of its own."""
        told = False

        def on_event(event: Event) -> None:
            nonlocal told
            told = told or event.outcome is not None
            self._events.put((path, event))

        try:
            run_reviews(
                [planned.job], 1, on_event, review=self._review, stop=lambda: self._stopping
            )
        except Exception as error:
            if not told and not self._stopping:
                why = f"The program failed: {error!r}."
                on_event(Event(0, planned.job, 1.0, Outcome(planned.job, "crashed", why=why)))

    def _take_events(self) -> bool:
        """Take what the workers tell; True when a clip ended."""
        ended = False
        try:
            path, event = self._events.get(timeout=0.2)
            while True:
                if event.outcome is None:
                    if path in self._work:
                        self._work[path].share = event.share
                else:
                    self._ended(path, event.outcome)
                    ended = True
                path, event = self._events.get_nowait()
        except queue.Empty:
            return ended

    def _ended(self, path: Path, outcome: Outcome) -> None:
        work = self._work.pop(path)
        place = work.planned.place
        self._seen = None
        if outcome.status == "elsewhere":
            self._elsewhere[place.sha256] = time.monotonic() + ELSEWHERE_S
            return
        try:
            status = path.stat()
        except OSError:
            return  # taken away meanwhile: nothing to be said of it
        if (status.st_size, status.st_mtime_ns) != work.state:
            return  # written anew meanwhile: it comes again
        try:
            keep_outcome(self._season, work.planned, outcome)
            self._had.add(place.sha256)
            write_season_pages(self._season)
        except (SideonError, sqlite3.Error) as error:
            self._say_once(f"{place.file} could not be kept: {error}")
            return
        if outcome.status == "done":
            self._tell(f"{place.athlete}: {outcome.gathered.first_text} ({place.file})")
        else:
            self._tell(f"{place.file}: {outcome.why}")

    # --- the page -----------------------------------------------------------------------------

    def _write_page(self, *, stopped: str = "") -> None:
        try:
            page = RunningPage(tuple(self._rows()), self._problems, _clock(), stopped)
            write_running_page(self._season.folder, page)
        except (SideonError, sqlite3.Error) as error:
            self._say_once(str(error))

    def _rows(self) -> list[RunningRow]:
        """Return a row for each clip in the folder, newest first."""
        of_file = {path: sha for sha, path in self._known.items()}
        clips = {clip.sha256: clip for clip in read.clips(self._season)}
        waiting = {Path(planned.job.path): planned for planned in self._next}
        rows = []
        for arrival in sorted(self._there, key=lambda a: -a.state[1]):
            path = arrival.path
            clip = clips.get(of_file.get(path, ""))
            if path in self._work:
                work = self._work[path]
                athlete = words.name(work.planned.place.athlete)
                rows.append(RunningRow(path.name, athlete, "in work", work.share))
            elif path in waiting:
                athlete = words.name(waiting[path].place.athlete)
                rows.append(RunningRow(path.name, athlete, "waiting"))
            elif arrival.cut_off:
                rows.append(RunningRow(path.name, "", "failed", why=_CUT_OFF))
                self._say_once(f"{path.name}: {_CUT_OFF}", arrival.state)
            elif not arrival.ready:
                rows.append(RunningRow(path.name, "", "coming in"))
            elif clip is not None:
                rows.append(self._finished(clip, path.name))
        return rows

    def _finished(self, clip: SeasonClip, file: str) -> RunningRow:
        name = words.name(clip.athlete)
        if not clip.reviewed:
            return RunningRow(file, name, "failed", why=clip.error)
        first = first_title(self._season, clip)
        return RunningRow(file, name, "done", first=first, link=clip.pages)

    def _say_once(self, line: str, state: object = None) -> None:
        key = f"{line}{state or ''}"
        if key not in self._told:
            self._told.add(key)
            self._tell(line)


_CUT_OFF = "Only a part of this clip is here, and nothing more comes: copy it again."


def _folder_words(error: Exception, folder: Path) -> str:
    if isinstance(error, OSError):
        place = error.filename or folder
        return f"{place} cannot be read ({error.strerror}): check that it is there."
    return str(error)


def _clock() -> str:
    return time.strftime("%H:%M:%S")
