"""Read one standard file and check it, naming the file, the line and the key that is wrong.

A file is a handful of tables: ``limits.MEASURE`` and, with the same keys, ``setting.NAME.MEASURE``,
``stage.NAME.MEASURE`` and ``athlete.NAME.MEASURE``. This module only knows what each key may hold;
:mod:`analysis.coaching.standard` lays the files over each other.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from analysis.errors import SettingsError
from analysis.stroke.build_up import STAGES

if TYPE_CHECKING:
    from analysis.motion.motion import Setting

#: The version of this file format.
SCHEMA = 1

#: What a coach may change for one measure.
EDITABLE = ("low", "high", "target", "step", "max_u", "from", "at_most")

#: What only the shipped base states.
FIXED = ("check", "hint", "unit", "about", "settings")

#: The keys of a limit that follows the rate.
RATE_KEYS = ("share", "drive_s", "least", "most")

SETTINGS: tuple[Setting, ...] = ("erg", "boat")
NEVER = "never"
OPEN = "open"

#: Up to so many names are listed when one of them was missed.
_FEW = 7

_TOP = ("schema", "name", "title", "version", "based_on", "neutral_raw_deg", "neutral_raw_se_deg")
_TABLES = ("order", "limits", "setting", "stage", "athlete")


@dataclass(frozen=True)
class Entry:
    """One value of a file and where it stands, for errors found later on."""

    value: Any
    where: str


@dataclass(frozen=True)
class StandardFile:
    """One checked file.

    ``limits`` is measure → key → entry; ``setting``, ``stage`` and ``athlete`` put a name before
    it (athletes in the form of :func:`athlete_key`). ``top`` holds the plain keys and ``order``,
    and ``athlete_top`` an athlete's own ``neutral_raw_deg``.
    """

    path: str
    top: Mapping[str, Entry]
    limits: Mapping[str, Mapping[str, Entry]]
    setting: Mapping[str, Mapping[str, Mapping[str, Entry]]]
    stage: Mapping[str, Mapping[str, Mapping[str, Entry]]]
    athlete: Mapping[str, Mapping[str, Mapping[str, Entry]]]
    athlete_top: Mapping[str, Mapping[str, Entry]]


def athlete_key(name: str) -> str:
    """Return the form in which athletes' names are compared: case and spacing do not count."""
    return re.sub(r"[\s_]+", " ", name).strip().casefold()


def read_standard_file(
    path: Path, *, measures: Iterable[str] | None = None, checks: Iterable[str] | None = None
) -> StandardFile:
    """Read and check one file.

    Parameters
    ----------
    path : Path
    measures, checks : iterables of str, optional
        Names that the file may use; ``None`` for the shipped base, which defines them.

    Raises
    ------
    SettingsError
        With one sentence that names file, line and key.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path}: cannot be read as a standard ({error}).") from error
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: not valid TOML: {error}.") from error
    return _Reader(str(path), text, measures, checks).read(data)


class _Reader:
    """Walks the parsed file; keeps path and text so that every complaint can point at its line."""

    def __init__(
        self, path: str, text: str, measures: Iterable[str] | None, checks: Iterable[str] | None
    ) -> None:
        self.path = path
        self.lines = lines_of_keys(text)
        self.measures = None if measures is None else tuple(measures)
        self.checks = None if checks is None else tuple(checks)

    def read(self, data: Mapping[str, Any]) -> StandardFile:
        self.known((), data, (*_TOP, *_TABLES))
        top = {key: self.top_entry((key,), data[key]) for key in (*_TOP, "order") if key in data}
        athletes = self.tables(("athlete",), data.get("athlete", {}), None)
        own = {
            athlete_key(name): {
                "neutral_raw_deg": self.top_entry(
                    ("athlete", name, "neutral_raw_deg"), table["neutral_raw_deg"]
                )
            }
            for name, table in athletes.items()
            if "neutral_raw_deg" in table
        }
        return StandardFile(
            path=self.path,
            top=top,
            limits=self.limits(("limits",), data.get("limits", {})),
            setting={
                name: self.limits(("setting", name), table)
                for name, table in self.tables(
                    ("setting",), data.get("setting", {}), SETTINGS
                ).items()
            },
            stage={
                name: self.limits(("stage", name), table)
                for name, table in self.tables(("stage",), data.get("stage", {}), STAGES).items()
            },
            athlete={
                athlete_key(name): self.limits(
                    ("athlete", name), {k: v for k, v in table.items() if k != "neutral_raw_deg"}
                )
                for name, table in athletes.items()
            },
            athlete_top=own,
        )

    def tables(
        self, at: tuple[str, ...], value: Any, names: Iterable[str] | None
    ) -> Mapping[str, Mapping[str, Any]]:
        table = self.table(at, value)
        if names is not None:
            self.known(at, table, tuple(names))
        return {name: self.table((*at, name), inner) for name, inner in table.items()}

    def limits(self, at: tuple[str, ...], value: Any) -> dict[str, dict[str, Entry]]:
        table = self.table(at, value)
        if self.measures is not None:
            self.known(at, table, self.measures)
        keys = EDITABLE if self.measures is not None else (*EDITABLE, *FIXED)
        out: dict[str, dict[str, Entry]] = {}
        for measure, inner in table.items():
            here = (*at, measure)
            self.known(here, self.table(here, inner), keys)
            out[measure] = {key: self.limit_entry((*here, key), inner[key]) for key in inner}
        return out

    def limit_entry(self, at: tuple[str, ...], value: Any) -> Entry:
        key = at[-1]
        if key in ("low", "high") and value == OPEN:
            pass
        elif key == "low" and isinstance(value, Mapping):
            self.known(at, value, RATE_KEYS)
            for part in RATE_KEYS:
                if part not in value:
                    self.fail(at, f"needs {part} beside the other numbers")
                self.number((*at, part), value[part])
        elif key in ("low", "high", "target"):
            self.number(at, value)
        elif key in ("step", "max_u"):
            if self.number(at, value) <= 0:
                self.fail(at, f"must be above 0, not {value!r}")
        elif key == "from":
            self.choice(at, value, (*STAGES, NEVER))
        elif key == "at_most":
            self.choice(at, value, ("work on", "watch"))
        elif key == "settings":
            for setting in self.list(at, value):
                self.choice(at, setting, SETTINGS)
        else:
            self.text(at, value)
        return Entry(value, self.where(at))

    def top_entry(self, at: tuple[str, ...], value: Any) -> Entry:
        key = at[-1]
        if key == "schema":
            if type(value) is not int or value != SCHEMA:
                self.fail(at, f"must be {SCHEMA} for this version of sideon, not {value!r}")
        elif key == "neutral_raw_deg":
            self.number(at, value)
        elif key == "neutral_raw_se_deg":
            if self.number(at, value) < 0:
                self.fail(at, f"must not be below 0, not {value!r}")
        elif key == "order":
            for group in self.list(at, value):
                for check in self.list(at, group):
                    if self.checks is not None:
                        self.choice(at, check, self.checks)
        else:
            self.text(at, value)
        return Entry(value, self.where(at))

    def number(self, at: tuple[str, ...], value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fail(at, f"must be a number, not {value!r}")
        if not math.isfinite(value):
            self.fail(at, f"must be a finite number, not {value!r}")
        return float(value)

    def text(self, at: tuple[str, ...], value: Any) -> None:
        if not isinstance(value, str) or not value.strip():
            self.fail(at, f"must be a word or words in quotes, not {value!r}")

    def list(self, at: tuple[str, ...], value: Any) -> list[Any]:
        if not isinstance(value, list):
            self.fail(at, f"must be a list in square brackets, not {value!r}")
        return value

    def table(self, at: tuple[str, ...], value: Any) -> Mapping[str, Any]:
        if not isinstance(value, Mapping):
            self.fail(at, f"must be a table of its own, not {value!r}")
        return value

    def choice(self, at: tuple[str, ...], value: Any, names: Iterable[str]) -> None:
        if value not in tuple(names):
            self.fail(at, f"must be one of {', '.join(names)}, not {value!r}")

    def known(self, at: tuple[str, ...], table: Mapping[str, Any], names: tuple[str, ...]) -> None:
        for key in table:
            if key not in names:
                self.fail((*at, key), "is not a name that a standard knows" + _meant(key, names))

    def fail(self, at: tuple[str, ...], what: str) -> NoReturn:
        stop = "" if what.endswith("?") else "."
        raise SettingsError(f"{self.where(at)} {what}{stop}")

    def where(self, at: tuple[str, ...]) -> str:
        tried = (at[:depth] for depth in range(len(at), 0, -1))
        line = next((self.lines[key] for key in tried if key in self.lines), None)
        place = "" if line is None else f", line {line}"
        return f"{self.path}{place}: {'.'.join(at)}"


def lines_of_keys(text: str) -> dict[tuple[str, ...], int]:
    """Return the 1-based line on which each key, and each table, is first named.

    ``tomllib`` gives no lines, so this reads table headers and ``key =`` only: enough for the way
    in which people write such files.
    """
    found: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := re.match(r"\s*\[([^\[\]]+)\]\s*(#.*)?$", line):
            table = here = _parts(header.group(1))
        elif key := re.match(r"\s*([\w\-.\"' ]+?)\s*=", line):
            here = (*table, *_parts(key.group(1)))
        else:
            continue
        for depth in range(1, len(here) + 1):
            found.setdefault(here[:depth], number)
    return found


def _parts(dotted: str) -> tuple[str, ...]:
    """Split a TOML key at its dots, quotes respected."""
    return tuple(
        (double or single or bare).strip()
        for double, single, bare in re.findall(r"\"([^\"]*)\"|'([^']*)'|([\w\-]+)", dotted)
    )


def _meant(key: str, names: tuple[str, ...]) -> str:
    close = difflib.get_close_matches(key, names, n=1)
    if close:
        return f"; did you mean {close[0]}?"
    return f"; it knows {', '.join(names)}" if len(names) <= _FEW else ""
