"""Figures of a page kept between reviews: most of them are the same by another standard.

One ``.npz`` for each clip in the folder of `kept_files`, readable with NumPy alone: every figure's
SVG as UTF-8, by a fingerprint of all that it was drawn from. While all that a page needs are found,
what draws them is not even loaded. Safe to delete; what cannot be read back whole is drawn anew.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np

from analysis.digest import digest
from analysis.kept_files import cache_folder, is_fingerprint, write_whole
from analysis.kept_results import program_state
from analysis.output.language import Text

#: Figures that are kept of one clip at most, the latest first: four pages of them.
MOST_KEPT = 32

#: Takes a function and its arguments, and gives the SVG that it draws or drew from the same.
Once = Callable[..., str]


def draw_now(draw: Callable[..., str], *made_from: object) -> str:
    """Draw a figure without looking for a kept one."""
    return draw(*made_from)


@contextmanager
def kept_figures(sha256: str, text: Text) -> Iterator[Once]:
    """Give what draws a figure unless it is kept; new ones are kept at the end.

    What it is given to draw must be a function of its arguments alone, and those such as `digest`
    takes.

    Parameters
    ----------
    sha256 : str
        Of the clip's content; anything else, and nothing is looked for or kept.
    text : Text
        The words of the page.
    """
    if not is_fingerprint(sha256):
        yield draw_now
        return
    kept = _Kept(cache_folder() / f"{sha256}-figures.npz", text)
    yield kept.once
    with suppress(OSError):
        kept.remember()


class _Kept:
    """The figures of one clip."""

    def __init__(self, path: Path, text: Text) -> None:
        self._path, self._earlier = path, _read(path)
        self._used: dict[str, str] = {}
        # Hundreds of words, which stand in every figure's fingerprint.
        self._words = {id(text): digest(text)}

    def once(self, draw: Callable[..., str], *made_from: object) -> str:
        key = digest(draw.__qualname__, made_from, known=self._words)
        found = self._earlier.get(key)
        self._used[key] = draw(*made_from) if found is None else found
        return self._used[key]

    def remember(self) -> None:
        """Keep what was used, then what was kept before, as many as may be."""
        if self._used.keys() <= self._earlier.keys():
            if self._used:
                os.utime(self._path)
            return
        kept = [*(self._used | self._earlier).items()][:MOST_KEPT]
        arrays: dict[str, Any] = {key: np.frombuffer(svg.encode(), np.uint8) for key, svg in kept}
        arrays["program"] = np.array(program_state())
        write_whole(self._path, lambda file: np.savez(file, **arrays))


def _read(path: Path) -> dict[str, str]:
    """Return what this very program kept; nothing when it is not there, or not whole."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            if str(arrays["program"]) != program_state():
                return {}
            names = [name for name in arrays.files if name != "program"]
            return {name: arrays[name].tobytes().decode() for name in names}
    except Exception:  # not there, or damaged in whatever way: zip, CRC, UTF-8
        return {}
