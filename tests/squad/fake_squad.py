"""A squad without cameras: small files that say what a clip of them would have shown."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import made_season as made
import numpy as np

from analysis.errors import NoRowerError
from analysis.job import Job, Progress

DAYS = ("2026-01-12", "2026-02-09", "2026-03-09")


def film(folder: Path, athlete: str, day: str, **shown: Any) -> Path:
    """Put down a "clip" named as without a sheet."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{athlete}_{day}.mp4"
    path.write_text(json.dumps({"who": athlete, "day": day, **shown}))
    return path


def film_squad(folder: Path, athletes: int, days: tuple[str, ...] = DAYS) -> list[Path]:
    """Film a squad on each day: layback gets better for some, the others stay as they are."""
    paths = []
    for d, day in enumerate(days):
        for i in range(athletes):
            layback = 26.0 - (6.0 * d if i % 3 == 0 else 0.0)
            paths.append(film(folder, f"rower{i:02d}", day, seed=100 * d + i, layback_deg=layback))
    return paths


def review(job: Job, progress: Progress) -> tuple[str, Any]:
    """Stand in for the review of a clip."""
    said = json.loads(Path(job.path).read_text())
    for part in range(4):
        time.sleep(said.get("takes_s", 0.0) / 4)
        progress(0.25 * part)
    if said.get("fails"):
        raise NoRowerError(said["fails"])
    assert job.options is not None
    record = made.record(
        said.get("seed", 0),
        stage=job.options.stage or said.get("stage", "half_slide"),
        strokes=said.get("strokes", 6),
        layback_deg=said.get("layback_deg", 12.0),
        lunge_deg=said.get("lunge_deg", 2.0),
    )
    folder = Path(job.out_dir) / job.out_name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "report.html").write_text(f"<h1>{job.options.athlete}</h1>{job.options.note}")
    (folder / "review.json").write_text("{}")
    for name in ("catch.jpg", "release.jpg", "annotated.mp4"):
        (folder / name).write_bytes(bytes(np.arange(16, dtype=np.uint8)))
    return str(folder), record


def review_for_sharing(job: Job, progress: Progress) -> tuple[str, Any]:
    """Stand in for the review of something to be shared: says only that it was asked for."""
    assert job.share and job.private
    folder = Path(job.out_dir) / job.out_name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "report.html").write_text("<h1>An athlete</h1>")
    (folder / "review.json").write_text("{}")
    return str(folder), None
