"""The standard: what counts as sound, as data that a coach can change.

Three standards are shipped; a squad's own file changes some of their numbers. Later wins:

1. ``[limits.MEASURE]`` of the shipped standard, then of the squad's file;
2. ``[setting.erg.MEASURE]`` and ``[setting.boat.MEASURE]``, in the same order of files;
3. ``[stage.NAME.MEASURE]``, likewise: so a squad's general limit leaves a limit for one stage be;
4. ``[athlete.NAME.MEASURE]``: an athlete's own limit holds at every stage and on any setting.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from analysis.coaching.standard_file import (
    NEVER,
    OPEN,
    SETTINGS,
    Entry,
    StandardFile,
    athlete_key,
    read_standard_file,
)
from analysis.errors import SettingsError
from analysis.stroke.build_up import STAGES, Stage

if TYPE_CHECKING:
    from analysis.motion.motion import Setting

#: Shipped standards and their files, from the most lenient to the strictest.
SHIPPED = {
    "first-weeks": "standard_first_weeks.toml",
    "novice": "standard.toml",
    "trained": "standard_trained.toml",
}
BASE = "novice"
SHIPPED_SOURCE = "shipped"

NeutralFrom = Literal["anybody", "standard", "season"]

Tables = Mapping[str, Mapping[str, Entry]]


@dataclass(frozen=True)
class RateLimit:
    """A lower limit that follows the stroke rate.

    ``share × (60 / rate − drive_s) / drive_s``, kept between ``least`` and ``most``: a share of
    the ratio that a drive of ``drive_s`` seconds would leave at that rate.
    """

    share: float
    drive_s: float
    least: float
    most: float

    def at(self, rate_spm: float) -> float:
        """Return the limit at `rate_spm` strokes a minute; NaN for an unknown rate."""
        if not math.isfinite(rate_spm) or rate_spm <= 0:
            return math.nan
        natural = (60.0 / rate_spm - self.drive_s) / self.drive_s
        return min(max(self.share * natural, self.least), self.most)


@dataclass(frozen=True)
class Limit:
    """One measure's limits, in the measure's own unit.

    Attributes
    ----------
    measure, check : str
        Column of strokes.csv, and the check (or set-up hint) that it belongs to.
    hint : bool
        True for set-up hints, which never become findings.
    low, high : float or None
        ``None`` leaves that side open; `low` may follow the rate.
    target : float or None
        What to aim for, shown only.
    step : float
        How much past the limit is a clear fault.
    max_u : float
        Beyond this uncertainty nothing is said.
    first_stage : str or None
        The first stage at which the limit applies; ``None`` switches it off.
    settings : tuple of str
        Where it applies: ``erg``, ``boat``.
    at_most : "work on" or "watch"
        The strongest level that this measure may reach.
    about : str
        What the measure is, in one sentence.
    """

    measure: str
    check: str
    unit: str
    low: float | RateLimit | None
    high: float | None
    step: float
    max_u: float
    first_stage: Stage | None
    settings: tuple[Setting, ...] = ("erg", "boat")
    at_most: str = "work on"
    target: float | None = None
    hint: bool = False
    about: str = ""

    def bounds(self, rate_spm: float) -> tuple[float | None, float | None]:
        """Return (low, high) at a stroke rate; a limit that needs an unknown rate is open."""
        low = self.low
        if isinstance(low, RateLimit):
            low = low.at(rate_spm)
            low = None if math.isnan(low) else low
        return low, self.high

    def applies(self, stage: Stage, setting: Setting) -> bool:
        """Tell whether the limit means anything at this stage and in this setting."""
        if self.first_stage is None or setting not in self.settings:
            return False
        return STAGES.index(stage) >= STAGES.index(self.first_stage)


@dataclass(frozen=True)
class Standard:
    """A standard in force for a squad, or for one athlete of it.

    Attributes
    ----------
    name, title, version : str
    source : str
        Where it came from: ``shipped`` or the path of a squad's file.
    based_on : str
        The shipped standard underneath.
    athlete : str
        The athlete whose own limits are laid over it; empty for the squad.
    neutral_raw_deg, neutral_raw_se_deg : float
        Raw back angle taken for upright when the athlete's own is not known, and its spread.
    neutral_from : "anybody", "standard" or "season"
        Whose back that is: sound backs in general, or the athlete's own as given in the standard
        or as seen on an earlier day.
    order : tuple of tuple of str
        Groups of checks, causes before symptoms.
    limits : mapping of (stage, setting) to (mapping of measure to Limit)
    digest : str
        Short fingerprint of all numbers, to tell whether two reviews used the same.
    tables : mapping
        The merged tables behind `limits` (``limits``, ``setting``, ``stage``, ``athlete``, and
        ``athlete_neutral``), every athlete's included, for writing a copy.
    """

    name: str
    title: str
    version: str
    source: str
    based_on: str
    athlete: str
    neutral_raw_deg: float
    neutral_raw_se_deg: float
    neutral_from: NeutralFrom
    order: tuple[tuple[str, ...], ...]
    limits: Mapping[tuple[Stage, Setting], Mapping[str, Limit]]
    digest: str
    tables: Mapping[str, Any] = field(repr=False)

    def at(self, stage: Stage, setting: Setting) -> Mapping[str, Limit]:
        """Return every limit, those that do not apply there included, by measure."""
        return self.limits[(stage, setting)]

    def with_season_neutral(self, neutral_raw_deg: float, se_deg: float) -> Standard:
        """Return the standard with the athlete's own upright back as an earlier day showed it.

        A neutral that the standard itself names for the athlete is kept.
        """
        if self.neutral_from == "standard":
            return self
        return replace(
            self,
            neutral_raw_deg=neutral_raw_deg,
            neutral_raw_se_deg=se_deg,
            neutral_from="season",
        )

    def rank(self, check: str) -> int:
        """Return the group of `check` in the order of causes before symptoms, 0 first."""
        for rank, group in enumerate(self.order):
            if check in group:
                return rank
        return len(self.order)


def load_standard(name_or_path: str | Path = BASE, *, athlete: str | None = None) -> Standard:
    """Load a shipped standard by name, or a squad's file by path.

    Parameters
    ----------
    name_or_path : str or Path
        ``first-weeks``, ``novice``, ``trained``, or a TOML file based on one of them. A ``Path``
        is always a file.
    athlete : str, optional
        Lay this athlete's own limits over it, where the file has any.

    Raises
    ------
    SettingsError
        When there is no such standard or file, or the file cannot be used: one sentence with
        file, line and key.
    """
    name = str(name_or_path)
    base = _read_shipped(BASE)
    files = [base]
    if name in SHIPPED and not isinstance(name_or_path, Path):
        if name != BASE:
            files.append(_read_shipped(name, base))
        return _lay(files, SHIPPED_SOURCE, name, athlete)
    path = Path(name)
    if not path.is_file():
        raise SettingsError(
            f"There is no standard {name!r}: give {', '.join(SHIPPED)}, or the path of a TOML file "
            f"(sideon standard --write FILE makes one)."
        )
    own = read_standard_file(path, measures=base.limits, checks=_checks(base))
    based_on = own.top.get("based_on", Entry(BASE, f"{path}: based_on"))
    if based_on.value not in SHIPPED:
        raise SettingsError(
            f"{based_on.where} must be one of {', '.join(SHIPPED)}, not {based_on.value!r}."
        )
    if based_on.value != BASE:
        files.append(_read_shipped(based_on.value, base))
    return _lay([*files, own], str(path), based_on.value, athlete)


def _read_shipped(name: str, base: StandardFile | None = None) -> StandardFile:
    with resources.as_file(resources.files(__package__) / SHIPPED[name]) as path:
        if base is None:
            return read_standard_file(path)
        return read_standard_file(path, measures=base.limits, checks=_checks(base))


def _checks(base: StandardFile) -> tuple[str, ...]:
    """Return the names of all checks, set-up hints left out, in the order of the file."""
    found = (table["check"].value for table in base.limits.values() if "check" in table)
    return tuple(dict.fromkeys(found))


def _lay(files: list[StandardFile], source: str, based_on: str, athlete: str | None) -> Standard:
    """Lay the files over each other, the shipped base first."""
    who = athlete_key(athlete or "")
    top = {key: entry.value for file in files for key, entry in file.top.items()}
    if source != SHIPPED_SOURCE:
        own_top = files[-1].top
        if "name" not in own_top:
            top["name"] = Path(source).stem
        if "title" not in own_top:
            top["title"] += f", changed by {Path(source).name}"
    general = _merge(file.limits for file in files)
    settings = {s: _merge(file.setting.get(s, {}) for file in files) for s in SETTINGS}
    stages = {s: _merge(file.stage.get(s, {}) for file in files) for s in STAGES}
    athletes = {
        name: _merge(file.athlete.get(name, {}) for file in files)
        for name in dict.fromkeys(name for file in files for name in file.athlete)
    }
    neutrals = {
        name: table["neutral_raw_deg"].value
        for file in files
        for name, table in file.athlete_top.items()
    }
    limits = {
        (stage, setting): {
            measure: _limit(measure, table)
            for measure, table in _merge(
                (general, settings[setting], stages[stage], athletes.get(who, {}))
            ).items()
        }
        for stage in STAGES
        for setting in SETTINGS
    }
    order = tuple(tuple(group) for group in top["order"])
    neutral = float(neutrals.get(who, top["neutral_raw_deg"]))
    return Standard(
        name=top["name"],
        title=top["title"],
        version=top["version"],
        source=source,
        based_on=based_on,
        athlete=(athlete or "") if who in athletes else "",
        neutral_raw_deg=neutral,
        neutral_raw_se_deg=0.0 if who in neutrals else float(top["neutral_raw_se_deg"]),
        neutral_from="standard" if who in neutrals else "anybody",
        order=order,
        limits=limits,
        digest=_digest(limits, neutral, order),
        tables={
            "limits": general,
            "setting": settings,
            "stage": stages,
            "athlete": athletes,
            "athlete_neutral": neutrals,
        },
    )


def _merge(layers: Iterable[Tables]) -> dict[str, dict[str, Entry]]:
    """Lay tables over each other key by key; the later one wins."""
    merged: dict[str, dict[str, Entry]] = {}
    for layer in layers:
        for measure, table in layer.items():
            merged.setdefault(measure, {}).update(table)
    return merged


def _limit(measure: str, table: Mapping[str, Entry]) -> Limit:
    """Build one limit from its merged keys and check that they fit together."""

    def get(key: str, default: Any = None) -> Any:
        value = table[key].value if key in table else default
        return None if value == OPEN else value

    low, high = get("low"), get("high")
    if isinstance(low, Mapping):
        low = RateLimit(**{key: float(value) for key, value in low.items()})
        if not 0 < low.least <= low.most or low.share <= 0 or low.drive_s <= 0:
            raise SettingsError(
                f"{table['low'].where} needs numbers above 0, and least no larger than most."
            )
    elif low is not None:
        low = float(low)
    floor = low.least if isinstance(low, RateLimit) else low
    if floor is not None and high is not None and floor >= high:
        raise SettingsError(
            f"{table['low'].where} is {floor:g}, which is not below high = {high:g}, "
            f"so that nothing could be steady."
        )
    target = get("target")
    return Limit(
        measure=measure,
        check=get("check") or get("hint"),
        unit=get("unit"),
        low=low,
        high=None if high is None else float(high),
        target=None if target is None else float(target),
        step=float(get("step")),
        max_u=float(get("max_u")),
        first_stage=None if get("from") == NEVER else get("from"),
        settings=tuple(get("settings", SETTINGS)),
        at_most=get("at_most", "work on"),
        hint="hint" in table,
        about=get("about", ""),
    )


def _digest(
    limits: Mapping[tuple[Stage, Setting], Mapping[str, Limit]],
    neutral: float,
    order: tuple[tuple[str, ...], ...],
) -> str:
    """Return a short fingerprint of the numbers; where they stand in which file plays no part."""
    numbers = [
        [*place, *(str(replace(limit, about="")) for _, limit in sorted(table.items()))]
        for place, table in sorted(limits.items())
    ]
    return hashlib.sha256(json.dumps([numbers, neutral, order]).encode()).hexdigest()[:8]
