"""Mutated clips against the reader: never a traceback, never a hang, never a crash.

    python tests/fuzz/reader_bench.py [--files 500] [--seed 1]

Meant for the night; tests/test_clip.py does the same with 56 files in every run. Files are read in
processes of fifty, so that a crash in native code is counted and not suffered. Exit code 1 when
anything but a whole reading or one plain sentence of refusal came of a file.
"""

from __future__ import annotations

import argparse
import json
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from analysis.clip import Clip
from analysis.errors import UnreadableClipError
from tests.made_clips import make_clip

#: A file of a few kB that takes longer is a hang, s.
LONGEST_S = 20
_CHUNK = 50


def seeds(folder: Path) -> list[Path]:
    """Make one clip of each container and codec."""
    avi = {"time_base": Fraction(1, 30)}
    return [
        make_clip(folder / "h264.mp4", turn_deg=90),
        make_clip(folder / "h264.mov", sound=True),
        make_clip(folder / "hevc.mp4", codec="libx265", options={"x265-params": "log-level=none"}),
        make_clip(folder / "vp9.mkv", codec="libvpx-vp9", options={"cpu-used": "8"}),
        make_clip(folder / "av1.mkv", codec="libsvtav1", size=(64, 64)),
        make_clip(folder / "mpeg4.avi", codec="mpeg4", **avi),  # type: ignore[arg-type]
        make_clip(folder / "jpeg.avi", codec="mjpeg", pix_fmt="yuvj420p", **avi),  # type: ignore[arg-type]
    ]


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Spoil a file in one of the ways in which files are spoilt."""
    out = bytearray(data)
    how = rng.randrange(6)
    if how == 0:  # single bytes
        for _ in range(rng.choice((1, 4, 30, 200))):
            out[rng.randrange(len(out))] = rng.randrange(256)
    elif how == 1:  # cut off
        del out[rng.randrange(len(out)) :]
    elif how == 2:  # a piece missing
        start = rng.randrange(len(out))
        del out[start : start + rng.randrange(1, 400)]
    elif how == 3:  # a run of zeros, as a bad card leaves it
        start = rng.randrange(len(out))
        out[start : start + 512] = bytes(len(out[start : start + 512]))
    elif how == 4:  # extreme numbers in the headers
        for _ in range(rng.randrange(1, 6)):
            start = rng.randrange(min(len(out) - 4, 1200))
            out[start : start + 4] = rng.choice((b"\xff" * 4, b"\x00" * 4, b"\x7f\xff\xff\xff"))
    else:  # two pieces swapped
        a, b = sorted(rng.randrange(len(out) - 64) for _ in range(2))
        out[a : a + 64], out[b : b + 64] = out[b : b + 64], out[a : a + 64]
    return bytes(out)


def read(path: Path) -> str:
    """Read one file through; return what came of it."""

    def too_long(*_: object) -> None:
        raise TimeoutError

    signal.signal(signal.SIGALRM, too_long)
    signal.alarm(LONGEST_S)
    try:
        with Clip(path) as clip:
            times = [frame.t_s for frame in clip if frame.rgb.size]
            clip.facts()
        return "read" if np.all(np.diff(times) > 0) else "times run back"
    except UnreadableClipError as error:
        plain = str(error).endswith(".") and "\n" not in str(error)
        return "refused" if plain else f"no plain sentence: {error}"
    except TimeoutError:
        return "hang"
    except Exception as error:
        return f"traceback: {type(error).__name__}: {error}"
    finally:
        signal.alarm(0)


def read_chunk(folder: Path, first: int, last: int, seed: int) -> None:
    """Mutate and read files `first` to `last`; one JSON line each."""
    originals = [path.read_bytes() for path in sorted(folder.glob("*.*"))]
    names = sorted(folder.glob("*.*"))
    for number in range(first, last):
        which = number % len(originals)
        with tempfile.TemporaryDirectory() as place:
            path = Path(place) / f"clip{names[which].suffix}"
            path.write_bytes(mutated(originals[which], random.Random(seed * 1_000_003 + number)))
            begun = time.monotonic()
            result = read(path)
        took_s = time.monotonic() - begun
        line = {"file": number, "of": names[which].name, "result": result, "took_s": took_s}
        print(json.dumps(line), flush=True)


def main() -> int:
    """Run the bench; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--chunk", nargs=3, help=argparse.SUPPRESS)
    told = parser.parse_args()
    if told.chunk:
        read_chunk(Path(told.chunk[0]), int(told.chunk[1]), int(told.chunk[2]), told.seed)
        return 0
    lines = []
    with tempfile.TemporaryDirectory() as place:
        seeds(Path(place))
        first = 0
        while first < told.files:
            last = min(first + _CHUNK, told.files)
            command = [sys.executable, __file__, "--seed", str(told.seed)]
            done = subprocess.run(
                [*command, "--chunk", place, str(first), str(last)],
                capture_output=True,
                text=True,
                check=False,
            )
            got = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
            if done.returncode:  # goes on behind the file that ended the process
                got.append({
                    "file": first + len(got), "of": "?", "took_s": 0.0,
                    "result": f"crash: exit code {done.returncode}",
                })  # fmt: skip
            lines += got
            first += len(got)
    kinds = Counter(line["result"] for line in lines)
    longest = max(lines, key=lambda line: line["took_s"])
    print(f"{len(lines)} files, seed {told.seed}")
    for kind, count in kinds.most_common():
        print(f"  {count:5d} {kind}")
    print(f"  longest {longest['took_s']:.1f} s ({longest['of']}, file {longest['file']})")
    for line in lines:
        if line["result"] not in ("read", "refused"):
            print(f"  file {line['file']} of {line['of']}: {line['result']}")
    return 0 if set(kinds) <= {"read", "refused"} else 1


if __name__ == "__main__":
    sys.exit(main())
