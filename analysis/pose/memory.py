"""Giving memory back to the system."""

from __future__ import annotations

import ctypes
from contextlib import suppress


def give_back() -> None:
    """Have C's allocator return what was freed to the system, where it can be told to (glibc).

    What models and decoders used in their threads stays with the allocator when they are gone, in
    pieces that the next ones do not fit into: 160 MB after a clip's landmarks, 100 MB after the
    strokes of ten minutes, beside which all that a long clip needs next would stand.
    """
    # No such function, or no such library: macOS, Windows and others are left to themselves.
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).malloc_trim(0)
