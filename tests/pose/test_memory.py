"""Memory goes back to the system; where it cannot, nothing happens."""

from __future__ import annotations

import ctypes
import platform
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


def test_without_such_a_function_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda name: object())
    give_back()
