"""Before and after: two sides of the season, measure by measure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.coaching.change import Change, Summary, compare, pool
from analysis.coaching.findings import Finding
from analysis.errors import SettingsError
from analysis.season import read
from analysis.season.read import SeasonClip
from analysis.season.store import Season

#: Chance of a false change in a measure that has not changed.
FALSE_SHARE = 0.05


@dataclass(frozen=True)
class MeasureChange:
    """What became of one measure.

    ``judged`` tells whether the standard judges it at this stage; `low` and `high` are its limits.
    """

    measure: str
    unit: str
    judged: bool
    low: float | None
    high: float | None
    change: Change


@dataclass(frozen=True)
class Comparison:
    """Two sides held against each other.

    Attributes
    ----------
    before, after : tuple of SeasonClip
        The clips that were compared: those of the same stage and setting.
    stage, setting : str
    alike : bool
        All filmed from the same side, and the same athlete.
    measures : tuple of MeasureChange
        In the order of strokes.csv; those told on neither side are left out.
    remarks : tuple of str
        What a reader should know.
    """

    before: tuple[SeasonClip, ...]
    after: tuple[SeasonClip, ...]
    stage: str
    setting: str
    alike: bool
    measures: tuple[MeasureChange, ...]
    remarks: tuple[str, ...] = ()

    @property
    def told(self) -> tuple[MeasureChange, ...]:
        """Judged measures that have changed, those for the worse first."""
        order = ("worse", "better", "changed")
        found = [m for m in self.measures if m.judged and m.change.verdict in order]
        return tuple(sorted(found, key=lambda m: order.index(m.change.verdict)))

    @property
    def by_chance(self) -> float:
        """How many judged measures would be told as changed if nothing had changed at all."""
        judged = [m for m in self.measures if m.judged and m.change.verdict != "cannot tell"]
        return FALSE_SHARE * len(judged)


def find_side(season: Season, words: str, athlete: str | None) -> list[SeasonClip]:
    """Return the reviewed clips that `words` names: a day of `athlete`, or a clip's file name.

    Raises
    ------
    SettingsError
        When there is no such clip, or more than one is meant.
    """
    if re.fullmatch(r"\d{4}-\d\d-\d\d", words):
        if athlete is None:
            raise SettingsError(f"Whose clips of {words}? Name the athlete with --athlete.")
        found = [c for c in read.clips(season, athlete=athlete, date=words) if c.reviewed]
        if not found:
            days = dict.fromkeys(c.date for c in read.clips(season, athlete=athlete) if c.reviewed)
            known = ", ".join(days) or "none"
            raise SettingsError(f"{athlete} has no reviewed clip of {words}; there are: {known}.")
        return found
    named = [c for c in read.clips(season, athlete=athlete) if c.reviewed and words in names_of(c)]
    if len(named) == 1:
        return named
    if not named:
        raise SettingsError(
            f"{words} is neither a day like 2026-01-31 nor a reviewed clip of this season: review "
            f"it first with  sideon squad"
        )
    places = " or ".join(c.pages.rsplit("/", 1)[-1] for c in named)
    raise SettingsError(f"Several clips are called {words}: say {places}.")


def names_of(clip: SeasonClip) -> tuple[str, str, str]:
    """Return what a clip may be called by: its file, with and without ending, and its folder."""
    return clip.file, clip.file.rsplit(".", 1)[0], clip.pages.rsplit("/", 1)[-1]


def compare_sides(
    season: Season, before: Sequence[SeasonClip], after: Sequence[SeasonClip]
) -> Comparison:
    """Compare two sides of the season.

    Raises
    ------
    SettingsError
        When they have no stage and setting in common, or share a clip.
    """
    if {c.id for c in before} & {c.id for c in after}:
        raise SettingsError("Before and after are the same clip: name two different ones.")
    stage, setting = _common(before, after)
    sides = [
        tuple(c for c in side if (c.stage, c.setting) == (stage, setting))
        for side in (before, after)
    ]
    clips = [*sides[0], *sides[1]]
    one_athlete = len({c.athlete for c in clips}) == 1
    one_side = len({c.facing for c in clips}) == 1
    left_out = len(before) + len(after) - len(clips)
    repeats = read.measured_sem(season)
    squad = read.squad_sem(season, without=clips[0].athlete) if one_athlete else {}
    units: dict[str, str] = {}
    summaries = [_summaries(season, side, units) for side in sides]
    findings = {f.measure: f for c in sides[1] for f in read.findings(season, c)}
    measures = []
    for measure, unit in units.items():
        pair = [side.get(measure) for side in summaries]
        if pair[0] is None or pair[1] is None or not (pair[0].n or pair[1].n):
            continue
        judged, low, high = _limits(findings.get(measure))
        change = compare(
            pair[0],
            pair[1],
            low=low,
            high=high,
            alike=one_athlete and one_side,
            repeats=repeats.get(measure),
            squad=squad.get(measure),
        )
        measures.append(MeasureChange(measure, unit, judged, low, high, change))
    return Comparison(
        before=sides[0],
        after=sides[1],
        stage=stage,
        setting=setting,
        alike=one_athlete and one_side,
        measures=tuple(measures),
        remarks=tuple(
            [
                *_order(*sides),
                *_remarks(one_athlete, one_side, left_out),
                *_on_trust(sides, [m.change for m in measures if m.judged]),
            ]
        ),
    )


def _common(before: Sequence[SeasonClip], after: Sequence[SeasonClip]) -> tuple[str, str]:
    """Return the stage and setting that both sides have; that of the latest clip first."""
    kinds = {(c.stage, c.setting) for c in before}
    shared = [c for c in after if (c.stage, c.setting) in kinds]
    if not shared:
        said = [
            " and ".join(sorted({f"{c.stage.replace('_', ' ')} ({c.setting})" for c in side}))
            for side in (before, after)
        ]
        raise SettingsError(
            f"Only strokes of one kind can be compared: before is {said[0]}, after {said[1]}."
        )
    last = max(shared, key=lambda c: (c.date, c.strokes, c.file))
    return last.stage, last.setting


def _summaries(
    season: Season, side: Sequence[SeasonClip], units: dict[str, str]
) -> dict[str, Summary]:
    found: dict[str, list[Summary]] = {}
    for clip in side:
        for measure, (unit, summary) in read.measures(season, clip).items():
            units.setdefault(measure, unit)
            found.setdefault(measure, []).append(summary)
    return {measure: pool(summaries) for measure, summaries in found.items()}


def _limits(finding: Finding | None) -> tuple[bool, float | None, float | None]:
    if finding is None or finding.level == "not applicable":
        return False, None, None
    return True, finding.low, finding.high


def _on_trust(sides: Sequence[Sequence[SeasonClip]], changes: Sequence[Change]) -> list[str]:
    """Say what one clip a day leaves open, where nothing in the season tells it."""
    if min(map(len, sides)) > 1 or all(change.basis != "taken on trust" for change in changes):
        return []
    return [
        "One clip a day does not tell how much one piece of rowing differs from the next, and "
        "nothing in this season does yet: only large changes are told. Film two clips a day, or "
        "more of the squad."
    ]


def _order(before: Sequence[SeasonClip], after: Sequence[SeasonClip]) -> list[str]:
    """Say when the days were given the wrong way round: better and worse then change places."""
    if min(c.date for c in before) <= max(c.date for c in after):
        return []
    return [
        "What is called before was filmed after what is called after: given the other way round, "
        "better and worse change places."
    ]


def _remarks(one_athlete: bool, one_side: bool, left_out: int) -> list[str]:
    said = []
    if not one_athlete:
        said.append(
            "Two athletes are compared: what differs between them is shown, and nothing of it is "
            "anybody's progress."
        )
    elif not one_side:
        said.append(
            "The clips were filmed from different sides, so that less can be told: film from the "
            "same side next time."
        )
    if left_out:
        clips = "1 clip is" if left_out == 1 else f"{left_out} clips are"
        said.append(f"{clips} of another stage or place and left out.")
    return said
