"""Memory goes back to the system; where it cannot, nothing happens."""

from __future__ import annotations

import ctypes
import os
import platform
import subprocess
import sys
from pathlib import Path

import pytest

from analysis.pose.memory import give_back


def resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc can be told to")
def test_what_was_freed_goes_back() -> None:
    kept = [bytes(4000) for _ in range(30_000)]
    last = bytes(4000)  # above the rest, so that they are not simply cut off
    full = resident_mb()
    del kept[:]
    give_back()
    assert resident_mb() < full - 60
    assert last


COUNTING = """
import ctypes, os, threading
import analysis

most = max(2, os.cpu_count())
begun, over = threading.Barrier(4 * most + 1), threading.Event()

def hold():
    kept = [bytes(1000) for _ in range(100)]
    begun.wait()
    over.wait()

threads = [threading.Thread(target=hold) for _ in range(4 * most)]
for thread in threads:
    thread.start()
begun.wait()
libc = ctypes.CDLL(None)
libc.malloc_info(0, ctypes.c_void_p.in_dll(libc, "stdout"))
libc.fflush(None)
over.set()
print("most", most)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc can be told to")
def test_threads_share_few_places_to_take_memory_from() -> None:
    without = {k: v for k, v in os.environ.items() if k != "MALLOC_ARENA_MAX"}
    root = Path(__file__).resolve().parents[2]
    words = [sys.executable, "-c", COUNTING]
    done = subprocess.run(words, cwd=root, env=without, capture_output=True, text=True, check=True)
    most = int(done.stdout.split()[-1])
    assert 2 <= done.stdout.count("<heap nr=") <= most


def test_without_such_a_function_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda name: object())
    give_back()
