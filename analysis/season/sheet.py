"""The session sheet: whose clip is whose, as any spreadsheet program writes it.

Columns ``file, athlete, date, stage, boat_or_erg, note, who``; the first two are needed. Nothing
that can be read two ways is guessed: everything unclear is collected and asked for in one list.
"""

from __future__ import annotations

import csv
import datetime
import io
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import SettingsError
from analysis.motion.motion import Setting
from analysis.season.record import name_key
from analysis.stroke.strokes import STAGES, Stage

if TYPE_CHECKING:
    from analysis.pose.rower import Who

COLUMNS = ("file", "athlete", "date", "stage", "boat_or_erg", "note", "who")
_NEEDED = ("file", "athlete")

#: Words for which rower of several a line is about; a seat is a number.
_WHO: Mapping[str, Who] = {
    "": "auto",
    "auto": "auto",
    "nearest": "nearest",
    "left": "left",
    "right": "right",
}

_SETTINGS: Mapping[str, Setting] = {"erg": "erg", "machine": "erg", "boat": "boat"}


@dataclass(frozen=True)
class SheetRow:
    """One clip of the sheet.

    Attributes
    ----------
    line : int
        Line in the file, 1 the first.
    file, athlete, note : str
    date : str
        ``YYYY-MM-DD``, or empty.
    stage, setting : str or None
        ``None`` lets them be recognised.
    who : str or int
        Which rower of several; a number counts from the bow.
    """

    line: int
    file: str
    athlete: str
    date: str = ""
    stage: Stage | None = None
    setting: Setting | None = None
    note: str = ""
    who: Who = "auto"


@dataclass(frozen=True)
class Sheet:
    """What could be read, and in plain sentences what could not.

    ``unclear`` names the files of lines that stand among the problems.
    """

    rows: tuple[SheetRow, ...]
    problems: tuple[str, ...]
    unclear: tuple[str, ...] = ()


def read_sheet(path: Path) -> Sheet:
    """Read a session sheet.

    Commas, semicolons or tabs; UTF-8 with or without its mark, UTF-16, or the Western European
    encoding of older spreadsheet programs; dates as ``2026-01-31``, ``31.01.2026`` or, where the
    sheet leaves no doubt which way round, ``31/01/2026``.

    Raises
    ------
    SettingsError
        When the file cannot be read at all, or has no ``file`` and ``athlete`` columns.
    """
    try:
        text = decode(path.read_bytes())
    except OSError as error:
        raise SettingsError(f"The sheet {path} cannot be read: {error.strerror}.") from error
    lines = text.splitlines()
    start = 1 if lines and re.fullmatch(r'"?sep=.?"?', lines[0].strip(), re.IGNORECASE) else 0
    body = "\n".join(lines[start:])
    delimiter = _delimiter(lines[start] if len(lines) > start else "")
    reader = csv.reader(io.StringIO(body), delimiter=delimiter)
    header = [_word(cell) for cell in next(reader, [])]
    missing = [name for name in _NEEDED if name not in header]
    if missing:
        raise SettingsError(
            f"The sheet {path} has no column {' and no column '.join(missing)} in its first line: "
            f"it needs {', '.join(COLUMNS)} (sideon squad --new-sheet writes one to fill in)."
        )
    problems = [
        f"line {start + 1}: the column {name!r} is not known and is left out"
        for name in header
        if name and name not in COLUMNS
    ]
    cells = [
        (start + reader.line_num, dict(zip(header, map(str.strip, row), strict=False)))
        for row in reader
        if any(cell.strip() for cell in row)
    ]
    day_first = _day_first([row.get("date", "") for _, row in cells])
    rows: list[SheetRow] = []
    unclear: list[str] = []
    for line, row in cells:
        made = _row(line, row, day_first, problems)
        if made is not None:
            rows.append(made)
        else:
            unclear.append(row.get("file", "").replace("\\", "/"))
    return Sheet(tuple(rows), tuple(problems), tuple(unclear))


def decode(content: bytes) -> str:
    """Return the text of a file from a spreadsheet program, whichever way it stored it."""
    return content.decode(_encoding(content), errors="replace")


def _encoding(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig" if content.startswith(b"\xef\xbb\xbf") else "utf-8"


def without_athlete(content: bytes, key: str) -> tuple[bytes, int]:
    """Return a sheet without the lines of one athlete, else as it was, and how many they were.

    `key` is the athlete's name as :func:`analysis.season.record.name_key` gives it.
    """
    encoding = _encoding(content)
    lines = content.decode(encoding, errors="replace").splitlines(keepends=True)
    at = next((i for i, line in enumerate(lines) if "athlete" in line.casefold()), None)
    if at is None:
        return content, 0
    delimiter = _delimiter(lines[at])
    header = [_word(cell) for cell in next(csv.reader([lines[at]], delimiter=delimiter))]
    if "athlete" not in header:
        return content, 0
    column = header.index("athlete")
    kept, removed, start = lines[: at + 1], 0, at + 1
    reader = csv.reader(iter(lines[at + 1 :]), delimiter=delimiter)
    for row in reader:
        end = at + 1 + reader.line_num
        if len(row) > column and name_key(row[column]) == key:
            removed += 1
        else:
            kept += lines[start:end]
        start = end
    return ("".join(kept).encode(encoding), removed) if removed else (content, 0)


def _delimiter(header: str) -> str:
    return max(";,\t", key=header.count) if any(c in header for c in ";,\t") else ","


def _word(text: str) -> str:
    return re.sub(r"[\s\-/]+", "_", text.strip().casefold())


def _row(
    line: int, cells: Mapping[str, str], day_first: bool | None, problems: list[str]
) -> SheetRow | None:
    """Read one line; what is wrong with it joins `problems`."""
    file, athlete = cells.get("file", ""), " ".join(cells.get("athlete", "").split())
    file = file.replace("\\", "/")
    wrong: list[str] = []
    if not file:
        wrong.append("no file is named")
    if not athlete:
        wrong.append(f"whose is {file}?" if file else "no athlete is named")
    stage = setting = None
    date, who = "", _WHO["auto"]
    try:
        date = read_date(cells.get("date", ""), day_first)
    except ValueError as error:
        wrong.append(str(error))
    try:
        stage = read_stage(cells.get("stage", ""))
    except ValueError as error:
        wrong.append(str(error))
    try:
        who = read_who(cells.get("who", ""))
    except ValueError as error:
        wrong.append(str(error))
    where = _word(cells.get("boat_or_erg", ""))
    if where and where not in _SETTINGS:
        wrong.append(f"{cells['boat_or_erg']!r} is neither boat nor erg")
    else:
        setting = _SETTINGS.get(where)
    if wrong:
        problems.extend(f"line {line}: {text}" for text in wrong)
        return None
    return SheetRow(line, file, athlete, date, stage, setting, cells.get("note", ""), who)


def read_stage(text: str) -> Stage | None:
    """Return the stage meant by `text` ("Full slide", "full_slide"); ``None`` when empty.

    Raises
    ------
    ValueError
        For anything else, with the words to use.
    """
    word = _word(text)
    if not word:
        return None
    if word in STAGES:
        return word
    raise ValueError(f"the stage {text!r} is not known: use {', '.join(STAGES)} or leave it empty")


def read_who(text: str) -> Who:
    """Return which rower is meant by `text` ("nearest", "2"); empty leaves it to the program.

    Raises
    ------
    ValueError
        For anything else, with the words to use.
    """
    word = _word(text)
    if word in _WHO:
        return _WHO[word]
    if word.isdecimal() and int(word) >= 1:
        return int(word)
    if word == "all":
        raise ValueError(
            "a line is about one athlete, so that who cannot be all: write nearest, left, right or"
            " a seat number from the bow (sideon review --who all shows everybody)"
        )
    raise ValueError(
        f"who {text!r} is not known: use nearest, left, right, a seat number from the bow, or"
        " leave it empty"
    )


def _day_first(dates: Iterable[str]) -> bool | None:
    """Tell from dates with slashes whether the day comes first; ``None`` when they do not say."""
    parts = [m.groups() for d in dates if (m := re.fullmatch(r"(\d\d?)/(\d\d?)/(\d{4})", d))]
    first = any(int(a) > 12 for a, _, _ in parts)
    second = any(int(b) > 12 for _, b, _ in parts)
    return None if first == second else first


def read_date(text: str, day_first: bool | None = None) -> str:
    """Return a date as ``YYYY-MM-DD``; empty stays empty.

    Parameters
    ----------
    text : str
    day_first : bool, optional
        How ``1/2/2026`` is meant; ``None`` when that is not known.

    Raises
    ------
    ValueError
        When it is no date, or could be two.
    """
    if not text:
        return ""
    if m := re.fullmatch(r"(\d{4})-(\d\d?)-(\d\d?)(?:[ T].*)?", text):
        year, month, day = map(int, m.groups())
    elif m := re.fullmatch(r"(\d\d?)\.(\d\d?)\.(\d{4})", text):
        day, month, year = map(int, m.groups())
    elif m := re.fullmatch(r"(\d\d?)/(\d\d?)/(\d{4})", text):
        one, two, year = map(int, m.groups())
        if day_first is None and one != two and max(one, two) <= 12:
            raise ValueError(
                f"the date {text!r} can be read two ways: write {year}-{one:02d}-{two:02d} "
                f"or {year}-{two:02d}-{one:02d}"
            )
        day, month = (one, two) if day_first or one > 12 else (two, one)
    else:
        raise ValueError(f"{text!r} is no date: write it like 2026-01-31")
    try:
        return datetime.date(year, month, day).isoformat()
    except ValueError as error:
        raise ValueError(f"there is no day {text!r}: write it like 2026-01-31") from error


def write_new_sheet(path: Path, rows: Sequence[SheetRow]) -> None:
    """Write a sheet to fill in; one that is there is never overwritten.

    UTF-8 with its mark, so that every spreadsheet program shows accents rightly.

    Raises
    ------
    SettingsError
        When there is such a file already, or it cannot be written.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow(
            (
                *(row.file, row.athlete, row.date, row.stage or "", row.setting or "", row.note),
                "" if row.who == "auto" else row.who,
            )
        )
    try:
        with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
            file.write(text.getvalue().encode("utf-8-sig"))
    except FileExistsError as error:
        raise SettingsError(
            f"{path} is there already and is left alone: move it away or name another file."
        ) from error
    except OSError as error:
        raise SettingsError(f"The sheet {path} cannot be written: {error.strerror}.") from error
