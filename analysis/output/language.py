"""The words of the pages, from one table a language (``languages/*.toml``).

English is complete and the measure of the others: each has the same keys with the same blanks. Some
groups are only in the others, because their English words stand with the coaching:
``measure``, ``measure_no_slide`` (while the seat stays) and ``check``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from analysis.errors import SettingsError

#: Groups whose English is in ``analysis/coaching``.
ELSEWHERE = ("measure", "measure_no_slide", "check")


@dataclass(frozen=True)
class Text:
    """The words of one language.

    Attributes
    ----------
    code : str
        As in HTML's ``lang``.
    table : mapping of str to str
        Words by key, ``group.name``; ``{blank}`` is filled in.
    """

    code: str
    table: Mapping[str, str]

    def __call__(self, key: str, **blanks: object) -> str:
        """Return the words of `key` with its blanks filled in; ``KeyError`` when there are none."""
        return self.table[key].format(**blanks)

    def count(self, key: str, number: int, **blanks: object) -> str:
        """Return the words for one (``key.one``) or for several (``key.more``)."""
        form = "one" if number == 1 else "more"
        return self(f"{key}.{form}", count=number, **blanks)

    def find(self, key: str) -> str:
        """Return the words of `key`, or an empty text."""
        return self.table.get(key, "")

    def group(self, name: str) -> dict[str, str]:
        """Return the words of a group by their names in it, blanks left open."""
        start = f"{name}."
        return {k.removeprefix(start): v for k, v in self.table.items() if k.startswith(start)}

    def number(self, value: float, digits: int) -> str:
        """Write a number with this language's decimal sign and a true minus."""
        text = f"{value:.{digits}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        return text.replace("-", "−").replace(".", self.table["number.point"])


@cache
def languages() -> tuple[str, ...]:
    """Return the codes of the languages there are, English first."""
    files = (resources.files("analysis.output") / "languages").iterdir()
    codes = sorted(file.name.removesuffix(".toml") for file in files if file.name.endswith(".toml"))
    return ("en", *(code for code in codes if code != "en"))


@cache
def text_of(code: str) -> Text:
    """Return the words of a language.

    Raises
    ------
    SettingsError
        When there is no table for it.
    """
    if code not in languages():
        there = ", ".join(languages())
        raise SettingsError(f"There are no pages in {code!r}: choose one of {there}.")
    file = resources.files("analysis.output") / "languages" / f"{code}.toml"
    return Text(code, _flat(tomllib.loads(file.read_text(encoding="utf-8"))))


def _flat(table: Mapping[str, object], start: str = "") -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in table.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{start}{name}.")
        else:
            found[start + name] = str(value)
    return found


#: What is drawn onto clips, and pages of which nobody asked for another language.
ENGLISH = text_of("en")
