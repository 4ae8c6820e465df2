"""Bench of the season: 60 clips of 20 athletes on three days, killed in the middle and resumed.

Run as ``python -m tests.season.resume_bench FOLDER [--athletes N] [--seconds S] [--width W]`` from
the top of the checkout; FOLDER is made, and kept. The clips are the sample clips, shortened, made
smaller and each re-timed by a few per cent of its own, so that no two have the same content. They
are reviewed in one undisturbed ``sideon squad``, and once more into a second season by a command
that is killed with SIGKILL twice and started again. Landmarks are kept in a folder of each
season's own, so that nothing of the first run helps the second.

What is expected: both seasons hold the same to the last digit, and the same pages.
"""

from __future__ import annotations

import argparse
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.clip import Clip
from analysis.output.video import VideoWriter, fitting_size
from analysis.season.export import season_data
from analysis.season.schema import FILE_NAME
from analysis.season.store import Season

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_clips"
DAYS = ("2026-09-05", "2026-09-19", "2026-10-03")


@dataclass(frozen=True)
class Film:
    """How the clips are made from the sample clips."""

    athletes: int = 20
    seconds: float = 9.0
    width_px: int = 480


def film(folder: Path, how: Film) -> list[Path]:
    """Make the clips; those that are there already are left."""
    folder.mkdir(parents=True, exist_ok=True)
    samples = sorted(SAMPLES.glob("*.mp4"))
    paths = []
    for number in range(how.athletes):
        for k, day in enumerate(DAYS):
            path = folder / f"rower{number:02d}_{day}.mp4"
            if not path.exists():
                slower = 0.96 + 0.04 * k + 0.003 * number
                _retimed(samples[(number + k) % len(samples)], path, slower, how)
            paths.append(path)
    return paths


def _retimed(source: Path, target: Path, slower: float, how: Film) -> None:
    with Clip(source, to_s=how.seconds) as clip:
        frames = [(frame.t_s * slower, frame.rgb.copy()) for frame in clip]
    height, width = frames[0][1].shape[:2]
    size = fitting_size(width, height, how.width_px, 0)
    lasts_s = float(np.median(np.diff([t_s for t_s, _ in frames])))
    part = target.with_suffix(".part")
    with Clip(source, to_s=how.seconds) as clip, VideoWriter(part, *size) as video:
        for frame in clip:
            video.write(frame.bgr(*size), frame.t_s * slower, lasts_s)
    part.rename(target)


def begin(clips: Path, season: Path, more: Sequence[str] = ()) -> subprocess.Popen[bytes]:
    """Start the command, with landmarks kept beside the season."""
    log = season.with_suffix(".log").open("ab")
    return subprocess.Popen(
        [sys.executable, "-m", "cli.main", "squad", str(clips), "--season", str(season), *more],
        cwd=ROOT,
        env=os.environ | {"SIDEON_CACHE": str(season.with_suffix(".landmarks"))},
        stdout=log,
        stderr=log,
    )


def done(season: Path) -> int:
    """Return how many clips a season holds, without opening it as the program does."""
    try:
        with sqlite3.connect(f"file:{season / FILE_NAME}?mode=ro", uri=True) as database:
            return int(database.execute("SELECT count(*) FROM clips").fetchone()[0])
    except sqlite3.OperationalError:
        return 0


def kill_when(running: subprocess.Popen[bytes], season: Path, count: int) -> int:
    """Kill the command with SIGKILL once so many clips are kept; return how many are then."""
    while done(season) < count and running.poll() is None:
        time.sleep(0.05)
    os.kill(running.pid, signal.SIGKILL)
    running.wait()
    time.sleep(3.0)  # its workers end by themselves
    return done(season)


def pages(season: Path) -> dict[str, bytes]:
    """Return every page and table of a season by its place."""
    kinds = {".html", ".csv", ".json"}
    return {
        str(path.relative_to(season)): path.read_bytes()
        for path in sorted(season.rglob("*"))
        if path.suffix in kinds
    }


def main() -> None:
    """Film, run, kill, resume, compare."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--athletes", type=int, default=Film.athletes)
    parser.add_argument("--seconds", type=float, default=Film.seconds)
    parser.add_argument("--width", type=int, default=Film.width_px)
    said = parser.parse_args()
    place = said.folder.resolve()
    paths = film(place / "clips", Film(said.athletes, said.seconds, said.width))
    print(f"{len(paths)} clips", flush=True)
    whole, killed = place / "whole", place / "killed"
    start = time.monotonic()
    code = begin(place / "clips", whole).wait()
    print(f"undisturbed: {time.monotonic() - start:.0f} s, exit code {code}, {done(whole)} clips")
    start = time.monotonic()
    for share in (0.35, 0.7):
        kept = kill_when(begin(place / "clips", killed), killed, round(share * len(paths)))
        print(f"killed with {kept} clips kept", flush=True)
    code = begin(place / "clips", killed).wait()
    print(f"resumed: {time.monotonic() - start:.0f} s in all, exit code {code}")
    data = []
    for folder in (whole, killed):
        with Season(folder, create=False) as season:
            assert season.check() == [], season.check()
            data.append(season_data(season))
    rows = sum(len(rows) for rows in data[0].values() if isinstance(rows, list))
    reviewed = sum(clip["status"] == "reviewed" for clip in data[0]["clips"])
    print(f"{reviewed} of {len(data[0]['clips'])} reviewed, {rows} rows")
    print("same database:", data[0] == data[1])
    print("same pages:", pages(whole) == pages(killed))
    sys.exit(0 if data[0] == data[1] and pages(whole) == pages(killed) else 1)


if __name__ == "__main__":
    main()
