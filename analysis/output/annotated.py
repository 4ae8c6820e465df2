"""The annotated clip: what was measured, drawn where it is, slowed where it matters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Protocol

import numpy as np

from analysis.checks import BoolArray
from analysis.clip import Clip, ClipFacts
from analysis.decoding import cores
from analysis.frame import SAME_TIME_S
from analysis.output import words
from analysis.output.angle_arcs import AngleArcs
from analysis.output.back_shape import BackShape
from analysis.output.labels import Labels
from analysis.output.language import ENGLISH, Text
from analysis.output.moment import Moment, Moments
from analysis.output.notes import Notes
from analysis.output.phase_band import PhaseBand
from analysis.output.redrawn import (
    Earlier,
    Printer,
    Prints,
    SplicedWriter,
    earlier_clip,
    remember,
)
from analysis.output.said import translated
from analysis.output.skeleton import Skeleton
from analysis.output.text import Picture
from analysis.output.timing import Timing, timing
from analysis.output.undrawn import copy_undrawn
from analysis.output.video import VideoWriter, fitting_size
from analysis.pose.beside import InOrder, ahead, helpers
from analysis.pose.memory import give_back
from analysis.result import Review

#: Long side of the annotated clip, px: larger ones are made smaller, tiny ones larger so that
#: words on them can be read.
LONGEST_PX, LEAST_PX = 1280, 854

#: Pictures that may be read ahead, and wait to be written: bounds the memory.
PICTURES_WAITING = 8

#: Pictures after which memory that they left behind is given back: of a long clip it adds up.
GIVEN_BACK_EVERY = 500

#: A shorter stretch without wanted frames is read through, though not decoded, s: opening the clip
#: anew takes time too.
WORTH_SKIPPING_S = 10.0

#: Writes a picture, shown at a time for so long, s.
Write = Callable[[Picture, float, float], None]


class Drawer(Protocol):
    """Whatever draws one thing onto a frame."""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place."""


def drawers(review: Review, text: Text = ENGLISH) -> tuple[Drawer, ...]:
    """Return everything that is drawn on a clip, lowest layer first."""
    stage = words.stage_label(review.strokes.stage, text)
    name = words.name(review.athlete)
    title = Labels(f"{translated(name, text) or name} · {stage}")
    # Rings come with the notes: below the numbers, which must stay readable.
    return (PhaseBand(), BackShape(), Skeleton(), Notes(), AngleArcs(), title)


def frames_of(
    review: Review, width_px: int, height_px: int, wanted: BoolArray | None = None
) -> Iterator[tuple[int, Picture]]:
    """Give the measured frames of the clip again, with their index, at the size asked for.

    With `wanted` [shape=(T,)] only those; what they do not need is not decoded, and long stretches
    without any are not even read.
    """
    t_s = review.motion.t_s
    some = wanted is not None and not wanted.all() and review.pose.clip.sound
    for first, last in _stretches(review, wanted):
        clip = Clip(
            review.source,
            from_s=float(t_s[first]) - SAME_TIME_S,
            to_s=float(t_s[last]) + SAME_TIME_S,
            wanted_s=t_s[wanted] if some else None,
        )
        with closing(clip):  # not entered: that looks at its first frame alone
            for frame in clip:
                after = int(np.searchsorted(t_s, frame.t_s))
                index = min(after, len(t_s) - 1)
                if after and frame.t_s - t_s[after - 1] <= abs(t_s[index] - frame.t_s):
                    index = after - 1
                near = abs(float(t_s[index]) - frame.t_s) <= SAME_TIME_S
                if near and (wanted is None or wanted[index]):
                    yield index, frame.bgr(width_px, height_px)
                # Of a clip that was thinned frames just before the last one lie nearest to it.
                if frame.t_s >= t_s[last] - SAME_TIME_S:
                    break  # a part may be shorter than a clip has to be, and is not told of then


def _stretches(review: Review, wanted: BoolArray | None) -> list[tuple[int, int]]:
    """Return first and last frame of each part of the clip that has to be read."""
    t_s = review.motion.t_s
    if wanted is None:
        return [(0, len(t_s) - 1)]
    found: list[tuple[int, int]] = []
    sound = review.pose.clip.sound
    for index in np.flatnonzero(wanted).tolist():
        if found and not (sound and t_s[index] - t_s[found[-1][1]] > WORTH_SKIPPING_S):
            found[-1] = (found[-1][0], index)
        else:
            found.append((index if sound else 0, index))
    return found


def draw_all(frame_bgr: Picture, moment: Moment, layers: tuple[Drawer, ...]) -> None:
    """Draw every layer onto a frame."""
    for layer in layers:
        layer.draw(frame_bgr, moment)


def write_annotated(
    review: Review,
    path: Path,
    *,
    longest_px: int = LONGEST_PX,
    plain: Path | None = None,
    keep: dict[int, Picture] | None = None,
    progress: Callable[[float], None] | None = None,
    text: Text = ENGLISH,
    earlier: Path | None = None,
    when: Timing | None = None,
) -> Timing:
    """Write the annotated clip.

    Parameters
    ----------
    review : Review
    path : Path
        An ``.mp4``.
    longest_px : int
        Long side at most, px.
    plain : Path, optional
        Where to write the same clip with nothing drawn on it, picture by picture at the same times;
        its own coded pictures where they will do.
    keep : dict of int to picture, optional
        Frames whose index is a key are put in as they come, undrawn: the stills need no second
        pass.
    progress : callable, optional
        Called with the share done, 0…1.
    text : Text
        Language of the words on the clip.
    earlier : Path, optional
        Folder in which an earlier review's clips may lie, under the same names: pictures that would
        be the same again are copied from them, and fingerprints of all are kept for the next time.
    when : Timing, optional
        That of the clip, where it is known already.

    Returns
    -------
    Timing

    Raises
    ------
    SideonError
        When the encoder is missing; ``UnreadableClipError`` when the clip has gone.
    """
    facts = review.pose.clip
    least = min(LEAST_PX, longest_px)
    width, height = fitting_size(facts.width_px, facts.height_px, longest_px, least)
    when = when or timing(review)
    moments = Moments(review, width / facts.width_px, when.slowed, text)
    layers = drawers(review, text)
    drawn = _Target(path, moments, layers, earlier, facts)
    bare = None
    if plain is not None and not _copied(review, plain, when, longest_px):
        bare = _Target(plain, moments, (), earlier, facts)
    with ExitStack() as stack:
        write = drawn.writer(stack, when, (width, height))
        write_bare = None if bare is None else bare.writer(stack, when, (width, height))
        wanted = drawn.made | (False if bare is None else bare.made)
        wanted[list(keep or ())] = True
        frames = frames_of(review, width, height, wanted)
        for index, picture in ahead(frames, PICTURES_WAITING if cores() > 1 else 0):
            at_s, lasts_s = float(when.shown_s[index]), float(when.lasts_s[index])
            if keep is not None and index in keep:
                keep[index] = picture.copy()
            if write_bare is not None and bare is not None and bare.made[index]:
                bare.note(index, float(moments.t_s[index]))
                write_bare(picture, at_s, lasts_s)
            if drawn.made[index]:
                moment = moments.at(index)
                drawn.note(index, moment)
                draw_all(picture, moment, layers)
                write(picture, at_s, lasts_s)
            if progress is not None:
                progress((index + 1) / len(when.clip_s))
            if index % GIVEN_BACK_EVERY == 0:
                give_back()
    for target in (drawn, bare):
        if target is not None:
            target.remember()
    return when


class _Target:
    """A clip to be written, with what of an earlier one can be used again."""

    def __init__(
        self,
        path: Path,
        moments: Moments,
        layers: tuple[Drawer, ...],
        earlier: Path | None,
        facts: ClipFacts,
    ) -> None:
        self._path, self._facts = path, facts
        self._printer = None if earlier is None else Printer(facts, moments, layers)
        self._prints: Prints | None = None
        self._earlier: Earlier | None = None
        if earlier is not None and self._printer is not None:
            there = (earlier / path.name).exists()
            self._prints = self._printer.all() if there else self._printer.none()
            self._earlier = earlier_clip(facts, earlier / path.name, self._prints)
        #: Pictures that have to be made [shape=(T,)].
        self.made = np.ones(len(moments.t_s), bool)
        if self._earlier is not None:
            self.made &= ~self._earlier.copied

    def writer(self, stack: ExitStack, when: Timing, size_px: tuple[int, int]) -> Write:
        """Return what writes a picture to the clip; `stack` closes it."""
        if self._earlier is None:
            return _writer(stack, VideoWriter(self._path, *size_px))
        spliced = SplicedWriter(self._path, self._earlier, when.shown_s, when.lasts_s)
        return stack.enter_context(spliced).write

    def note(self, index: int, what: Moment | float) -> None:
        """Take the fingerprint of a picture that is made, where it was not taken already."""
        if self._printer is not None and self._prints is not None and not self._prints[index]:
            self._prints[index] = self._printer.of(what)

    def remember(self) -> None:
        """Keep fingerprints of what was written."""
        if self._prints is not None:
            remember(self._facts, self._path, self._prints)


def _copied(review: Review, plain: Path, when: Timing, longest_px: int) -> bool:
    """Write the undrawn clip from the original's own coded pictures; False where they won't do."""
    return copy_undrawn(
        Path(review.source),
        plain,
        review.pose.clip,
        when.clip_s,
        when.shown_s,
        when.duration_s,
        longest_px,
    )


def _writer(stack: ExitStack, opened: VideoWriter) -> Write:
    """Return what writes a picture to a clip: in a thread of its own, a few pictures behind.

    That thread has most to do, so whoever gives the picture converts it, and may draw on it
    afterwards. `stack` closes the clip.
    """
    stack.enter_context(opened)
    pool = stack.enter_context(helpers(1 if cores() > 1 else 0))
    line = InOrder[None](lambda item, result: None, most=PICTURES_WAITING)
    stack.callback(line.finish)

    def write(picture: Picture, at_s: float, lasts_s: float) -> None:
        converted = opened.converted(picture, at_s)
        line.put(None, pool.submit(opened.write_converted, converted, at_s, lasts_s))

    return write
