"""The annotated clip: what was measured, drawn where it is, slowed where it matters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np

from analysis.checks import FloatArray
from analysis.clip import Clip
from analysis.decoding import cores
from analysis.output import words
from analysis.output.angle_arcs import AngleArcs
from analysis.output.back_shape import BackShape
from analysis.output.labels import Labels
from analysis.output.language import ENGLISH, Text
from analysis.output.moment import Moment, Moments, front_of, stroke_to_show, window_s
from analysis.output.notes import Notes
from analysis.output.phase_band import PhaseBand
from analysis.output.said import translated
from analysis.output.skeleton import Skeleton
from analysis.output.text import Picture
from analysis.output.undrawn import copy_undrawn
from analysis.output.video import VideoWriter, fitting_size
from analysis.pose.beside import InOrder, ahead, helpers
from analysis.result import Review

#: Long side of the annotated clip, px: larger ones are made smaller, tiny ones larger so that
#: words on them can be read.
LONGEST_PX, LEAST_PX = 1280, 854

#: How many times slower the important moments run.
SLOWER = 4.0

#: Pictures that may be read ahead, and wait to be written: bounds the memory.
PICTURES_WAITING = 4

#: Decoded frame and measured frame are the same when their times differ by less, s.
SAME_TIME_S = 0.002


class Drawer(Protocol):
    """Whatever draws one thing onto a frame."""

    def draw(self, frame_rgb: Picture, moment: Moment) -> None:
        """Draw onto `frame_rgb` in place."""


@dataclass(frozen=True)
class Timing:
    """When each frame is shown in the annotated clip.

    Attributes
    ----------
    clip_s, shown_s, lasts_s : array [shape=(T,), s]
        The frame's own time, the time at which it is shown, and for how long.
    slowed : array [shape=(T,)]
        How many times slower than life.
    """

    clip_s: FloatArray
    shown_s: FloatArray
    lasts_s: FloatArray
    slowed: FloatArray

    @property
    def duration_s(self) -> float:
        """Length of the annotated clip, s."""
        return float(self.shown_s[-1] + self.lasts_s[-1])

    def shown_at(self, clip_s: float) -> float:
        """Return the annotated clip's time for a time of the original clip, s."""
        return float(np.interp(clip_s, self.clip_s, self.shown_s))


def drawers(review: Review, text: Text = ENGLISH) -> tuple[Drawer, ...]:
    """Return everything that is drawn on a clip, lowest layer first."""
    stage = words.stage_label(review.strokes.stage, text)
    name = words.name(review.athlete)
    title = Labels(f"{translated(name, text) or name} · {stage}")
    # Rings come with the notes: below the numbers, which must stay readable.
    return (PhaseBand(), BackShape(), Skeleton(), Notes(), AngleArcs(), title)


def slow_windows(review: Review) -> list[tuple[float, float]]:
    """Return the parts of the clip that are slowed: start and end, s."""
    strokes, first = review.strokes, review.findings.first
    if not strokes.count:
        return []
    i = stroke_to_show(review)
    window = window_s(strokes, i)
    front = front_of(strokes, i)
    parts = [
        (front[0] - window, front[1] + window),
        (float(strokes.release_s[i]) - window, float(strokes.release_s[i]) + window),
    ]
    if first is not None and np.isfinite(first.show_at_s):
        parts.append((first.show_at_s - window, first.show_at_s + window))
    return parts


def timing(review: Review) -> Timing:
    """Work out when each frame of the annotated clip is shown."""
    t_s = review.motion.t_s
    slowed = np.ones(len(t_s))
    for start, end in slow_windows(review):
        slowed[(t_s >= start) & (t_s <= end)] = SLOWER
    steps = np.diff(t_s)
    last = float(np.median(steps)) if len(steps) else 1 / 30
    lasts = np.append(steps, last) * slowed
    shown = np.concatenate([[0.0], np.cumsum(lasts[:-1])])
    return Timing(clip_s=t_s, shown_s=shown, lasts_s=lasts, slowed=slowed)


def frames_of(review: Review, width_px: int, height_px: int) -> Iterator[tuple[int, Picture]]:
    """Give the measured frames of the clip again, with their index, at the size asked for."""
    t_s = review.motion.t_s
    with Clip(
        review.source, from_s=float(t_s[0]) - SAME_TIME_S, to_s=float(t_s[-1]) + SAME_TIME_S
    ) as clip:
        for frame in clip:
            after = int(np.searchsorted(t_s, frame.t_s))
            index = min(after, len(t_s) - 1)
            if after and frame.t_s - t_s[after - 1] <= abs(t_s[index] - frame.t_s):
                index = after - 1
            if abs(float(t_s[index]) - frame.t_s) <= SAME_TIME_S:
                yield index, frame.scaled(width_px, height_px)


def draw_all(frame_rgb: Picture, moment: Moment, layers: tuple[Drawer, ...]) -> None:
    """Draw every layer onto a frame."""
    for layer in layers:
        layer.draw(frame_rgb, moment)


def write_annotated(
    review: Review,
    path: Path,
    *,
    longest_px: int = LONGEST_PX,
    plain: Path | None = None,
    keep: dict[int, Picture] | None = None,
    progress: Callable[[float], None] | None = None,
    text: Text = ENGLISH,
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
    when = timing(review)
    moments = Moments(review, width / facts.width_px, when.slowed, text)
    layers = drawers(review, text)
    with ExitStack() as stack:
        write = _writer(stack, path, width, height)
        write_plain = None
        if plain is not None and not _copied(review, plain, when, longest_px):
            write_plain = _writer(stack, plain, width, height)
        frames = frames_of(review, width, height)
        for index, picture in ahead(frames, PICTURES_WAITING if cores() > 1 else 0):
            at_s, lasts_s = float(when.shown_s[index]), float(when.lasts_s[index])
            if keep is not None and index in keep:
                keep[index] = picture.copy()
            if write_plain is not None:
                write_plain(picture.copy(), at_s, lasts_s)
            draw_all(picture, moments.at(index), layers)
            write(picture, at_s, lasts_s)
            if progress is not None:
                progress((index + 1) / len(when.clip_s))
    return when


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


def _writer(
    stack: ExitStack, path: Path, width_px: int, height_px: int
) -> Callable[[Picture, float, float], None]:
    """Return what writes a picture to a clip: in a thread of its own, a few pictures behind.

    The picture must not be drawn on afterwards. `stack` closes the clip.
    """
    video = stack.enter_context(VideoWriter(path, width_px, height_px))
    pool = stack.enter_context(helpers(1 if cores() > 1 else 0))
    line = InOrder[None](lambda item, result: None, most=PICTURES_WAITING)
    stack.callback(line.finish)

    def write(picture: Picture, at_s: float, lasts_s: float) -> None:
        line.put(None, pool.submit(video.write, picture, at_s, lasts_s))

    return write
