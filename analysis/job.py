"""One clip to review and write, whatever goes wrong with it turned into an outcome."""

from __future__ import annotations

import errno
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from analysis.errors import ClipError, SideonError

if TYPE_CHECKING:
    from analysis.result import Review
    from analysis.review import ReviewOptions

#: Share of a clip's work that reviewing takes; the rest is drawing and writing.
_REVIEWED = 0.75

#: The same for something to be shared, and where blurring ends.
_REVIEWED_TO_SHARE, _BLURRED = 0.5, 0.85

Progress = Callable[[float], None]
Status = Literal["done", "failed", "crashed", "elsewhere"]


@dataclass(frozen=True)
class Job:
    """One clip to review and write.

    Attributes
    ----------
    path, out_dir, out_name : str
        The clip, and where its folder of pages goes.
    standard : str
        A shipped name or a TOML file; the athlete's own limits are laid over it.
    options : ReviewOptions, optional
    draw : bool
        Make the annotated clip.
    gather : callable, optional
        Takes the review and its folder, in the worker; gives something small that can be pickled.
    share : bool
        Write something to be shared: faces blurred, no names.
    private : bool
        Make files that only their owner can read.
    lock : str
        A file in which this clip's own place is locked while it is worked on, so that two runs
        on one season never write the same pages; empty for none.
    language : str
        The language of the page.
    one_file : bool
        Write the page with everything in it as one file too.
    """

    path: str
    out_dir: str
    out_name: str
    standard: str = "novice"
    options: ReviewOptions | None = None
    draw: bool = True
    gather: Callable[[Review, Path], Any] | None = None
    share: bool = False
    private: bool = False
    lock: str = ""
    language: str = "en"
    one_file: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of a job.

    ``failed``: the clip cannot be reviewed, and another try would say the same. ``crashed``:
    something else went wrong (a full disk, a fault of ours); another try may do better.
    ``elsewhere``: another run is at work on it. `why` is a plain sentence unless ``done``;
    `gathered` is what the job's ``gather`` gave.
    """

    job: Job
    status: Status
    why: str = ""
    folder: str = ""
    gathered: Any = None
    seconds: float = 0.0


@dataclass(frozen=True)
class Event:
    """Something to tell: a job started, got on (`share`, 0…1) or ended (`outcome`)."""

    index: int
    job: Job
    share: float
    outcome: Outcome | None = None


OnEvent = Callable[[Event], None]
ReviewJob = Callable[[Job, Progress], tuple[str, Any]]


def review_job(job: Job, progress: Progress) -> tuple[str, Any]:
    """Review one clip and write its pages, here and now.

    Returns
    -------
    (str, object)
        The folder written and what was gathered.

    Raises
    ------
    SideonError
        When the clip cannot be reviewed or its pages cannot be written.
    """
    from analysis.coaching.standard import load_standard
    from analysis.output.language import text_of
    from analysis.review import ReviewOptions, athlete_of, review_clip

    path, options = Path(job.path), job.options or ReviewOptions()
    reviewed = _REVIEWED_TO_SHARE if job.share else _REVIEWED
    standard = load_standard(job.standard, athlete=options.athlete or athlete_of(path))
    review = review_clip(
        path, standard, options, out_name=job.out_name, progress=_part(progress, 0.0, reviewed)
    )
    from analysis.output.write import write_review

    blurred = _part(progress, reviewed, _BLURRED)
    with _to_be_written(job, review, blurred) as shown:
        folder = write_review(
            shown,
            Path(job.out_dir),
            draw=job.draw,
            text=text_of(job.language),
            one_file=job.one_file,
            keep=options.keep and not job.share,
            progress=_part(progress, _BLURRED if job.share else reviewed, 1.0),
        )
    return str(folder), None if job.gather is None else job.gather(shown, folder)


def _part(progress: Progress, start: float, end: float) -> Progress:
    """Map a part's own share done onto its stretch of the whole."""
    return lambda share: progress(start + share * (end - start))


@contextmanager
def _to_be_written(job: Job, review: Review, progress: Progress) -> Iterator[Review]:
    """Give the review as it is, or what of it may be shared."""
    if not job.share:
        yield review
        return
    from analysis.output.season.share import shareable

    with tempfile.TemporaryDirectory(prefix="sideon-share-") as folder:
        yield shareable(review, Path(folder), progress=progress)


def perform(job: Job, progress: Progress, review: ReviewJob = review_job) -> Outcome:
    """Carry out one job, turning whatever goes wrong into its outcome."""
    start = time.perf_counter()

    def ended(status: Status, **more: Any) -> Outcome:
        return Outcome(job, status, seconds=time.perf_counter() - start, **more)

    try:
        with private_files(job.private), _locked(job) as free:
            if not free:
                return ended("elsewhere", why="Another run is reviewing this clip.")
            folder, gathered = review(job, progress)
            return ended("done", folder=folder, gathered=gathered)
    except ClipError as error:
        return ended("failed", why=str(error))
    except SideonError as error:
        return ended("crashed", why=str(error))
    except MemoryError:
        return ended("crashed", why="There was not enough memory: use fewer --workers.")
    except Exception as error:  # whatever it is, the other clips go on
        place = _last_place(error)
        return ended("crashed", why=f"The program failed: {type(error).__name__}: {error}{place}.")


@contextmanager
def private_files(private: bool = True) -> Iterator[None]:
    """Have new files be readable for their owner alone, if `private`."""
    if not private:
        yield
        return
    old_mask = os.umask(0o077)
    try:
        yield
    finally:
        os.umask(old_mask)


def _last_place(error: BaseException) -> str:
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    if trace is None:
        return ""
    return f" ({Path(trace.tb_frame.f_code.co_filename).name} line {trace.tb_lineno})"


@contextmanager
def _locked(job: Job) -> Iterator[bool]:
    """Hold the clip's own place in the lock file; the system lets go of it if we are killed."""
    if not job.lock:
        yield True
        return
    import hashlib

    digest = hashlib.sha256(f"{job.out_dir}/{job.out_name}".encode()).hexdigest()
    with open(job.lock, "ab") as file:
        file.seek(int(digest[:7], 16))
        try:
            if sys.platform == "win32":
                import msvcrt

                msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, int(digest[:7], 16))
        except OSError as error:
            if error.errno not in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
                raise
            yield False
            return
        yield True
