"""Opening and decoding a clip: damaged packets, missing times, files that are no clips."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from typing import Any

import av

from analysis.errors import UnreadableClipError
from analysis.needed import needed

#: Larger pictures are refused: no phone films them, and they are how a small file fills memory.
MAX_SIDE_PX = 8192
MAX_PIXELS = 50_000_000
#: Undecodable packets in a row (and demuxer restarts) after which reading is given up.
MAX_DAMAGED_RUN = 100
MAX_RESTARTS = 20
#: A step back of the clock beyond this is a restarted clock, not a frame out of order.
CLOCK_RESTART_S = 0.5

#: An earlier start is read up to, s: finding a place, half a second ahead, takes time too.
WORTH_SEEKING_S = 2.0

#: A file whose end lies so far before the one that it names is cut off, s and share of it.
LEAST_MISSING_S, LEAST_MISSING_SHARE = 1.0, 0.1

#: Environment variable that limits the cores one clip uses; batches set it to 1.
CORES_VARIABLE = "SIDEON_CORES"

_STILL_CODECS = {"png", "bmp", "tiff", "webp", "jpeg2000", "gif", "apng", "jpegxl", "ppm", "pgm"}


def cores() -> int:
    """Return how many cores the work on one clip may use; results do not depend on it."""
    limit = os.environ.get(CORES_VARIABLE, "")
    affinity = getattr(os, "sched_getaffinity", None)
    there = len(affinity(0)) if affinity else (os.cpu_count() or 1)
    return max(1, min(there, int(limit))) if limit.isdecimal() else there


def open_clip(path: Path) -> Any:
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


def video_stream(container: Any, threads: int | None = None) -> Any:
    """Return the stream to show, or say plainly why there is none.

    It is decoded by `threads` threads, or as many as there are cores to use.
    """
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
    refuse_absurd(stream.codec_context.width, stream.codec_context.height)
    stream.thread_type = "AUTO"
    stream.codec_context.thread_count = threads or cores()
    return stream


def cut_off(path: Path) -> str:
    """Say that the end of a file is missing; empty when it is there, or cannot be told."""
    container = open_clip(path)
    try:
        stream = video_stream(container)
        if not (stream.duration and stream.time_base):
            return ""
        first = last = stream.start_time or 0
        with suppress(av.FFmpegError, OSError):
            for packet in container.demux(stream):
                last = max(last, packet.pts if packet.pts is not None else first)
        said_s = float(stream.duration * stream.time_base)
        held_s = float((last - first) * stream.time_base)
    finally:
        container.close()
    if said_s - held_s < max(LEAST_MISSING_S, LEAST_MISSING_SHARE * said_s):
        return ""
    return (
        f"The file holds only the first {held_s:.0f} of {said_s:.0f} s; copy the clip from the"
        " phone again."
    )


def refuse_absurd(width_px: int, height_px: int) -> None:
    """Raise for sizes beyond what is decoded."""
    if max(width_px, height_px) > MAX_SIDE_PX or width_px * height_px > MAX_PIXELS:
        raise UnreadableClipError(
            f"The picture is {width_px}×{height_px} pixels, more than is read here "
            f"({MAX_SIDE_PX} on a side); film in 4K or less."
        )


class Packets:
    """Decoded pictures of one pass, over damaged packets, which are counted.

    With `wanted`, which tells of a packet whether its picture is, others may be left out.
    """

    def __init__(
        self, container: Any, stream: Any, wanted: Callable[[Any], bool] | None = None
    ) -> None:
        self.container = container
        self.stream = stream
        self._wanted = wanted
        self.damaged = 0
        self._run = 0
        self._restarts = 0
        self._sought: int | None = None

    def __iter__(self) -> Iterator[Any]:
        """Give out pictures until the end of the file or too much damage."""
        while True:
            try:
                for packet in self._packets():
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

    def _packets(self) -> Iterator[Any]:
        packets = self.container.demux(self.stream)
        if self._wanted is None:
            yield from packets
            return
        for part in needed(packets, self._wanted):
            if part.afresh:
                # What it still holds comes first; then it forgets, as after a jump.
                yield None
                self.stream.codec_context.flush_buffers()
            yield from part.packets

    def _decoded(self, packet: Any) -> Iterator[Any]:
        try:
            pictures = self.stream.codec_context.decode(packet)
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

    def seek(self, t_s: float, clock: Clock) -> bool:
        """Go on from the key frame before `t_s`; False when it is not worth while."""
        if t_s < WORTH_SEEKING_S or clock.origin is None or not self.stream.time_base:
            return False
        # Half a second early: some containers index key frames by decoding time.
        self._sought = clock.origin + int((t_s - 0.5) / self.stream.time_base)
        clock.forget()
        return True

    def rewind(self, clock: Clock) -> None:
        """Go back to the first frame."""
        self._sought = clock.origin
        clock.forget()

    def _jump(self) -> None:
        target, self._sought = self._sought, None
        with suppress(av.FFmpegError, OSError):
            self.container.seek(target, stream=self.stream, backward=True)


class Clock:
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

    def time_in_file(self, packet: Any) -> float | None:
        """Return a packet's time by the file alone, s; None where it cannot be told (yet)."""
        base = packet.time_base or self._stream_base
        if packet.pts is None or base is None or self.origin is None:
            return None
        return float((packet.pts - self.origin) * base)

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
