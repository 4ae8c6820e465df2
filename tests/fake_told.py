"""A stand-in for the review of a clip in the review command: takes as long as the "clip" says."""

from __future__ import annotations

import json
import os
import shutil
import time
from pathlib import Path
from typing import Any

from analysis.errors import NoRowerError
from analysis.job import Job, Progress
from analysis.output.index import IndexEntry
from cli.review_run import Told


def review(job: Job, progress: Progress) -> tuple[str, Any]:
    """Write a folder as reviews do: hidden until it is whole."""
    source = Path(job.path)
    said = source.read_text()
    if said == "nobody":
        raise NoRowerError("Nobody rows in this clip: film from the side.")
    folder = Path(job.out_dir) / job.out_name
    part = folder.with_name(f".{folder.name}.part")
    part.mkdir(parents=True)
    try:
        time.sleep(0.0 if said == "names" else float(said))
        quiet = job.share and said != "names"
        name = "clip.mp4" if quiet else source.name
        facts = {"file": name, "pid": os.getpid()}
        (part / "review.json").write_text(json.dumps(facts))
        if folder.exists():
            shutil.rmtree(folder)
        part.rename(folder)
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise
    entry = IndexEntry(source=name, athlete="", out_name=job.out_name, strokes=3)
    return str(folder), Told(entry, (name, f"{source.name} was reviewed"))
