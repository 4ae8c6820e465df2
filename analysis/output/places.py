"""Where results go: the folder of each clip, and what the disk says against it in plain words."""

from __future__ import annotations

import errno
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import av

from analysis.errors import SideonError

#: Names in the output folder that no clip's folder may take.
_TAKEN = ("index.html",)


def out_names(paths: Sequence[Path]) -> list[str]:
    """Return the folder name of each clip, in the order of `paths`.

    The file's stem; clips of one stem become ``stem``, ``stem~2``, … in order of path. Names that
    differ only in case or in how their accents are stored count as one, because they are the same
    folder on many disks.
    """
    names: dict[int, str] = {}
    taken = {_same(name) for name in _TAKEN}
    for i in sorted(range(len(paths)), key=lambda k: str(paths[k])):
        stem = paths[i].stem
        name, count = stem, 1
        while _same(name) in taken:
            count += 1
            name = f"{stem}~{count}"
        taken.add(_same(name))
        names[i] = name
    return [names[i] for i in range(len(paths))]


def _same(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


_ELSEWHERE = "give another folder with --out. Asked for was"
_NO_FOLDER = f"A file is where a folder should be: {_ELSEWHERE}"
_SENTENCES = {
    errno.ENOSPC: "The disk is full: make room and run it again. Nothing half-written was left in",
    errno.EDQUOT: "Your share of the disk is used up: make room and run it again. Folder:",
    errno.EROFS: f"The disk is read-only: {_ELSEWHERE}",
    errno.EACCES: f"May not write here: {_ELSEWHERE}",
    errno.EPERM: f"May not write here: {_ELSEWHERE}",
    errno.ENOTDIR: _NO_FOLDER,
    errno.EEXIST: _NO_FOLDER,
    errno.ENAMETOOLONG: "The clip's name is too long for a folder: give it a shorter one. Folder:",
}


@contextmanager
def plain_errors(out_dir: Path) -> Iterator[None]:
    """Turn what the disk refuses into one plain sentence."""
    try:
        yield
    except SideonError:
        raise
    except (OSError, av.FFmpegError) as error:
        number = getattr(error, "errno", None) or 0
        sentence = _SENTENCES.get(number)
        if sentence is None:
            reason = getattr(error, "strerror", None) or str(error)
            sentence = f"The result could not be written ({reason}): try another folder. Folder:"
        with suppress(OSError):
            out_dir = out_dir.resolve()
        raise SideonError(f"{sentence} {out_dir}.") from error
