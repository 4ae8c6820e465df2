"""What is kept from one review for the next: a folder of files that only their owner can read.

Each begins with the SHA-256 of the clip that it tells of. Any of them, or the whole folder, may be
deleted at any time: whatever is missing, or cannot be read back whole, is made anew. They tell how
somebody moved, often a minor, so `drop` removes all that is kept of a clip.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import IO

from analysis.errors import SideonError

#: Environment variable that moves the folder.
FOLDER_VARIABLE = "SIDEON_CACHE"
#: Most that is kept, bytes: about two hours of video. What was not used for longest goes first.
MOST_BYTES = 1_500_000_000


def cache_folder() -> Path:
    """Return the folder for what is kept; it need not exist.

    ``$SIDEON_CACHE`` when set, else ``sideon`` in the user's cache folder (``$XDG_CACHE_HOME``,
    by default ``~/.cache``; XDG Base Directory Specification 0.8: a relative path there is
    ignored).
    """
    moved = os.environ.get(FOLDER_VARIABLE)
    if moved:
        return Path(moved).expanduser() / "landmarks"
    usual = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(usual) if os.path.isabs(usual) else Path.home() / ".cache"
    return base / "sideon" / "landmarks"


def drop(sha256: str) -> int:
    """Remove all that is kept of one clip.

    Parameters
    ----------
    sha256 : str
        Of the file's content, 64 hexadecimal digits, as in `ClipFacts` and ``review.json``.

    Returns
    -------
    int
        How many files were removed; 0 when nothing was kept.

    Raises
    ------
    SideonError
        When a file is there and cannot be removed: somebody who asked to be forgotten is not.
    """
    if not is_fingerprint(sha256):
        raise ValueError(f"sha256: expected 64 hexadecimal digits, got {sha256!r}")
    removed = 0
    for file in cache_folder().glob(f"{sha256}-*"):
        try:
            file.unlink(missing_ok=True)
        except OSError as error:
            raise SideonError(
                f"Kept landmarks could not be removed ({error.strerror}): delete {file} by hand."
            ) from error
        removed += 1
    return removed


def is_fingerprint(sha256: str) -> bool:
    """Tell whether it is the SHA-256 of a clip; what is made to be shared carries none."""
    return len(sha256) == 64 and set(sha256) <= set("0123456789abcdef")


def write_whole(path: Path, write: Callable[[IO[bytes]], None]) -> None:
    """Write a file of the folder: whole or not at all, readable by its owner alone.

    What was not used for longest makes room for it. ``OSError`` when it cannot be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    os.chmod(path.parent, 0o700)
    start = path.name.split("-", 1)[0]
    handle, name = tempfile.mkstemp(prefix=f"{start}-", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
        os.replace(name, path)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise
    _make_room(path)


def _make_room(newest: Path) -> None:
    """Delete what was not used for longest until the rest is no more than allowed."""
    kept = []
    for file in newest.parent.iterdir():
        with suppress(OSError):
            facts = file.stat()
            kept.append((file != newest, -facts.st_mtime, facts.st_size, file))
    total = 0
    for _, _, size, file in sorted(kept):
        total += size
        if total > MOST_BYTES and file != newest:
            with suppress(OSError):
                file.unlink()
