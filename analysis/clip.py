"""Reading clips: frames in order, upright, each with its own presentation time.

Frames are streamed: at most a decoder's queue of them is in memory. Every pass over a `Clip`
opens the file anew, so a second pass gives the same frames and times as the first.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import av

from analysis.checks import FloatArray
from analysis.decoding import Clock, Packets, open_clip, refuse_absurd, video_stream
from analysis.errors import UnreadableClipError
from analysis.frame import Frame as Frame
from analysis.frame import Upright, orientation
from analysis.needed import asked_for

#: Shorter clips cannot hold a stroke.
MIN_FRAMES = 10
MIN_DURATION_S = 1.0
#: Of a clip with more frames than about 45 a second, frames nearer than this to the last one given
#: are left out on request: 30 of 60 a second remain, 25 of 50, 40 of 120 or 240.
LEAST_STEP_S = 0.021
_HDR_TRANSFERS = {16, 18}  # PQ and HLG in ITU-T H.273


@dataclass(frozen=True)
class ClipFacts:
    """What is known of the clip itself; carried along for reports.

    ``frames`` counts what was shown, also what a thinned clip leaves out.
    ``mean_fps`` is shown to people only: no measure is computed from it. ``dropped_frames``
    repeated or ran back in time; ``guessed_times`` counts frames whose own time was missing.
    """

    file: str
    sha256: str
    frames: int
    mean_fps: float
    width_px: int
    height_px: int
    duration_s: float
    rotation_deg: int = 0
    codec: str = ""
    damaged_packets: int = 0
    high_dynamic_range: bool = False
    dropped_frames: int = 0
    guessed_times: int = 0

    @property
    def sound(self) -> bool:
        """Whether frames can be found again from the middle of the clip."""
        return not (self.damaged_packets or self.dropped_frames or self.guessed_times)


@dataclass(frozen=True)
class ClipHeader:
    """What the file says of itself, unchecked: for listings and progress bars.

    `duration_s` and `nominal_fps` are NaN when the file does not say.
    """

    file: str
    width_px: int
    height_px: int
    codec: str
    duration_s: float
    nominal_fps: float
    rotation_deg: int
    high_dynamic_range: bool


class Clip:
    """A clip on disk; iterate for its frames, as often as needed.

    Parameters
    ----------
    path : path
    from_s, to_s : float, optional
        Give out only frames with ``from_s <= t_s <= to_s``; times still count from the clip's
        first shown frame.
    thinned : bool
        Leave frames out where they come much faster than a body moves; times stay true.
    threads : int, optional
        Of the decoder; as many as there are cores when not given.
    wanted_s : array [shape=(N,), s], optional
        Times of frames that must be given out; others may be left out. Only for a clip that is
        known to be sound: of a damaged one frames could not be told apart.

    Raises
    ------
    UnreadableClipError
        On entering or iterating: the text says in one sentence what is wrong and what to do.

    Examples
    --------
    >>> with Clip("ann.mp4") as clip:  # doctest: +SKIP
    ...     for frame in clip:
    ...         print(frame.t_s, frame.rgb.shape)
    """

    def __init__(
        self,
        path: str | Path,
        *,
        from_s: float | None = None,
        to_s: float | None = None,
        thinned: bool = False,
        threads: int | None = None,
        wanted_s: FloatArray | None = None,
    ) -> None:
        self.path = Path(path)
        self.threads = threads
        self.wanted_s = wanted_s
        self.thinned = thinned
        self.from_s = from_s
        self.to_s = to_s
        if from_s is not None and to_s is not None and not from_s < to_s:
            raise UnreadableClipError(
                f"The cut from {from_s:g} s to {to_s:g} s is empty; "
                "give a start that lies before the end."
            )
        self._open: list[Any] = []
        self._facts: ClipFacts | None = None
        self._header: ClipHeader | None = None

    def __enter__(self) -> Self:
        self.header()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close whatever passes are still open."""
        while self._open:
            self._open.pop().close()

    def header(self) -> ClipHeader:
        """Return what the file says of itself, after decoding one frame for its orientation."""
        if self._header is None:
            self._header = probe(self.path)
        return self._header

    def facts(self) -> ClipFacts:
        """Return the counted facts; reads the clip through once if no pass has ended yet."""
        if self._facts is None:
            for _ in self:
                pass
        assert self._facts is not None
        return self._facts

    def __iter__(self) -> Iterator[Frame]:
        """Give out the frames in order of their times, which strictly increase."""
        container = open_clip(self.path)
        self._open.append(container)
        try:
            yield from self._frames(container)
        finally:
            with suppress(ValueError):
                self._open.remove(container)
            container.close()

    def _frames(self, container: Any) -> Iterator[Frame]:
        stream = video_stream(container, self.threads)
        clock = Clock(stream)
        asked = None if self.wanted_s is None else asked_for(self.wanted_s, clock.time_in_file)
        reader = Packets(container, stream, asked)
        upright: Upright | None = None
        sought = False
        first_s = last_s = given_s = float("nan")
        count = given = 0
        for picture in reader:
            t_s = clock.time_of(picture)
            if t_s is None:
                continue
            if upright is None:
                refuse_absurd(picture.width, picture.height)
                upright = orientation(stream, picture)
                refuse_absurd(*upright.size_px)
                if self.from_s is not None and reader.seek(self.from_s, clock):
                    sought = True
                    continue
            if sought and t_s > (self.from_s or 0.0):
                # Key frames badly indexed: landed behind the cut, so read from the start.
                reader.rewind(clock)
                sought = False
                continue
            sought = False
            if self.from_s is not None and t_s < self.from_s:
                continue
            if self.to_s is not None and t_s > self.to_s:
                break
            refuse_absurd(picture.width, picture.height)
            first_s = t_s if count == 0 else first_s
            last_s = t_s
            count += 1
            if self.thinned and t_s - given_s < LEAST_STEP_S:
                continue
            given_s = t_s
            yield Frame(given, t_s, picture, upright)
            given += 1
        if asked is None:
            self._close_books(reader, clock, upright, count, first_s, last_s)

    def _close_books(
        self,
        reader: Packets,
        clock: Clock,
        upright: Upright | None,
        count: int,
        first_s: float,
        last_s: float,
    ) -> None:
        header = self.header()
        if count == 0 or upright is None:
            if self.from_s is not None or self.to_s is not None:
                raise UnreadableClipError(
                    "The part asked for holds no frames; choose times inside the clip."
                )
            raise UnreadableClipError(
                "No picture in this file can be decoded; film or copy the clip again."
            )
        step_s = (last_s - first_s) / (count - 1) if count > 1 else 0.0
        duration_s = last_s - first_s + step_s
        if count < MIN_FRAMES or duration_s < MIN_DURATION_S:
            frames = "1 frame" if count == 1 else f"{count} frames"
            raise UnreadableClipError(
                f"Only {frames} in {duration_s:.1f} s could be read, too short for a stroke; "
                "use a clip of several strokes."
            )
        self._facts = ClipFacts(
            file=self.path.name,
            sha256=content_hash(self.path),
            frames=count,
            mean_fps=1.0 / step_s,
            width_px=upright.size_px[0],
            height_px=upright.size_px[1],
            duration_s=duration_s,
            rotation_deg=upright.rotation_deg,
            codec=header.codec,
            damaged_packets=reader.damaged,
            high_dynamic_range=header.high_dynamic_range,
            dropped_frames=clock.dropped,
            guessed_times=clock.guessed,
        )


def probe(path: str | Path) -> ClipHeader:
    """Read a clip's header and first frame only.

    Raises
    ------
    UnreadableClipError
        When the file is missing, no video, or its first frame cannot be decoded.
    """
    path = Path(path)
    container = open_clip(path)
    try:
        stream = video_stream(container)
        context = stream.codec_context
        picture = next(iter(Packets(container, stream)), None)
        if picture is None:
            raise UnreadableClipError(
                "No picture in this file can be decoded; film or copy the clip again."
            )
        refuse_absurd(picture.width, picture.height)
        upright = orientation(stream, picture)
        refuse_absurd(*upright.size_px)
        duration_s = float("nan")
        if stream.duration and stream.time_base:
            duration_s = float(stream.duration * stream.time_base)
        elif container.duration:
            duration_s = container.duration / av.time_base
        return ClipHeader(
            file=path.name,
            width_px=upright.size_px[0],
            height_px=upright.size_px[1],
            codec=str(context.name),
            duration_s=duration_s,
            nominal_fps=float(stream.average_rate) if stream.average_rate else float("nan"),
            rotation_deg=upright.rotation_deg,
            high_dynamic_range=int(picture.color_trc or 0) in _HDR_TRANSFERS,
        )
    finally:
        container.close()


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's content, 64 hexadecimal digits; read only once."""
    facts = path.stat()
    return _sha256(path, facts.st_mtime_ns, facts.st_size)


@lru_cache(maxsize=64)
def _sha256(path: Path, changed_ns: int, size: int) -> str:
    """Hash a file; `changed_ns` and `size` make a changed file be hashed again."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
