"""Stand-ins for the review of a clip, found by new processes: quick, slow, broken, deadly."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from typing import Any

from analysis.errors import NoRowerError
from analysis.job import Job, Progress


def by_content(job: Job, progress: Progress) -> tuple[str, Any]:
    """Do what the "clip" says: its first word is the command, its second a number."""
    word, _, rest = Path(job.path).read_text().partition(" ")
    progress(0.5)
    if word == "nobody":
        raise NoRowerError("Nobody rows in this clip: film from the side.")
    if word == "bug":
        raise ZeroDivisionError("by nought")
    if word == "memory":
        raise MemoryError
    if word == "unsendable":
        return job.out_dir, lambda: None
    if word == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if word == "die-once":
        mark = Path(job.path + ".died")
        if not mark.exists():
            mark.touch()
            os._exit(7)
    if word == "sleep":
        Path(job.path + ".begun").write_text(str(os.getpid()))
        time.sleep(float(rest))
    folder = Path(job.out_dir) / job.out_name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "pid").write_text(str(os.getpid()))
    threads = os.environ.get("OMP_NUM_THREADS")
    return str(folder), {"said": rest, "pid": os.getpid(), "threads": threads}


def imports_seen(job: Job, progress: Progress) -> tuple[str, Any]:
    return job.out_dir, sorted(sys.modules)
