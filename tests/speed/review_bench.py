"""How fast a review is, beside the loop that somebody writes first and beside the models alone.

    python tests/speed/review_bench.py                    everything, an hour or more
    python tests/speed/review_bench.py --clips 1 --size 540 --repeats 5
    python tests/speed/review_bench.py --growth 10,60,600 time and memory over a clip's length

Every number is wall time of a process of its own, start-up and all, except for the models alone.
Contenders take turns within one run, so that ratios hold on a busy machine better than times do;
given are medians over the repeats, and in brackets the lowest and the highest. Each run is told of
on standard error as it ends: naive, review, models, naive on one thread, review that keeps its
landmarks, review from them.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.speed.bench_clips import make_clip, sample_clips  # noqa: E402

#: Bits of Python that are run as processes of their own; the first argument is the output folder.
NAIVE = """
import sys; from pathlib import Path; from tests.speed.naive import naive_loop
for clip in sys.argv[2:]:
    naive_loop(Path(clip), Path(sys.argv[1]) / ("naive_" + Path(clip).stem + ".mp4"), THREADS)
"""
FLOOR = """
import sys; from pathlib import Path; from tests.speed.floor import floor_seconds
floors = [floor_seconds(Path(clip)) for clip in sys.argv[2:]]
print(sum(f.every_frame_s for f in floors), sum(f.in_turns_s for f in floors))
"""


@dataclass(frozen=True)
class Run:
    """Wall time, processor time (s) and the largest memory of a process and its children, MB."""

    seconds: float
    cpu_s: float
    peak_mb: float
    said: str


def run(words: list[str], cache: Path) -> Run:
    """Run a command to its end and watch it."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "SIDEON_CACHE": str(cache)}
    # What the machine's owner set for other runs is not what a user has.
    # An installed program comes with its bytecode.
    for name in ("OMP_NUM_THREADS", "SIDEON_CORES", "PYTHONDONTWRITEBYTECODE"):
        environment.pop(name, None)
    before = os.times()
    start = time.perf_counter()
    process = subprocess.Popen(
        words, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    watch = _Memory(process.pid)
    said, wrong = process.communicate()
    seconds = time.perf_counter() - start
    after = os.times()
    watch.stop()
    if process.returncode:
        raise SystemExit(f"{' '.join(words)[:200]}\n{wrong[-2000:]}")
    cpu_s = after.children_user + after.children_system
    cpu_s -= before.children_user + before.children_system
    told = f"    {seconds:.1f} s, processor {cpu_s:.1f} s, {watch.peak_mb:.0f} MB, load {_load()}"
    print(told, file=sys.stderr, flush=True)
    return Run(seconds, cpu_s, watch.peak_mb, said)


def _load() -> str:
    return f"{os.getloadavg()[0]:.1f}"


class _Memory:
    """Samples the memory of a process and all that it started; Linux only, else NaN."""

    def __init__(self, pid: int) -> None:
        self.peak_mb = 0.0 if Path("/proc/self/smaps_rollup").exists() else float("nan")
        self._pid, self._over = pid, threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._over.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._over.wait(0.25):
            self.peak_mb = max(self.peak_mb, sum(map(_shared_out_mb, _family(self._pid))))


def _family(pid: int) -> list[int]:
    found = [pid]
    for parent in found:
        try:
            for task in Path(f"/proc/{parent}/task").iterdir():
                found += map(int, (task / "children").read_text().split())
        except OSError:
            continue
    return found


def _shared_out_mb(pid: int) -> float:
    """Proportional set size: memory shared between processes counts once in all."""
    try:
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) / 1024
    except OSError:
        pass
    return 0.0


def naive(clips: list[Path], folder: Path, threads: int = 0) -> Run:
    """Time the naive loop over clips, one after the other."""
    code = NAIVE.replace("THREADS", str(threads))
    return run([sys.executable, "-c", code, str(folder), *map(str, clips)], folder / "unused")


def review(clips: list[Path], folder: Path, *more: str, cache: Path | None = None) -> Run:
    """Time the whole review with all outputs."""
    words = [sys.executable, "-m", "cli.main", "review", *map(str, clips)]
    words += ["--out", str(folder / "reviewed"), "--quiet", *more]
    return run(words, cache or folder / "unused")


def floor(clips: list[Path], folder: Path) -> tuple[float, float]:
    """Return the time of the models alone, s: on every frame, and as often as a review does."""
    words = [sys.executable, "-c", FLOOR, str(folder), *map(str, clips)]
    every, in_turns = map(float, run(words, folder / "unused").said.split())
    return every, in_turns


def spread(values: list[float]) -> str:
    """Return median, lowest and highest as text, three digits each."""
    return f"{statistics.median(values):.3g} ({min(values):.3g}–{max(values):.3g})"


def compare(clips: list[Path], folder: Path, repeats: int, cores: int) -> None:
    """Print one line: times, ratios and memory for these clips."""
    rows: dict[str, list[float]] = {}

    def note(name: str, value: float) -> None:
        rows.setdefault(name, []).append(value)

    for number in range(repeats):
        cache = folder / f"cache{number}"
        first = naive(clips, folder)
        ours = review(clips, folder, "--no-cache")
        least, in_turns = floor(clips, folder)
        again = naive(clips, folder, threads=1)
        keeping = review(clips, folder, cache=cache)
        kept = review(clips, folder, "--standard", "trained", cache=cache)
        note("naive s", first.seconds)
        note("naive, one thread s", again.seconds)
        note("review s", ours.seconds)
        note("models s", least)
        note("models in turns s", in_turns)
        note("naive processor s", first.cpu_s)
        note("review processor s", ours.cpu_s)
        note("review / naive processor", ours.cpu_s / first.cpu_s)
        note("review MB", ours.peak_mb)
        note("naive MB", first.peak_mb)
        note("review / naive", ours.seconds / first.seconds)
        note("review / naive one thread", ours.seconds / again.seconds)
        note("review / (models / cores)", ours.seconds / (least / cores))
        note("same, models in turns", ours.seconds / (in_turns / cores))
        note("kept / first", kept.seconds / keeping.seconds)
    for name, values in rows.items():
        print(f"  {name:28s} {spread(values)}", flush=True)


def growth(lengths_s: list[float], folder: Path, size: int) -> None:
    """Print time and memory over the length of one clip."""
    for seconds in lengths_s:
        clip = make_clip(sample_clips()[0], folder / f"ann_{seconds:g}s.mp4", size, seconds)
        ours = review([clip], folder, "--no-cache")
        print(
            f"  {seconds:6g} s of {size}p: {ours.seconds:7.1f} s, {ours.seconds / seconds:.2f} s "
            f"a second, {ours.peak_mb:.0f} MB",
            flush=True,
        )
        clip.unlink()


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", default="1,4,16")
    parser.add_argument("--size", default="540,1080,2160")
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--growth", default="", help="Lengths in seconds; nothing else is run.")
    chosen = parser.parse_args()
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    print(f"{cores} cores, load {_load()}", flush=True)
    with tempfile.TemporaryDirectory(prefix="sideon-bench-") as name:
        folder = Path(name)
        if chosen.growth:
            growth([float(s) for s in chosen.growth.split(",")], folder, int(chosen.size[:4]))
            return
        for size in map(int, chosen.size.split(",")):
            for count in map(int, chosen.clips.split(",")):
                sources = sample_clips()
                clips = [
                    make_clip(
                        sources[i % len(sources)],
                        folder / f"a{i:02d}_{size}.mp4",
                        size,
                        chosen.seconds,
                    )
                    for i in range(count)
                ]
                print(f"{count} × {chosen.seconds:g} s of {size}p", flush=True)
                compare(clips, folder, chosen.repeats, cores or 1)
                for clip in clips:
                    clip.unlink()
    print(f"load {_load()}")


if __name__ == "__main__":
    main()
