"""Reading clips: frames in order, upright, each with its own presentation time.

Frames are streamed: at most a decoder's queue of them is in memory. Every pass over a `Clip`
opens the file anew, so a second pass gives the same frames and times as the first.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import av
import numpy as np
from numpy.typing import NDArray

from analysis.errors import UnreadableClipError

Rgb = NDArray[np.uint8]

#: Larger pictures are refused: no phone films them, and they are how a small file fills memory.
MAX_SIDE_PX = 8192
MAX_PIXELS = 50_000_000
#: Shorter clips cannot hold a stroke.
MIN_FRAMES = 10
MIN_DURATION_S = 1.0
#: Undecodable packets in a row (and demuxer restarts) after which reading is given up.
MAX_DAMAGED_RUN = 100
MAX_RESTARTS = 20
#: A step back of the clock beyond this is a restarted clock, not a frame out of order.
CLOCK_RESTART_S = 0.5

_STILL_CODECS = {"png", "bmp", "tiff", "webp", "jpeg2000", "gif", "apng", "jpegxl", "ppm", "pgm"}
_HDR_TRANSFERS = {16, 18}  # PQ and HLG in ITU-T H.273


@dataclass(frozen=True)
class ClipFacts:
    """What is known of the clip itself; carried along for reports.

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


@dataclass(frozen=True)
class Upright:
    """How a stored picture becomes the upright one: swap axes, then mirror rows and columns.

    `width_px`, `height_px` are the size of the stored picture with square pixels.
    """

    width_px: int
    height_px: int
    swap: bool = False
    mirror_x: bool = False
    mirror_y: bool = False

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the upright picture."""
        if self.swap:
            return self.height_px, self.width_px
        return self.width_px, self.height_px

    @property
    def rotation_deg(self) -> int:
        """Clockwise turn that is applied: 0, 90, 180 or 270 (a mirror image counts as its turn)."""
        if self.swap:
            return 270 if self.mirror_y else 90
        return 180 if self.mirror_y else 0

    def apply(self, stored: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Turn a stored picture [shape=(H, W) or (H, W, 3)] upright; a view, not a copy."""
        picture = np.swapaxes(stored, 0, 1) if self.swap else stored
        if self.mirror_x:
            picture = picture[:, ::-1]
        return picture[::-1] if self.mirror_y else picture


@dataclass(frozen=True)
class Frame:
    """One shown frame.

    Attributes
    ----------
    index : int
        Count from the first frame given out, 0, 1, 2, …
    t_s : float
        Presentation time from the clip's first shown frame, s.
    """

    index: int
    t_s: float
    picture: av.VideoFrame
    upright: Upright

    @cached_property
    def rgb(self) -> Rgb:
        """The upright full-size picture [shape=(H, W, 3), uint8]; converted at first use."""
        return self.scaled(*self.upright.size_px)

    def scaled(self, width_px: int, height_px: int) -> Rgb:
        """Return the upright picture at another size [shape=(height_px, width_px, 3), uint8]."""
        return self._converted(width_px, height_px, "rgb24")

    def luma(self, width_px: int, height_px: int) -> NDArray[np.uint8]:
        """Return the brightness alone [shape=(height_px, width_px), uint8, 0 black]."""
        return self._converted(width_px, height_px, "gray")

    def _converted(self, width_px: int, height_px: int, pixels: str) -> NDArray[np.uint8]:
        stored = (height_px, width_px) if self.upright.swap else (width_px, height_px)
        smaller = stored[0] < self.picture.width
        converted = self.picture.reformat(
            width=stored[0],
            height=stored[1],
            format=pixels,
            interpolation="AREA" if smaller else "BILINEAR",
        )
        return np.ascontiguousarray(
            self.upright.apply(np.asarray(converted.to_ndarray(), np.uint8))
        )


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
        self, path: str | Path, *, from_s: float | None = None, to_s: float | None = None
    ) -> None:
        self.path = Path(path)
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
        container = _open(self.path)
        self._open.append(container)
        try:
            yield from self._frames(container)
        finally:
            with suppress(ValueError):
                self._open.remove(container)
            container.close()

    def _frames(self, container: Any) -> Iterator[Frame]:
        stream = _video_stream(container)
        reader = _Packets(container, stream)
        clock = _Clock(stream)
        upright: Upright | None = None
        sought = False
        first_s = last_s = float("nan")
        count = 0
        for picture in reader:
            t_s = clock.time_of(picture)
            if t_s is None:
                continue
            if upright is None:
                _refuse_absurd(picture.width, picture.height)
                upright = _orientation(stream, picture)
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
            _refuse_absurd(picture.width, picture.height)
            first_s = t_s if count == 0 else first_s
            last_s = t_s
            yield Frame(count, t_s, picture, upright)
            count += 1
        self._close_books(reader, clock, upright, count, first_s, last_s)

    def _close_books(
        self,
        reader: _Packets,
        clock: _Clock,
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
            sha256=_sha256(self.path),
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
    container = _open(path)
    try:
        stream = _video_stream(container)
        context = stream.codec_context
        picture = next(iter(_Packets(container, stream)), None)
        if picture is None:
            raise UnreadableClipError(
                "No picture in this file can be decoded; film or copy the clip again."
            )
        _refuse_absurd(picture.width, picture.height)
        upright = _orientation(stream, picture)
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


class _Packets:
    """Decoded pictures of one pass, over damaged packets, which are counted."""

    def __init__(self, container: Any, stream: Any) -> None:
        self.container = container
        self.stream = stream
        self.damaged = 0
        self._run = 0
        self._restarts = 0
        self._sought: int | None = None

    def __iter__(self) -> Iterator[Any]:
        """Give out pictures until the end of the file or too much damage."""
        while True:
            try:
                for packet in self.container.demux(self.stream):
                    yield from self._decoded(packet)
                    if self._sought is not None:
                        break
                else:
                    return
            except (av.FFmpegError, OSError):
                # The file itself breaks off or is garbled here: go on behind it, a few times.
                self._count_damage()
                self._restarts += 1
                if self._restarts > MAX_RESTARTS:
                    return
            if self._sought is not None:
                self._jump()

    def _decoded(self, packet: Any) -> Iterator[Any]:
        try:
            pictures = packet.decode()
        except (av.FFmpegError, ValueError):
            self._count_damage()
            return
        if pictures:
            self._run = 0
        for picture in pictures:
            yield picture
            if self._sought is not None:
                return

    def _count_damage(self) -> None:
        self.damaged += 1
        self._run += 1
        if self._run > MAX_DAMAGED_RUN:
            raise UnreadableClipError(
                f"More than {MAX_DAMAGED_RUN} packets in a row are damaged; "
                "copy the clip from the phone again."
            )

    def seek(self, t_s: float, clock: _Clock) -> bool:
        """Go on from the key frame before `t_s`; False when it is not worth while."""
        if t_s < 5.0 or clock.origin is None or not self.stream.time_base:
            return False
        # Half a second early: some containers index key frames by decoding time.
        self._sought = clock.origin + int((t_s - 0.5) / self.stream.time_base)
        clock.forget()
        return True

    def rewind(self, clock: _Clock) -> None:
        """Go back to the first frame."""
        self._sought = clock.origin
        clock.forget()

    def _jump(self) -> None:
        target, self._sought = self._sought, None
        with suppress(av.FFmpegError, OSError):
            self.container.seek(target, stream=self.stream, backward=True)


class _Clock:
    """Presentation times of one pass, from the first shown frame."""

    def __init__(self, stream: Any) -> None:
        rate = stream.guessed_rate or stream.average_rate or Fraction(25)
        self._usual_s = float(1 / rate)
        self._stream_base: Fraction | None = stream.time_base
        self._last_s: float | None = None
        self._shift_s = 0.0
        self.origin: int | None = None
        self.dropped = 0
        self.guessed = 0

    def forget(self) -> None:
        """Take the next picture's time as it comes, after a jump."""
        self._last_s = None

    def time_of(self, picture: Any) -> float | None:
        """Return the picture's time, s; None for one that repeats or runs back (never shown)."""
        base = picture.time_base or self._stream_base
        pts = picture.pts
        if pts is None or base is None:
            self.guessed += 1
            t_s = 0.0 if self._last_s is None else self._last_s + self._usual_s
        else:
            if self.origin is None:
                self.origin = pts
            t_s = float((pts - self.origin) * base) + self._shift_s
        if self._last_s is not None and t_s <= self._last_s:
            if t_s > self._last_s - CLOCK_RESTART_S:
                self.dropped += 1
                return None
            # The clock was set back (a camera that restarted): carry on behind the last frame.
            self._shift_s += self._last_s + self._usual_s - t_s
            self.guessed += 1
            t_s = self._last_s + self._usual_s
        self._last_s = t_s
        return t_s


def _open(path: Path) -> Any:
    """Open a file as a container, or say plainly why not."""
    try:
        if path.is_dir():
            raise UnreadableClipError("This is a folder, not a clip; name the files inside it.")
        if not path.exists():
            raise UnreadableClipError("There is no such file; check the path.")
        if path.stat().st_size == 0:
            raise UnreadableClipError("This file is empty; copy the clip from the phone again.")
        return av.open(str(path), options={"max_pixels": str(MAX_PIXELS)})
    except PermissionError as error:
        raise UnreadableClipError("This file may not be read; check its permissions.") from error
    except (av.FFmpegError, OSError, ValueError) as error:
        raise UnreadableClipError(
            "This is no video, or the file is cut off; copy the clip from the phone again."
        ) from error


def _video_stream(container: Any) -> Any:
    """Return the stream to show, or say plainly why there is none."""
    streams = [
        s for s in container.streams.video if not s.disposition & av.stream.Disposition.attached_pic
    ]
    if not streams:
        if container.streams.audio:
            raise UnreadableClipError("This file holds only sound; use the video itself.")
        raise UnreadableClipError("This file holds no video; use a clip from the phone.")
    stream = streams[0]
    if stream.codec_context is None:
        raise UnreadableClipError(
            "The kind of video in this file is not known; convert it to MP4 (H.264)."
        )
    still = container.format.name.endswith("_pipe") or container.format.name in {"image2", "gif"}
    if still or (stream.codec_context.name in _STILL_CODECS and stream.frames <= 1):
        raise UnreadableClipError("This is a picture, not a clip; use a video of several strokes.")
    _refuse_absurd(stream.codec_context.width, stream.codec_context.height)
    stream.thread_type = "AUTO"
    return stream


def _refuse_absurd(width_px: int, height_px: int) -> None:
    """Raise for sizes beyond what is decoded."""
    if max(width_px, height_px) > MAX_SIDE_PX or width_px * height_px > MAX_PIXELS:
        raise UnreadableClipError(
            f"The picture is {width_px}×{height_px} pixels, more than is read here "
            f"({MAX_SIDE_PX} on a side); film in 4K or less."
        )


def _orientation(stream: Any, picture: Any) -> Upright:
    """Read turn, mirror and pixel shape from the first picture."""
    width, height = picture.width, picture.height
    aspect = stream.sample_aspect_ratio
    if aspect and abs(float(aspect) - 1.0) > 0.005 and 0.1 < float(aspect) < 10.0:
        width = round(width * float(aspect))
    matrix = _display_matrix(picture)
    if matrix is None:
        return Upright(width, height)
    # x' = a·x + c·y, y' = b·x + d·y with (a b; c d) the matrix's upper left corner.
    (a, b), (c, d) = matrix[:2, :2]
    if abs(a) + abs(d) >= abs(b) + abs(c):
        return Upright(width, height, mirror_x=bool(a < 0), mirror_y=bool(d < 0))
    return Upright(width, height, swap=True, mirror_x=bool(c < 0), mirror_y=bool(b < 0))


def _display_matrix(picture: Any) -> NDArray[np.int32] | None:
    """Return the picture's display matrix [shape=(3, 3)], None when it has none."""
    for side in picture.side_data:
        if side.type.name == "DISPLAYMATRIX":
            values = np.frombuffer(bytes(side), np.int32)
            if values.size == 9 and np.any(values[[0, 1, 3, 4]]):
                return values.reshape(3, 3)
    return None


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
