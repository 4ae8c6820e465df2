"""Options that several commands share, and how what is typed for them is read.

A value that is no value of its option ends, for every command, in one sentence of ours.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer

from analysis.errors import SettingsError

#: Where a season is kept unless another place is named.
SEASON = Path("season")

Word = TypeVar("Word", bound=StrEnum)


class StageName(StrEnum):
    """Steps of the build-up, as the coach names them."""

    arms_only = "arms_only"
    arms_and_body = "arms_and_body"
    quarter_slide = "quarter_slide"
    half_slide = "half_slide"
    full_slide = "full_slide"


class SettingName(StrEnum):
    """Where the athlete rows."""

    erg = "erg"
    boat = "boat"


def known(option: str, value: str, words: Sequence[str]) -> str:
    """Return which of `words` is meant; ``SettingsError`` names the nearest, and all.

    As in a session sheet, ``Half slide`` and ``half-slide`` are ``half_slide``.
    """
    plain = value.strip().lower().replace("-", "_").replace(" ", "_")
    if plain in words:
        return plain
    near = difflib.get_close_matches(plain, words, 1)
    rest = ", ".join(word for word in words if word not in near)
    use = f"use {near[0]} (others: {rest})" if near else f"use one of {rest}"
    raise SettingsError(f"{option} {value} is not known here: {use}.")


def one_of(option: str, words: type[Word], told: str) -> Any:
    """Return the option that takes one of `words`; `told` is what the help says of it."""

    def read(value: str) -> Word:
        return words(known(option, value, list(words)))

    return typer.Option(
        option,
        parser=read,
        metavar=f"[{'|'.join(words)}]",
        autocompletion=lambda: list(words),
        help=told,
    )


def number(option: str, unit: str, example: str, told: str) -> Any:
    """Return the option that takes a number with a `unit`, such as `example`."""

    def read(value: str) -> float:
        try:
            found = float(value)
        except ValueError:
            found = math.nan
        if not math.isfinite(found):
            raise SettingsError(f"{option} {value} is no number: give {unit}, like {example}.")
        return found

    return typer.Option(option, parser=read, metavar=unit.upper(), help=told)


def _workers(value: str) -> int:
    if value.isdecimal() and int(value) >= 1:
        return int(value)
    raise SettingsError(
        f"--workers {value} is no number of clips at once: give 1 or more, or leave it out."
    )


def _language(code: str) -> str:
    from analysis.output.language import languages

    return known("--language", code, languages())


StageOption = Annotated[
    StageName | None,
    one_of("--stage", StageName, "Step of the build-up; recognised when left out."),
]
SettingOption = Annotated[
    SettingName | None, one_of("--on", SettingName, "Machine or boat; recognised when left out.")
]
FromOption = Annotated[float | None, number("--from", "seconds", "12.5", "Start here, seconds.")]
ToOption = Annotated[float | None, number("--to", "seconds", "42.5", "Stop here, seconds.")]
SeasonOption = Annotated[Path, typer.Option("--season", help="The season folder.")]
SheetOption = Annotated[
    Path | None, typer.Option(help="Session sheet (CSV); else file names tell whose it is.")
]
StandardOption = Annotated[
    str, typer.Option(help="Standard to judge by: a shipped name or a TOML file.")
]
DateOption = Annotated[str, typer.Option(help="Day of clips that are not dated, like 2026-01-31.")]
AddOption = Annotated[
    list[str] | None,
    typer.Option(help="A new athlete, although the name is close to another; repeatable."),
]
WorkersOption = Annotated[
    int | None,
    typer.Option(parser=_workers, metavar="COUNT", help="Clips at once; by default one a core."),
]
LanguageOption = Annotated[
    str,
    typer.Option(parser=_language, metavar="CODE", help="Language of pages and clips: en or de."),
]


def day_of(date: str) -> str:
    """Return what ``--date`` names as an ISO day, '' when nothing; ``SettingsError`` if unclear."""
    from analysis.season.sheet import read_date

    try:
        return read_date(date)
    except ValueError as error:
        raise SettingsError(f"--date: {error}.") from error
