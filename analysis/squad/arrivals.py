"""Clips that arrive in a folder: which are whole, and which are still being copied.

The folder is looked through now and then (``os.scandir``), rather than by the system's file events:
those are lost on many network shares, which is where phones' clips tend to arrive.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from analysis.review import CLIP_ENDINGS

#: A file whose container says that it is whole must not have changed for so long, s.
QUIET_S = 3.0

#: A file whose container cannot say it: for so long, s.
LONG_QUIET_S = 20.0

#: A file that is not whole and does not grow for so long is told as cut off, s.
CUT_OFF_S = 60.0

#: Boxes with which an MP4 or QuickTime file begins or goes on at its top level.
_BOXES = {
    b"ftyp", b"moov", b"mdat", b"free", b"skip", b"wide", b"udta", b"uuid", b"pnot", b"meta",
    b"styp", b"sidx", b"moof", b"mfra", b"junk", b"pdin", b"prft", b"emsg", b"ssix",
}  # fmt: skip

#: Size in bytes and time of the last change, ns.
State = tuple[int, int]


@dataclass(frozen=True)
class Arrival:
    """A clip in the folder.

    Attributes
    ----------
    path : Path
    state : (int, int)
        Size and time of change: another state is another file.
    ready : bool
        Whole and quiet: it can be reviewed.
    cut_off : bool
        Not whole, and nothing more comes.
    """

    path: Path
    state: State
    ready: bool = False
    cut_off: bool = False


class Arrivals:
    """What there is in a folder, looked at again and again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._since: dict[Path, tuple[State, float]] = {}
        self._ready: dict[Path, State] = {}

    def look(self, now_s: float) -> list[Arrival]:
        """Return the clips that are there now, in the order of their names.

        Parameters
        ----------
        now_s : float
            A clock that never goes back, s.

        Raises
        ------
        OSError
            When the folder cannot be read.
        """
        states = _states(self.folder)
        self._since = {
            path: (state, now_s)
            if self._since.get(path, (None,))[0] != state
            else self._since[path]
            for path, state in states.items()
        }
        self._ready = {p: state for p, state in self._ready.items() if states.get(p) == state}
        return [self._arrival(path, now_s) for path in sorted(states)]

    def _arrival(self, path: Path, now_s: float) -> Arrival:
        state, since_s = self._since[path]
        quiet_s = now_s - since_s
        if path not in self._ready and quiet_s >= QUIET_S:
            whole = is_whole(path)
            if whole or (whole is None and quiet_s >= LONG_QUIET_S):
                self._ready[path] = state
            elif whole is False and quiet_s >= CUT_OFF_S:
                return Arrival(path, state, cut_off=True)
        return Arrival(path, state, ready=path in self._ready)


def _states(folder: Path) -> dict[Path, State]:
    found = {}
    with os.scandir(folder) as entries:
        for entry in entries:
            name = entry.name
            if name.startswith(".") or not name.lower().endswith(CLIP_ENDINGS):
                continue
            try:
                if entry.is_file():
                    status = os.stat(entry.path)  # entry.stat() may be stale on some systems
                    found[Path(entry.path)] = (status.st_size, status.st_mtime_ns)
            except OSError:  # gone again, or not to be read yet
                continue
    return found


def is_whole(path: Path) -> bool | None:
    """Tell whether a file's container says that all of it is there.

    MP4 and QuickTime: the boxes at the top level (ISO/IEC 14496-12) end exactly where the file
    does, and the index (``moov``) is among them.

    Returns
    -------
    bool or None
        ``None`` when the container cannot say: another kind of file, one of fragments, which may
        end after any of them, or one with something unknown at its end.
    """
    try:
        with path.open("rb") as file:
            return _boxes_whole(file, os.fstat(file.fileno()).st_size)
    except OSError:
        return False  # still locked by whoever copies it


def _boxes_whole(file: BinaryIO, size: int) -> bool | None:
    place, kinds = 0, set[bytes]()
    while place < size:
        file.seek(place)
        head = file.read(16)
        if len(head) < 8:
            return _unknown(kinds)
        length, kind = struct.unpack(">I4s", head[:8])
        # Cameras add boxes of their own, but none begins with one.
        if kind not in _BOXES and not (kinds and kind.isalnum()):
            return _unknown(kinds)
        if length == 1:
            if len(head) < 16:
                return False
            (length,) = struct.unpack(">Q", head[8:])
        elif length == 0:  # as far as the end of the file, wherever that will be
            return None if b"moov" in kinds | {kind} else False
        if length < 8:
            return _unknown(kinds)
        kinds.add(kind)
        place += length
    if b"moof" in kinds:
        return None
    return place == size and b"moov" in kinds


def _unknown(kinds: set[bytes]) -> bool | None:
    """Judge something unknown: another kind of file, or the rest after what matters."""
    return False if kinds and not {b"moov", b"mdat"} <= kinds else None
