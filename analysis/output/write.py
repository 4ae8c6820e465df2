"""Putting a review on disk: whole or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from analysis.decoding import cores
from analysis.errors import SideonError
from analysis.output.annotated import LEAST_PX, frames_of, write_annotated
from analysis.output.index import IndexEntry, render_index
from analysis.output.kept_figures import kept_figures
from analysis.output.language import ENGLISH, Text
from analysis.output.one_file import write_one_file
from analysis.output.page import ReportPage, render_report, report_page
from analysis.output.places import plain_errors
from analysis.output.shows import Shown, shown_findings, shown_frames
from analysis.output.stills import draw_shown, draw_still, still_frames, write_still
from analysis.output.tables import write_tables
from analysis.output.text import Picture
from analysis.output.timing import Timing, timing
from analysis.output.video import fitting_size
from analysis.output.words import LOOK_AT
from analysis.pose.beside import helpers
from analysis.result import Review

#: Long side of the frames that stills are cut from when no clip is drawn, px.
_FRAME_PX = 1280

_NOTHING: Picture = np.zeros((0, 0, 3), dtype=np.uint8)


def write_review(
    review: Review,
    out_dir: Path,
    *,
    draw: bool = True,
    text: Text = ENGLISH,
    one_file: bool = False,
    keep: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Path:
    """Write all files of a review to ``out_dir / review.out_name``.

    They are written to a hidden folder beside it, which takes the place of an earlier result only
    when all are whole: a killed run leaves the earlier result, or nothing.

    Parameters
    ----------
    review : Review
    out_dir : Path
        Made when it does not exist.
    draw : bool
        Make the annotated clip, and the plain one beside it; the stills are made in any case.
    text : Text
        The words of the page.
    one_file : bool
        Write ``<out_name>_one_file.html`` too: page, pictures and clips in one file, unless that
        is too large.
    keep : bool
        Use pictures of an earlier result's clips again where the same would be drawn, and keep what
        that takes (`redrawn`); the same for the page's figures (`kept_figures`).
    progress : callable, optional
        Called with the share done, 0…1.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    SideonError
        When the folder cannot be written to or the disk is full; ``UnreadableClipError`` when the
        clip can no longer be read.
    """
    target = out_dir / review.out_name
    part = out_dir / f".{review.out_name}.part"
    with plain_errors(out_dir):
        out_dir.mkdir(parents=True, exist_ok=True)
        _recover(target)
        _refuse_foreign(target)
        if part.exists():
            shutil.rmtree(part)
        part.mkdir()
        try:
            _write_all(review, part, draw, text, one_file, target if keep else None, progress)
            _take_place(part, target)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise
    return target


def write_index(entries: Sequence[IndexEntry], out_dir: Path, text: Text = ENGLISH) -> Path:
    """Write ``index.html`` over all clips; an earlier one is replaced when the new one is whole.

    Raises
    ------
    SideonError
        When the folder cannot be written to or the disk is full.
    """
    target, part = out_dir / "index.html", out_dir / ".index.html.part"
    with plain_errors(out_dir):
        out_dir.mkdir(parents=True, exist_ok=True)
        try:
            part.write_text(render_index(entries, text), encoding="utf-8")
            os.replace(part, target)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    return target


def _write_all(
    review: Review,
    folder: Path,
    draw: bool,
    text: Text,
    one_file: bool,
    earlier: Path | None,
    progress: Callable[[float], None] | None,
) -> None:
    write_tables(review, folder)
    stills, shown = still_frames(review), shown_findings(review)
    wanted = stills | shown_frames(review, shown)
    when = timing(review) if draw else None
    with helpers(1 if cores() > 1 else 0) as pool:
        # The page is made beside the clip, in the hope that every picture can be had.
        hoped = pool.submit(_page, review, when, frozenset(wanted), text, earlier is not None)
        kept = _write_pictures(review, folder, when, earlier, progress, stills, shown, wanted, text)
        written = frozenset(name for name, index in wanted.items() if kept[index].size)
        page, html = hoped.result()
    if len(written) < len(wanted):
        page, html = _page(review, when, written, text, earlier is not None)
    (folder / "report.html").write_text(html, encoding="utf-8")
    if one_file:
        write_one_file(review, page, folder, text)
    if progress is not None:
        progress(1.0)


def _page(
    review: Review, when: Timing | None, files: frozenset[str], text: Text, keep: bool
) -> tuple[ReportPage, str]:
    with kept_figures(review.pose.clip.sha256 if keep else "", text) as once:
        page = report_page(review, when, files, text, once)
    return page, render_report(page, text)


def _write_pictures(
    review: Review,
    folder: Path,
    when: Timing | None,
    earlier: Path | None,
    progress: Callable[[float], None] | None,
    stills: dict[str, int],
    shown: Sequence[Shown],
    wanted: dict[str, int],
    text: Text,
) -> dict[int, Picture]:
    """Write clips and stills; return the frames by index, without size where one was not found."""
    kept: dict[int, Picture] = {index: _NOTHING for index in wanted.values()}
    if when is not None:
        write_annotated(
            review,
            folder / "annotated.mp4",
            plain=folder / "plain.mp4",
            keep=kept,
            progress=_share(progress, 0.9),
            text=text,
            earlier=earlier,
            when=when,
        )
    else:
        _find_frames(review, kept)
    for name, index in stills.items():
        if kept[index].size:
            write_still(folder / name, draw_still(review, kept[index], index, name, text))
    for one in shown:
        _write_shown(review, folder, one, wanted, kept, text)
    return kept


def _write_shown(
    review: Review,
    folder: Path,
    shown: Shown,
    wanted: dict[str, int],
    kept: dict[int, Picture],
    text: Text,
) -> None:
    """Write the pictures of a finding: where it shows, and the athlete's own best."""
    look_at = LOOK_AT.get(shown.finding.measure, "hip")
    for name in (shown.fault_file, shown.best_file):
        index = wanted.get(name)
        if index is not None and kept[index].size:
            ring = name == shown.fault_file
            picture = draw_shown(review, kept[index], index, shown.angles, look_at, ring, text)
            write_still(folder / name, picture)


def _find_frames(review: Review, kept: dict[int, Picture]) -> None:
    """Fill in the frames asked for, reading little else."""
    clip = review.pose.clip
    size = fitting_size(clip.width_px, clip.height_px, _FRAME_PX, LEAST_PX)
    wanted = np.zeros(len(review.motion.t_s), bool)
    wanted[list(kept)] = True
    kept.update(frames_of(review, *size, wanted))


def _share(progress: Callable[[float], None] | None, most: float) -> Callable[[float], None] | None:
    return None if progress is None else lambda share: progress(most * share)


def _take_place(part: Path, target: Path) -> None:
    """Rename `part` to `target`; an earlier result is moved aside first and removed last."""
    old = _aside(target)
    if target.is_dir() and not target.is_symlink():
        os.rename(target, old)
        try:
            os.rename(part, target)
        except BaseException:
            os.rename(old, target)
            raise
        shutil.rmtree(old, ignore_errors=True)
    else:
        os.rename(part, target)


def _refuse_foreign(target: Path) -> None:
    """Raise for a folder of that name that holds something else than an earlier result."""
    if target.is_dir() and any(target.iterdir()) and not (target / "review.json").exists():
        raise SideonError(
            f"The folder {target} holds other things than an earlier review, and is left alone: "
            "give another folder with --out."
        )


def _recover(target: Path) -> None:
    """Put back an earlier result that a killed run left moved aside."""
    old = _aside(target)
    if old.exists():
        if target.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            os.rename(old, target)


def _aside(target: Path) -> Path:
    return target.with_name(f".{target.name}.old")
