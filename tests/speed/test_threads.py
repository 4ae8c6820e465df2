"""Native thread pools stay as small as the work: same sums on any number of cores."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

_RUN = """
import analysis
import numpy, scipy.linalg
big = numpy.ones((700, 700))
big @ big
print(next(l for l in open("/proc/self/status") if l.startswith("Threads:")).split()[1])
"""


def threads(**more: str) -> int:
    """Return how many threads a process has after linear algebra with this environment."""
    pools = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")
    usual = {name: value for name, value in os.environ.items() if name not in pools}
    done = subprocess.run(
        [sys.executable, "-c", _RUN],
        cwd=ROOT,
        env={**usual, **more},
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout)


needs_proc = pytest.mark.skipif(
    not Path("/proc/self/status").exists() or (os.cpu_count() or 1) < 2,
    reason="threads are counted in /proc, and two cores are needed for the difference",
)


@needs_proc
def test_linear_algebra_keeps_to_one_thread() -> None:
    assert threads() == 1


@needs_proc
def test_who_asks_for_more_gets_more() -> None:
    """The test above counts what it means to: with two threads asked for there are more."""
    assert threads(OPENBLAS_NUM_THREADS="2") > 1


@needs_proc
def test_pictures_keep_to_one_thread() -> None:
    usual = {k: v for k, v in os.environ.items() if k != "OPENCV_FOR_THREADS_NUM"}
    told = [
        subprocess.run(
            [sys.executable, "-c", f"{first}import cv2; print(cv2.getNumThreads())"],
            cwd=ROOT, env=usual, capture_output=True, text=True, check=True,
        ).stdout.strip()
        for first in ("", "import analysis; ")
    ]  # fmt: skip
    assert int(told[0]) > 1 and told[1] == "1"
