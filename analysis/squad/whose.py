"""Whose clip is whose: from the sheet or the file name, never guessed.

Names that could be a slip of the pen for another name are asked for, not taken.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.motion.motion import Setting
from analysis.season.record import name_key
from analysis.season.sheet import Sheet, SheetRow
from analysis.stroke.strokes import Stage

if TYPE_CHECKING:
    from analysis.pose.rower import Who

#: What cameras and phones call their files: nobody's name.
_CAMERA_WORDS = {
    "clip", "dsc", "dscn", "gopr", "gp", "gh", "gx", "img", "mov", "movie", "mvi", "mvimg", "pxl",
    "rpreplay", "trim", "vid", "video", "wa", "whatsapp", "wp",
}  # fmt: skip

_NAMED = re.compile(r"(?P<name>[^_]+)_(?P<date>20\d\d-[01]\d-[0-3]\d)(?:[_ .~-].*)?")


@dataclass(frozen=True)
class Assigned:
    """A clip whose athlete and day are known."""

    path: Path
    athlete: str
    date: str
    stage: Stage | None = None
    setting: Setting | None = None
    note: str = ""
    who: Who = "auto"


@dataclass(frozen=True)
class Assignment:
    """Who is on which clip.

    Attributes
    ----------
    clips : tuple of Assigned
        In the order of the paths given.
    problems : tuple of str
        What has to be made clear first, one plain sentence each; the clips concerned are left out.
    new_athletes : tuple of str
        Names that the season did not know.
    """

    clips: tuple[Assigned, ...]
    problems: tuple[str, ...]
    new_athletes: tuple[str, ...]


def assign(
    paths: Sequence[Path],
    sheet: Sheet | None,
    known: Sequence[str],
    *,
    added: Sequence[str] = (),
    date: str = "",
    more_to_come: bool = False,
) -> Assignment:
    """Find out whose each clip is.

    Parameters
    ----------
    paths : sequence of Path
    sheet : Sheet or None
        Without one, file names tell: ``name_2026-01-31….mp4``.
    known : sequence of str
        Athletes of the season.
    added : sequence of str
        New names that the coach says are right, however close to others they are.
    date : str
        For clips that neither sheet nor name dates.
    more_to_come : bool
        Lines of the sheet whose clip is not there are no problem yet.
    """
    problems: list[str] = []
    if sheet is None:
        found = [clip for path in paths if (clip := _by_name(path, date, problems))]
    else:
        problems += sheet.problems
        found = _by_sheet(paths, sheet, date, problems)
        if not more_to_come:
            problems += _absent(paths, sheet)
    names, unclear = _names([clip.athlete for clip in found], known, added)
    problems += unclear
    clips = tuple(
        replace(c, athlete=names[name_key(c.athlete)])
        for c in found
        if name_key(c.athlete) in names
    )
    have = {name_key(name) for name in known}
    new = sorted({c.athlete for c in clips if name_key(c.athlete) not in have}, key=name_key)
    return Assignment(clips, tuple(problems), tuple(new))


def guess_row(line: int, path: Path) -> SheetRow:
    """Return a line for a new sheet, filled in as far as the file name tells."""
    match = _NAMED.fullmatch(path.stem)
    if match and _may_be_name(match["name"]):
        return SheetRow(line, path.name, _written(match["name"]), match["date"])
    return SheetRow(line, path.name, "")


def _by_name(path: Path, date: str, problems: list[str]) -> Assigned | None:
    match = _NAMED.fullmatch(path.stem)
    name = match["name"] if match else path.stem.split("_", 1)[0]
    if not _may_be_name(name):
        problems.append(
            f"{path.name}: whose clip is this? Call it like ann_2026-01-31.mp4, or use a sheet."
        )
        return None
    day = match["date"] if match else date
    if not day:
        problems.append(
            f"{path.name}: of which day? Call it like {name}_2026-01-31.mp4, say --date, "
            f"or use a sheet."
        )
        return None
    return Assigned(path, _written(name), day)


def _may_be_name(text: str) -> bool:
    words = re.split(r"[\W\d_]+", text.casefold())
    return any(words) and not _CAMERA_WORDS & set(words)


def _written(name: str) -> str:
    return " ".join(name.replace(".", " ").split())


def _by_sheet(
    paths: Sequence[Path], sheet: Sheet, date: str, problems: list[str]
) -> list[Assigned]:
    rows = _by_file(sheet)
    unclear = {_file_key(file) for file in sheet.unclear}
    found: list[Assigned] = []
    for path in paths:
        mine = rows.get(_file_key(path.name), [])
        if len(mine) > 1:
            lines = " and ".join(str(row.line) for row in mine)
            whose = " or ".join(dict.fromkeys(row.athlete for row in mine))
            problems.append(f"{path.name} stands in lines {lines} of the sheet: {whose}?")
        elif not mine:
            if _file_key(path.name) not in unclear:
                problems.append(f"{path.name} is not in the sheet: whose is it?")
        else:
            day = mine[0].date or date or _dated(path)
            if day:
                row = mine[0]
                found.append(
                    Assigned(path, row.athlete, day, row.stage, row.setting, row.note, row.who)
                )
            else:
                problems.append(f"line {mine[0].line}: of which day is {path.name}?")
    return found


def _by_file(sheet: Sheet) -> dict[str, list[SheetRow]]:
    rows: dict[str, list[SheetRow]] = {}
    for row in sheet.rows:
        rows.setdefault(_file_key(row.file), []).append(row)
    return rows


def _absent(paths: Sequence[Path], sheet: Sheet) -> list[str]:
    """Return which lines of the sheet have no clip."""
    present = {_file_key(path.name): path.name for path in paths}
    # Every clip ends in .mp4 or so: what stands before that tells whether another is meant.
    stems = {key.rsplit(".", 1)[0]: name for key, name in present.items()}
    problems = []
    for key, rows in _by_file(sheet).items():
        if key not in present:
            near = difflib.get_close_matches(key.rsplit(".", 1)[0], stems, 1)
            hint = f"; is {stems[near[0]]} meant?" if near else "."
            problems.append(f"line {rows[0].line}: there is no clip {rows[0].file} here{hint}")
    return problems


def _dated(path: Path) -> str:
    match = re.search(r"(?<!\d)20\d\d-[01]\d-[0-3]\d(?!\d)", path.stem)
    return match.group() if match else ""


def _file_key(file: str) -> str:
    return unicodedata.normalize("NFC", file.rsplit("/", 1)[-1]).casefold()


def _names(
    wanted: Iterable[str], known: Sequence[str], added: Sequence[str]
) -> tuple[Mapping[str, str], list[str]]:
    """Return the spelling to use for each name that is clear, and what to ask for the others."""
    spelling = {name_key(name): name for name in known}
    sure = set(spelling) | {name_key(name) for name in added}
    asked: dict[str, str] = {}
    for name in wanted:
        spelling.setdefault(name_key(name), name)
    keys = sorted(spelling)
    for key in keys:
        if key in sure:
            continue
        # Of two new names that are close to each other, both are asked for.
        near = [other for other in keys if other != key and _close(key, other)]
        if near:
            others = " or ".join(spelling[other] for other in near)
            asked[key] = (
                f"{spelling[key]} is a new name but close to {others}: write it the same way if "
                f'that is who it is, or say --add "{spelling[key]}" if it is somebody else.'
            )
    return {k: v for k, v in spelling.items() if k not in asked}, list(asked.values())


def _close(one: str, other: str) -> bool:
    """Tell whether two names could be meant as one."""
    plain, plain_other = _bare(one), _bare(other)
    if plain == plain_other:
        return True
    words, words_other = plain.split(), plain_other.split()
    fewer = min(len(words), len(words_other))
    if words[:fewer] == words_other[:fewer]:
        return True
    if re.sub(r"\d+", "#", plain) == re.sub(r"\d+", "#", plain_other):
        return False  # numbered athletes
    shorter = min(len(plain), len(plain_other))
    allowed = 0 if shorter < 4 else 1 if shorter < 9 else 2
    return _edits(plain, plain_other, allowed) <= allowed


def _bare(text: str) -> str:
    decomposed = unicodedata.normalize("NFKD", text)
    return "".join(c for c in decomposed if not unicodedata.combining(c)).replace("-", " ")


def _edits(one: str, other: str, most: int) -> int:
    """Return how many letters must be changed, put in, left out or swapped with their neighbour.

    Beyond `most` the number is only known to be more.
    """
    if abs(len(one) - len(other)) > most:
        return most + 1
    before_last: list[int] = []
    last = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        row = [i]
        for j, letter_other in enumerate(other, 1):
            step = min(last[j] + 1, row[-1] + 1, last[j - 1] + (letter != letter_other))
            swapped = i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == letter_other
            if swapped:
                step = min(step, before_last[j - 2] + 1)
            row.append(step)
        before_last, last = last, row
    return last[-1]
