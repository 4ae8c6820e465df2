"""The undrawn clip without encoding again: the pictures as the phone coded them, at other times.

Only where every browser plays them as they are, and where they are exactly the pictures that were
measured. Sound, tracks of places and whatever else the file tells are left behind, and so is what
a camera wrote between its pictures.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.bitstream import BitStreamFilterContext, bitstream_filters_available

from analysis.checks import FloatArray
from analysis.clip import ClipFacts
from analysis.decoding import open_clip, video_stream
from analysis.errors import UnreadableClipError
from analysis.frame import SAME_TIME_S, orientation
from analysis.output.video import TICKS, open_mp4

#: More is encoded again, to be small enough to send: our own clips of 540p take 1 to 2 million.
MOST_BITS_PER_S = 3_000_000

#: Pictures from one key frame to the next at most: stepping back decodes them all.
MOST_TO_KEY = 60

#: Supplemental information (ITU-T H.264, table 7-1: kind 6): cameras write places and names there.
_WITHOUT_EXTRAS = "filter_units=remove_types=6"


@dataclass(frozen=True)
class _Coded:
    """Coded pictures in the order in which they are stored."""

    pts: list[int]
    bits_per_s: float
    longest_to_key: int


def copy_undrawn(
    source: Path,
    target: Path,
    facts: ClipFacts,
    clip_s: FloatArray,
    shown_s: FloatArray,
    duration_s: float,
    longest_px: int,
) -> bool:
    """Write a clip's own coded pictures, each shown at the time given, if that will do.

    Parameters
    ----------
    source, target : Path
        The clip, and the ``.mp4`` to write.
    facts : ClipFacts
    clip_s, shown_s : array [shape=(T,), s]
        Time of every measured frame, and when it is to be shown.
    duration_s : float
        When the last one ends.
    longest_px : int
        Long side at most, px.

    Returns
    -------
    bool
        False, with nothing written, when the clip has to be encoded again.
    """
    too_large = max(facts.width_px, facts.height_px) > longest_px
    known = _WITHOUT_EXTRAS.split("=")[0] in bitstream_filters_available
    if too_large or not (facts.sound and known):
        return False
    try:
        with _opened(source) as (container, stream):
            if not _every_browser_plays(container, stream):
                return False
        with _opened(source) as (container, stream):
            coded = _coded(container, stream)
            if coded is None or not _is_what_was_measured(coded, stream, clip_s):
                return False
        if coded.longest_to_key > MOST_TO_KEY or coded.bits_per_s > MOST_BITS_PER_S:
            return False
        with _opened(source) as (container, stream):
            _write(container, stream, target, coded, shown_s, duration_s)
    except (av.FFmpegError, UnreadableClipError):
        target.unlink(missing_ok=True)
        return False
    return True


@contextmanager
def _opened(source: Path) -> Iterator[tuple[Any, Any]]:
    with open_clip(source) as container:
        yield container, video_stream(container, threads=1)


def _every_browser_plays(container: Any, stream: Any) -> bool:
    """Whether it is H.264 of 8 bits in an MP4, with square pixels, upright or merely turned."""
    context = stream.codec_context
    plain_kind = context.name == "h264" and context.pix_fmt in ("yuv420p", "yuvj420p")
    if not plain_kind or "mp4" not in container.format.name or not context.extradata:
        return False
    if (stream.sample_aspect_ratio or 1) != 1:
        return False
    picture = next(container.decode(stream), None)
    if picture is None or picture.interlaced_frame:
        return False
    upright = orientation(stream, picture)
    # Mirror images are not turned back by every browser.
    mirrored = upright.swap ^ upright.mirror_x ^ upright.mirror_y
    shown_whole = (context.width, context.height) == (picture.width, picture.height)
    return shown_whole and not mirrored


def _pictures(container: Any, stream: Any) -> Iterator[Any]:
    """Give the coded pictures in the order in which they are stored."""
    return (packet for packet in container.demux(stream) if packet.size)


def _coded(container: Any, stream: Any) -> _Coded | None:
    """Look through the coded pictures; None when they cannot simply be handed on."""
    pts, size, to_key, longest = list[int](), 0, 0, 0
    for packet in _pictures(container, stream):
        odd = packet.is_discard or packet.is_corrupt or packet.has_sidedata("new_extradata")
        if odd or packet.pts is None or (not pts and not packet.is_keyframe):
            return None
        pts.append(packet.pts)
        size += packet.size
        to_key = 1 if packet.is_keyframe else to_key + 1
        longest = max(longest, to_key)
    if len(set(pts)) < len(pts) or len(pts) < 2:
        return None
    lasts_s = float((max(pts) - min(pts)) * stream.time_base)
    return _Coded(pts, 8 * size / lasts_s, longest)


def _is_what_was_measured(coded: _Coded, stream: Any, clip_s: FloatArray) -> bool:
    """Whether every coded picture was measured, and at its own time."""
    if len(coded.pts) != len(clip_s):
        return False
    pts = np.sort(np.array(coded.pts, np.int64))
    own_s = (pts - pts[0]) * float(stream.time_base)
    return bool(np.abs(own_s - clip_s).max() < SAME_TIME_S)


def _write(
    container: Any,
    template: Any,
    target: Path,
    coded: _Coded,
    shown_s: FloatArray,
    duration_s: float,
) -> None:
    shown = np.rint(shown_s * TICKS).astype(int)
    place = {pts: rank for rank, pts in enumerate(sorted(coded.pts))}
    ranks = [place[pts] for pts in coded.pts]
    lasts = np.diff(shown, append=round(duration_s * TICKS))[ranks]
    # An MP4 says how long a picture lasts by when the next one stored is decoded, and browsers
    # that look for the picture at a time go by that: so each is decoded as long after the one
    # stored before it as that lasts, and all as much ahead as lets none be shown before.
    decoded = np.cumsum(lasts) - lasts
    decoded += (shown[ranks] - decoded).min()
    with open_mp4(target) as out:
        stream: Any = out.add_stream_from_template(template)
        stream.metadata.clear()
        bare = BitStreamFilterContext(_WITHOUT_EXTRAS, template, stream)
        for number, packet in enumerate(_pictures(container, template)):
            for kept in bare.filter(packet):
                kept.stream, kept.time_base = stream, Fraction(1, TICKS)
                kept.pts, kept.dts = int(shown[ranks[number]]), int(decoded[number])
                kept.duration = int(lasts[number])
                out.mux(kept)
