"""Small clips made with PyAV for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

#: Colours of the upper left, upper right, lower left and lower right quarter of `quarters`.
CORNERS = ((230, 30, 30), (30, 230, 30), (30, 30, 230), (230, 230, 230))


def quarters(width: int, height: int) -> np.ndarray:
    """Make a picture of four colours, so that every turn and mirror image looks different."""
    picture = np.zeros((height, width, 3), np.uint8)
    for number, colour in enumerate(CORNERS):
        row, column = divmod(number, 2)
        picture[
            row * height // 2 : (row + 1) * height // 2 + 1,
            column * width // 2 : (column + 1) * width // 2 + 1,
        ] = colour
    return picture


def corner_colours(picture: np.ndarray) -> list[tuple[int, ...]]:
    """Return the nearest of `CORNERS` in each quarter of a picture, in the same order."""
    height, width = picture.shape[:2]
    seen = [
        picture[y, x].astype(int)
        for y in (height // 4, 3 * height // 4)
        for x in (width // 4, 3 * width // 4)
    ]
    return [
        min(CORNERS, key=lambda c: float(np.abs(colour - np.array(c)).sum())) for colour in seen
    ]


def make_clip(
    path: Path,
    *,
    times_s: Sequence[float] | None = None,
    pictures: Sequence[np.ndarray] | None = None,
    size: tuple[int, int] = (64, 48),
    codec: str = "libx264",
    pix_fmt: str = "yuv420p",
    turn_deg: int | None = None,
    mirrored: bool = False,
    time_base: Fraction = Fraction(1, 90000),
    sound: bool = False,
    options: dict[str, str] | None = None,
    pixel_aspect: Fraction | None = None,
    transfer: int | None = None,
) -> Path:
    """Write a clip whose frames carry the given times; thirty a second for 1.5 s by default.

    A frame's brightness tells its index when no `pictures` are given. `turn_deg` is
    counter-clockwise, as in the display matrix.
    """
    times = [i / 30 for i in range(45)] if times_s is None else list(times_s)
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream(codec, rate=30, options=options or {})
        stream.width, stream.height = size
        stream.pix_fmt = pix_fmt
        stream.codec_context.time_base = time_base
        stream.time_base = time_base
        if pixel_aspect is not None:
            stream.codec_context.sample_aspect_ratio = pixel_aspect
        if transfer is not None:
            stream.codec_context.color_trc = transfer
        if turn_deg is not None or mirrored:
            stream.set_display_rotation(turn_deg or 0, hflip=mirrored)
        voice: Any = container.add_stream("aac", rate=44100) if sound else None
        for index, t_s in enumerate(times):
            if pictures is None:
                picture = np.full((size[1], size[0], 3), 20 + 4 * (index % 50), np.uint8)
            else:
                picture = pictures[index % len(pictures)]
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts = round(t_s / time_base)
            frame.time_base = time_base
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
        if voice is not None:
            quiet = np.zeros((1, 1024), np.float32)
            for number in range(40):
                tone = av.AudioFrame.from_ndarray(quiet, format="fltp", layout="mono")
                tone.sample_rate, tone.pts = 44100, number * 1024
                container.mux(voice.encode(tone))
            container.mux(voice.encode())
    return path


def make_sound(path: Path) -> Path:
    """Write a file that holds only sound."""
    with av.open(str(path), "w") as container:
        voice: Any = container.add_stream("aac", rate=44100)
        for number in range(80):
            tone = av.AudioFrame.from_ndarray(
                np.zeros((1, 1024), np.float32), format="fltp", layout="mono"
            )
            tone.sample_rate, tone.pts = 44100, number * 1024
            container.mux(voice.encode(tone))
        container.mux(voice.encode())
    return path
