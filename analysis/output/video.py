"""Writing H.264 that every browser and phone plays, each frame at its own time."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import av
import numpy as np
from av.codec.context import Flags
from av.video.reformatter import ColorRange, Colorspace, VideoReformatter

from analysis.decoding import cores
from analysis.errors import SideonError
from analysis.output.text import Picture

#: Clock of the written clip, ticks a second.
TICKS = 90_000

#: Frames between key frames: few, so that stepping back is instant.
KEY_EVERY = 16

#: As large and nearly as good as x264's preset "veryfast" at 23, its own default, with a key frame
#: every 12 (two clips of 540p: 1 % smaller and 2 % larger, 43.5 and 43.1 dB, 0.2 worse), in a third
#: less time.
_ENCODER = {
    "preset": "superfast",
    "crf": "23",
    "profile": "high",
    "x264-params": "mbtree=1:rc-lookahead=8",
}

_BT709 = 1


class VideoWriter:
    """Context manager that encodes pictures to an MP4.

    Parameters
    ----------
    path : Path
    width_px, height_px : int
        Even.

    Raises
    ------
    SideonError
        When this machine's PyAV has no H.264 encoder.
    """

    def __init__(self, path: Path, width_px: int, height_px: int) -> None:
        if width_px % 2 or height_px % 2:
            raise ValueError(f"picture size: expected even, got {width_px}×{height_px}")
        if "libx264" not in av.codecs_available:
            raise SideonError(
                "The annotated clip needs the H.264 encoder, which this PyAV lacks: "
                "install PyAV's own wheel again with  pip install --force-reinstall 'av>=18,<19'."
            )
        self._container = open_mp4(path)
        stream = self._container.add_stream("libx264", rate=Fraction(30))
        stream.time_base = Fraction(1, TICKS)
        _set_up(stream.codec_context, width_px, height_px)
        self._stream = stream
        self._converter = Converter()
        self._lasts: dict[int, int] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if kind is None:
                self._mux(self._stream.encode(None))
        finally:
            self._container.close()

    def write(self, picture: Picture, t_s: float, lasts_s: float) -> None:
        """Encode one picture [shape=(H, W, 3), uint8] shown at `t_s` for `lasts_s`."""
        self.write_converted(self.converted(picture, t_s), t_s, lasts_s)

    def converted(self, picture: Picture, t_s: float) -> Any:
        """Return a picture as `write_converted` takes it; it may be drawn on afterwards."""
        return self._converter(picture, ticks(t_s))

    def write_converted(self, converted: Any, t_s: float, lasts_s: float) -> None:
        """Do the rest of `write`, which may be done by another thread."""
        self._lasts[converted.pts] = lasting(t_s, lasts_s)
        self._mux(self._stream.encode(converted))

    def _mux(self, packets: list[Any]) -> None:
        for packet in packets:
            # The encoder drops durations; without one the last frame would get its neighbour's.
            packet.duration = self._lasts.pop(packet.pts, packet.duration)
            self._container.mux(packet)


def open_mp4(path: Path) -> Any:
    """Open an MP4 to be written, with its index in front: a player need not read it to the end."""
    return av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"})


def lasting(t_s: float, lasts_s: float) -> int:
    """Return how long a picture shown at `t_s` lasts, in ticks, so that no gap is left after it."""
    return max(1, ticks(t_s + lasts_s) - ticks(t_s))


def ticks(t_s: float) -> int:
    """Return a time in ticks of the written clip's clock."""
    return round(t_s * TICKS)


class Converter:
    """Turns pictures of one size into what the encoder takes.

    Preparing for a size takes more than half as long as a picture does, so it is done once.
    """

    def __init__(self) -> None:
        self._reformatter = VideoReformatter()

    def __call__(self, picture: Picture, pts: int) -> Any:
        """Return a picture [shape=(H, W, 3), uint8] to be encoded, shown at `pts` ticks."""
        converted = self._reformatter.reformat(
            av.VideoFrame.from_numpy_buffer(np.ascontiguousarray(picture), format="bgr24"),
            format="yuv420p",
            src_color_range=ColorRange.JPEG,
            dst_color_range=ColorRange.MPEG,
            dst_colorspace=Colorspace.ITU709,
            threads=1,
        )
        converted.pts = pts
        converted.time_base = Fraction(1, TICKS)
        return converted


def bare_encoder(width_px: int, height_px: int) -> Any:
    """Return an opened encoder that belongs to no file, set up as that of `VideoWriter`.

    Its packets come as they stand in an MP4.
    """
    context: Any = av.CodecContext.create("libx264", "w")
    context.framerate = Fraction(30)
    _set_up(context, width_px, height_px)
    # It codes a dozen pictures: to start threads, and to wait for them at the end, takes longer.
    context.thread_count = 1
    context.flags |= Flags.global_header
    context.options = _ENCODER | {"x264-params": _ENCODER["x264-params"] + ":annexb=0"}
    context.open()
    return context


def _set_up(context: Any, width_px: int, height_px: int) -> None:
    context.width, context.height, context.pix_fmt = width_px, height_px, "yuv420p"
    context.time_base = Fraction(1, TICKS)
    context.gop_size = KEY_EVERY
    context.max_b_frames = 0
    context.thread_type = "AUTO"
    context.thread_count = cores()
    context.color_range = int(ColorRange.MPEG)
    context.colorspace = context.color_primaries = context.color_trc = _BT709
    context.options = dict(_ENCODER)


def fitting_size(width_px: int, height_px: int, longest_px: int, least_px: int) -> tuple[int, int]:
    """Return an even size of the same shape whose long side lies in `least_px`…`longest_px`."""
    longest = max(width_px, height_px)
    wanted = min(max(longest, least_px), longest_px)
    scale = wanted / longest
    return tuple(max(2, 2 * round(side * scale / 2)) for side in (width_px, height_px))  # type: ignore[return-value]
