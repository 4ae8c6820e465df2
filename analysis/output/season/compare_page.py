"""The page of a comparison, and its files: page, clip of both strokes."""

from __future__ import annotations

import math
import os
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.coaching.change import WORDS, Basis
from analysis.errors import SettingsError, SideonError
from analysis.output import words
from analysis.output.figures import Picture
from analysis.output.page import date_words
from analysis.output.reached import reached
from analysis.output.season.compare_clip import Side, side_of, write_comparison
from analysis.output.season.compare_figures import stroke_curves
from analysis.output.season.compare_sticks import mean_sticks
from analysis.output.season.faces import write_blurred
from analysis.output.season.measured import Measured, read_measured
from analysis.output.season.share import NOBODY, faces_by_joints
from analysis.output.season.write import private_folders, write_page
from analysis.output.stick_figures import StickPicture
from analysis.season.compare import Comparison, MeasureChange
from analysis.season.read import SeasonClip
from analysis.season.record import folder_name
from analysis.season.store import Season

#: A sign for each verdict, so that it is never told by colour alone.
VERDICT_SIGNS = {
    "better": "✓", "worse": "▲", "changed": "◆", "no change": "–", "cannot tell": "?",
}  # fmt: skip


@dataclass(frozen=True)
class ChangeRow:
    """One measure as page and terminal show it."""

    label: str
    before: str
    after: str
    change: str
    interval: str
    mdc95: str
    limits: str
    verdict: str
    verdict_words: str
    sign: str


@dataclass(frozen=True)
class ComparePage:
    """Everything on the page of a comparison, in its order."""

    title: str
    back: str
    before: str
    after: str
    stage: str
    headline: str
    lead: tuple[str, ...]
    remarks: tuple[str, ...]
    has_clip: bool
    judged: tuple[ChangeRow, ...]
    others: tuple[ChangeRow, ...]
    pictures: tuple[Picture, ...]
    sticks: StickPicture | None
    pieces: str
    alike: bool
    by_chance: str


#: What two athletes are called in something to be shared.
TWO = "Two athletes"

#: How much of the clip before and after a stroke is copied with it, s.
_AROUND_S = 0.6


def change_row(found: MeasureChange, stage: str) -> ChangeRow:
    """Return one measure's change in words."""
    change, unit, measure = found.change, found.unit, found.measure

    def said(value: float) -> str:
        return words.quantity(value, unit, measure)

    interval = f"{said(change.low)} to {said(change.high)}" if math.isfinite(change.low) else ""
    return ChangeRow(
        label=words.measure_label(measure, stage=stage),
        before=said(change.before.mean),
        after=said(change.after.mean),
        change=signed(change.change, said(abs(change.change))),
        interval=interval,
        mdc95=said(change.mdc95),
        limits=words.limits(found.low, found.high, unit, measure) if found.judged else "",
        verdict=change.verdict.replace(" ", "-"),
        verdict_words=WORDS[change.verdict],
        sign=VERDICT_SIGNS[change.verdict],
    )


def signed(value: float, said: str) -> str:
    """Return a change with its sign."""
    if not math.isfinite(value):
        return "–"
    return f"{'+' if value > 0 else '−' if value < 0 else ''}{said}"


def headline(comparison: Comparison) -> str:
    """Return the gist in one line."""
    told = {found.change.verdict for found in comparison.told}
    if {"better", "worse"} <= told:
        return "Some things for the better, some for the worse"
    if "better" in told:
        return "Changed for the better"
    if "worse" in told:
        return "Changed for the worse"
    if "changed" in told:
        return "Changed, neither for the better nor the worse"
    return "No change that can be told"


def lead(comparison: Comparison) -> tuple[str, ...]:
    """Return a sentence for each verdict that occurs."""
    openings = (("better", "For the better"), ("worse", "For the worse"), ("changed", "Changed"))
    lines = []
    for verdict, opening in openings:
        found = [m for m in comparison.told if m.change.verdict == verdict]
        if found:
            parts = []
            for m in found:
                row = change_row(m, comparison.stage)
                label = row.label[:1].lower() + row.label[1:]
                parts.append(f"{label} ({row.before} → {row.after})")
            lines.append(f"{opening}: {', '.join(parts)}.")
    return tuple(lines)


#: How it is known how much one piece of rowing differs from the next.
_PIECES: dict[Basis, str] = {
    "repeats": "How much one piece differs from the next was measured on days of this season with "
    "several clips of an athlete.",
    "squad": "How much one piece differs from the next was taken from how much more or less than "
    "the others each of the squad changed between two days.",
    "taken on trust": "One piece is taken to differ from the next by as much as strokes do, for "
    "nothing in this season tells: several clips of an athlete on one day would.",
}


def _pieces(comparison: Comparison) -> str:
    """Say what told how much pieces differ, for most of the measures."""
    found = Counter(m.change.basis for m in comparison.measures)
    return _PIECES[found.most_common(1)[0][0]] if found else ""


def side_label(clips: Sequence[SeasonClip]) -> str:
    """Return a side in words: its day, with how many clips when they are several."""
    days = list(dict.fromkeys(date_words(c.date) for c in clips))
    many = f" ({len(clips)} clips)" if len(clips) > 1 else ""
    return " and ".join(days) + many


def write_compare(
    season: Season,
    comparison: Comparison,
    *,
    draw: bool = True,
    out: Path | None = None,
    share: bool = False,
) -> tuple[Path, str]:
    """Write the comparison's page and clip.

    Parameters
    ----------
    season : Season
    comparison : Comparison
    draw : bool
        Make the clip of both strokes in step.
    out : Path, optional
        Folder to write to; by default beside the pages of the athlete (of `after`).
    share : bool
        Something to be shared: faces blurred, no names; the season remembers the folder.

    Returns
    -------
    (Path, str)
        The page, and why there is no clip (empty when there is one, or none was asked for).

    Raises
    ------
    SideonError
        When the folder cannot be written to.
    """
    folder = out or season.folder / home_of(comparison)
    private_folders(folder)
    sides = [_measured(season, clips) for clips in (comparison.before, comparison.after)]
    clip = folder / "in_step.mp4"
    clip.unlink(missing_ok=True)
    problem = ""
    if draw:
        try:
            _draw(season, comparison, clip, share=share)
        except SideonError as error:
            problem = str(error)
            clip.unlink(missing_ok=True)
    page = compare_page(comparison, sides, has_clip=clip.exists(), inside=out is None)
    if share:
        clips = (*comparison.before, *comparison.after)
        page = replace(page, title=NOBODY if len({c.athlete for c in clips}) == 1 else TWO)
        path = os.path.relpath(folder.resolve(), season.folder.resolve())
        season.remember_shared(Path(path).as_posix(), [c.sha256 for c in clips])
    return write_page(folder / "index.html", "season_compare.html.j2", {"page": page}), problem


def home_of(comparison: Comparison) -> str:
    """Return the comparison's own folder, relative to the season: the same for the same clips."""
    athlete = folder_name(comparison.after[-1].athlete)
    ends = []
    for clips in (comparison.before, comparison.after):
        days = sorted({c.date for c in clips})
        whole = "" if len(clips) > 1 else f"_{clips[0].sha256[:8]}"
        ends.append(days[0] + whole)
    return f"athletes/{athlete}/compared_{ends[0]}_to_{ends[1]}"


def change_rows(comparison: Comparison, *, judged: bool = True) -> tuple[ChangeRow, ...]:
    """Return the rows of what the stage reaches; of those judged, what changed comes first."""
    stage = comparison.stage
    rows = [
        change_row(m, stage)
        for m in comparison.measures
        if m.judged == judged and reached(m.measure, stage)
    ]
    order = ("worse", "better", "changed", "no-change", "cannot-tell")
    return tuple(sorted(rows, key=lambda row: order.index(row.verdict)) if judged else rows)


def compare_page(
    comparison: Comparison, sides: Sequence[Sequence[Measured]], *, has_clip: bool, inside: bool
) -> ComparePage:
    """Gather everything on the page."""
    names = list(
        dict.fromkeys(words.name(c.athlete) for c in (*comparison.before, *comparison.after))
    )
    place = "on the machine" if comparison.setting == "erg" else "in the boat"
    return ComparePage(
        title=" and ".join(names),
        back="../index.html" if inside else "",
        before=side_label(comparison.before),
        after=side_label(comparison.after),
        stage=f"{words.stage_label(comparison.stage)}, {place}",
        headline=headline(comparison),
        lead=lead(comparison),
        remarks=comparison.remarks,
        has_clip=has_clip,
        judged=change_rows(comparison),
        others=change_rows(comparison, judged=False),
        pictures=tuple(stroke_curves(sides[0], sides[1])),
        sticks=mean_sticks(sides[0], sides[1]),
        pieces=_pieces(comparison),
        alike=comparison.alike,
        by_chance=f"{comparison.by_chance:.1f}",
    )


def _measured(season: Season, clips: Sequence[SeasonClip]) -> list[Measured]:
    """Read back the clips' measurements; a clip whose pages are gone is left out."""
    found = []
    for clip in clips:
        try:
            found.append(read_measured(season.folder / clip.pages))
        except SettingsError:
            continue
    return found


def _draw(season: Season, comparison: Comparison, target: Path, *, share: bool) -> None:
    chosen = []
    for word, clips in (("Before", comparison.before), ("After", comparison.after)):
        clip = max(clips, key=lambda c: (c.strokes, c.date, c.file))
        path = season.folder / clip.path
        if not clip.path or not path.is_file():
            raise SettingsError(f"The clip {clip.file} is not where it was when it was reviewed.")
        measured = read_measured(season.folder / clip.pages)
        chosen.append(side_of(path, measured, f"{word}: {date_words(clip.date)}"))
    with tempfile.TemporaryDirectory(prefix="sideon-share-") as place:
        if share:
            chosen = [
                _without_face(side, Path(place) / f"{i}.mp4") for i, side in enumerate(chosen)
            ]
        write_comparison(target, chosen[0], chosen[1])
    target.chmod(0o600)


def _without_face(side: Side, target: Path) -> Side:
    """Return a side that shows its stroke from a copy with every face blurred."""
    measured = side.measured
    start, _, end = side.events
    near = (measured.t_s >= start - _AROUND_S) & (measured.t_s <= end + _AROUND_S)
    t_s = measured.t_s[near]
    own = faces_by_joints(t_s, measured.joints_px[near], measured.facing)
    write_blurred(side.path, target, t_s, own, measured.size_px)
    return replace(side, path=target)
