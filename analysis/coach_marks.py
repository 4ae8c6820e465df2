"""What a coach put right by hand on a page: moved catches and releases, strokes left out.

The page saves a small JSON file; a review of the same clip takes it up again, before anything is
measured. Strokes are told by the time at which they were found, not by their number, which changes
when one of them is left out.

``{"sideon_corrections": 1, "clip": {"file": …, "sha256": …}, "who": "auto", "note": "",
"moved": [{"event": "catch", "was_s": 3.2, "at_s": 3.3}], "left_out": [{"catch_s": 5.6}]}``
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from analysis.errors import SettingsError

#: Version of the file.
SCHEMA = 1

#: An event is the one that was meant when it lies no further from it than this, s.
MATCH_S = 0.2

#: Least time between an event and its neighbours, s: less is no stroke.
LEAST_S = 0.15

#: Longest note, letters.
LONGEST_NOTE = 2000

_KEYS = {"sideon_corrections", "clip", "who", "note", "moved", "left_out"}

Event = Literal["catch", "release"]


@dataclass(frozen=True)
class Moved:
    """An event that was found at `was_s` and belongs at `at_s`, s on the clip's own clock."""

    event: Event
    was_s: float
    at_s: float


@dataclass(frozen=True)
class CoachMarks:
    """A file of corrections.

    Attributes
    ----------
    file, sha256 : str
        The clip that it belongs to.
    who : str or int
        The athlete to follow, as ``--who`` takes it.
    note : str
    moved : tuple of Moved
    left_out : tuple of float
        Catches, as they were found, of strokes that do not count, s.
    source : str
        Where it was read from, for messages.
    """

    file: str
    sha256: str
    who: str | int = "auto"
    note: str = ""
    moved: tuple[Moved, ...] = ()
    left_out: tuple[float, ...] = ()
    source: str = "corrections"

    def check_clip(self, sha256: str, start_s: float, end_s: float) -> None:
        """Raise when the marks belong to another clip, or lie outside what is reviewed of it.

        Parameters
        ----------
        sha256 : str
            Of the clip's content.
        start_s, end_s : float
            First and last frame, s.

        Raises
        ------
        SettingsError
        """
        if self.sha256 != sha256:
            raise SettingsError(
                f"{self.source} belongs to another clip ({self.file}): its content is not that of "
                "this one. Give the clip it was made for."
            )
        times = [t for m in self.moved for t in (m.was_s, m.at_s)] + list(self.left_out)
        for time in times:
            if not start_s <= time <= end_s:
                raise SettingsError(
                    f"{self.source} has a mark at {time:.2f} s, and the clip was looked at from "
                    f"{start_s:.2f} s to {end_s:.2f} s only: review the same part of it."
                )

    def data(self) -> dict[str, Any]:
        """Return the content of the file."""
        return {
            "sideon_corrections": SCHEMA,
            "clip": {"file": self.file, "sha256": self.sha256},
            "who": self.who,
            "note": self.note,
            "moved": [{"event": m.event, "was_s": m.was_s, "at_s": m.at_s} for m in self.moved],
            "left_out": [{"catch_s": time} for time in self.left_out],
        }


def read_marks(path: Path) -> CoachMarks:
    """Read a file of corrections.

    Raises
    ------
    SettingsError
        One plain sentence on what is wrong with it.
    """
    name = path.name
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError(
            f"The corrections {path} cannot be read ({error.strerror}): check the name."
        ) from error
    except (UnicodeDecodeError, ValueError) as error:
        raise SettingsError(
            f"{name} is not a file of corrections: save it again from the athlete's page."
        ) from error
    return marks_of(data, name)


def marks_of(data: Any, source: str = "corrections") -> CoachMarks:
    """Return the corrections in parsed JSON; `source` names it in messages.

    Raises
    ------
    SettingsError
        One plain sentence on what is wrong with it.
    """
    if not isinstance(data, Mapping) or "sideon_corrections" not in data:
        raise SettingsError(
            f"{source} is not a file of corrections: save it again from the athlete's page."
        )
    version = data["sideon_corrections"]
    if type(version) is not int or version != SCHEMA:
        raise SettingsError(
            f"{source} is of version {version!r}, and this sideon reads version {SCHEMA}: save it "
            "again from a page that this sideon made."
        )
    unknown = sorted(set(data) - _KEYS)
    if unknown:
        raise SettingsError(f"{source} has an entry {unknown[0]!r} that means nothing here.")
    clip = _part(data, "clip", Mapping, source)
    return CoachMarks(
        file=_text(clip, "file", source),
        sha256=_text(clip, "sha256", source),
        who=_who(data.get("who", "auto"), source),
        note=_note(data.get("note", ""), source),
        moved=tuple(_moved(row, source) for row in _part(data, "moved", list, source)),
        left_out=tuple(
            _time(row, "catch_s", source) for row in _part(data, "left_out", list, source)
        ),
        source=source,
    )


def _part(data: Mapping[str, Any], key: str, kind: type, source: str) -> Any:
    value = data.get(key)
    if not isinstance(value, kind):
        raise SettingsError(f"{source} lacks its part {key!r}: save it again from the page.")
    return value


def _text(data: Mapping[str, Any], key: str, source: str) -> str:
    value = data.get(key)
    if not isinstance(value, str) or not value:
        raise SettingsError(f"{source} does not say the clip's {key!r}: save it again.")
    return value


def _who(value: Any, source: str) -> str | int:
    if value in ("auto", "nearest", "left", "right"):
        return str(value)
    if type(value) is int and value >= 1:
        return value
    raise SettingsError(
        f"{source} asks for the athlete {value!r}: it must be auto, nearest, left, right or a "
        "seat number from the bow."
    )


def _note(value: Any, source: str) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_NOTE:
        raise SettingsError(f"The note in {source} must be text of {LONGEST_NOTE} letters at most.")
    return value.strip()


def _moved(row: Any, source: str) -> Moved:
    event = row.get("event") if isinstance(row, Mapping) else None
    if event not in ("catch", "release"):
        raise SettingsError(f"{source} moves {event!r}: only a catch or a release can be moved.")
    return Moved(event, _time(row, "was_s", source), _time(row, "at_s", source))


def _time(row: Any, key: str, source: str) -> float:
    value = row.get(key) if isinstance(row, Mapping) else None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise SettingsError(f"{source} has {value!r} where a time in seconds should be ({key}).")
    return float(value)
