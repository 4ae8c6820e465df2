"""Clips for the bench: the sample clips, looped and scaled, in a folder of its own."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import av

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"


def sample_clips() -> list[Path]:
    """Return the sample clips that show the whole stroke on a machine, thirty frames a second."""
    clips = []
    for path in sorted(SAMPLES.glob("*.mp4")):
        with av.open(str(path)) as container:
            rate = container.streams.video[0].average_rate
            if rate is not None and rate <= 30 and "boat" not in path.stem:
                clips.append(path)
    return clips


def make_clip(source: Path, target: Path, height_px: int, seconds: float) -> Path:
    """Write `source` at another height, looped until it lasts `seconds`; one key frame a second."""
    with av.open(str(source)) as first:
        stream = first.streams.video[0]
        width = 2 * round(stream.width * height_px / stream.height / 2)
        rate = stream.average_rate or Fraction(30)
    count = round(seconds * rate)
    with av.open(str(target), "w") as out:
        writing: Any = out.add_stream(
            "libx264", rate=rate, options={"crf": "20", "preset": "veryfast"}
        )
        writing.width, writing.height, writing.pix_fmt = width, height_px, "yuv420p"
        writing.codec_context.gop_size = round(rate)
        done = 0
        while done < count:
            with av.open(str(source)) as again:
                for frame in again.decode(video=0):
                    scaled = frame.reformat(width=width, height=height_px, format="yuv420p")
                    scaled.pts, scaled.time_base = done, 1 / rate
                    out.mux(writing.encode(scaled))
                    done += 1
                    if done == count:
                        break
        out.mux(writing.encode(None))
    return target
