"""An earlier written clip used again: what would be drawn the same is copied as it was coded.

Of every picture a fingerprint is kept of all that goes into it (never the picture), and of the
file that they were written to. Where that very file still lies there, each group of pictures is
copied up to the first that would look different; from there to the group's end they are drawn and
coded again.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import av
import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.clip import ClipFacts
from analysis.decoding import cores
from analysis.digest import digest
from analysis.kept_files import cache_folder, is_fingerprint, write_whole
from analysis.kept_results import program_state
from analysis.output.moment import Moment, Moments
from analysis.output.text import Picture
from analysis.output.video import (
    TICKS,
    Converter,
    bare_encoder,
    lasting,
    open_mp4,
    ticks,
)
from analysis.pose.beside import InOrder, helpers

#: Fingerprints [shape=(T,)], one a picture, 32 hexadecimal digits each.
Prints = NDArray[np.bytes_]

#: Fewer pictures between two key frames are coded again: players may take two key frames next to
#: each other for one, when encoders that know nothing of each other made them.
_LEAST_RUN = 2

#: Pictures that wait to be coded, at most: a run of usual length, so that the next can begin.
_MOST_WAITING = 16


@dataclass(frozen=True)
class Earlier:
    """A written clip whose pictures may be used again.

    Attributes
    ----------
    path : Path
    copied : array [shape=(T,)] of bool
        Pictures that are; the others are made anew.
    """

    path: Path
    copied: BoolArray


class Printer:
    """Tells the fingerprint of each picture as the layers draw it; without any, undrawn.

    It covers the clip's content and the picture's own time in it, everything that the moment holds,
    what each layer was told, the size, and all of this program and its libraries.
    """

    def __init__(self, facts: ClipFacts, moments: Moments, layers: Sequence[object]) -> None:
        told = [(type(layer).__qualname__, vars(layer)) for layer in layers]
        self._base = digest(facts.sha256, moments.size_px, program_state(), told)
        # Thousands of words, the same for all.
        self._words = {id(moments.text): digest(moments.text)}
        self._moments, self._drawn = moments, bool(layers)

    def none(self) -> Prints:
        """Return room for the fingerprints of all pictures."""
        return np.zeros(len(self._moments.t_s), "S32")

    def all(self) -> Prints:
        """Return the fingerprints of all pictures."""
        prints = self.none()
        for index, t_s in enumerate(self._moments.t_s):
            prints[index] = self.of(self._moments.at(index) if self._drawn else float(t_s))
        return prints

    def of(self, what: Moment | float) -> str:
        """Return that of one moment, or of the picture at a time, s, where nothing is drawn."""
        return digest(self._base, what, known=self._words)[:32]


def remember(facts: ClipFacts, path: Path, prints: Prints) -> None:
    """Keep the fingerprints of a clip that was just written, if they can be kept."""
    if not is_fingerprint(facts.sha256):
        return
    with suppress(OSError):
        written = _content(path)
        target = _kept_at(facts.sha256, written)
        write_whole(target, lambda file: np.savez(file, of=np.array(written), prints=prints))


def earlier_clip(facts: ClipFacts, path: Path, prints: Prints) -> Earlier | None:
    """Return what of an earlier clip can be used again, or ``None``."""
    try:
        written = _content(path)
        kept = _kept_at(facts.sha256, written)
        with kept.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            if str(arrays["of"]) != written:
                return None
            known = arrays["prints"]
        os.utime(kept)
        with av.open(str(path)) as container:
            stream: Any = container.streams.video[0]
            keys = [packet.is_keyframe for packet in _packets(container)]
            fits = (
                bare_encoder(stream.width, stream.height).extradata
                == stream.codec_context.extradata
            )
    except Exception:  # not there, or damaged in whatever way
        return None
    if not fits or len(keys) != len(prints) or known.shape != prints.shape or not keys[0]:
        return None
    copied = _copied(known == prints, np.flatnonzero(keys))
    return Earlier(path, copied) if copied.any() else None


def _copied(same: BoolArray, starts: NDArray[np.intp]) -> BoolArray:
    """Tell which pictures to copy: of each group, which `starts` begin, those before a change."""
    copied = np.zeros(len(same), bool)
    for start, end in zip(starts, [*starts[1:], len(same)], strict=True):
        changed = np.flatnonzero(~same[start:end])
        first = start + int(changed[0]) if changed.size else end
        if first < end:
            first = min(first, end - _LEAST_RUN)
        if first - start < min(_LEAST_RUN, end - start):
            first = start
        copied[start:first] = True
    return copied


def _kept_at(sha256: str, written: str) -> Path:
    return cache_folder() / f"{sha256}-drawn-{written[:16]}.npz"


def _content(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _packets(container: Any) -> Iterator[Any]:
    return (packet for packet in container.demux(video=0) if packet.size)


class SplicedWriter:
    """Context manager that writes a clip of copied pictures and new ones, in order.

    Each run of new pictures begins with a key frame and has an encoder of its own, so one run is
    coded while the one before still is.

    Parameters
    ----------
    path : Path
    earlier : Earlier
    shown_s, lasts_s : array [shape=(T,), s]
        When each picture is shown, and for how long.
    """

    def __init__(
        self, path: Path, earlier: Earlier, shown_s: FloatArray, lasts_s: FloatArray
    ) -> None:
        self._copied = earlier.copied
        self._pts = [ticks(at_s) for at_s in shown_s]
        self._lasts = [lasting(*times) for times in zip(shown_s, lasts_s, strict=True)]
        self._index = {pts: index for index, pts in enumerate(self._pts)}
        self._source = av.open(str(earlier.path))
        self._pictures = _packets(self._source)
        self._read = 0
        self._out = open_mp4(path)
        template = self._source.streams.video[0]
        self._size = template.width, template.height
        self._stream: Any = self._out.add_stream_from_template(template)
        self._stream.time_base = Fraction(1, TICKS)
        self._converter = Converter()
        self._encoder: Any = None
        self._threads = ExitStack()
        threads = (1, 1) if cores() > 1 else (0,)
        self._pools = [self._threads.enter_context(helpers(count)) for count in threads]
        self._line = InOrder[int](self._add, most=_MOST_WAITING)
        self._runs = self._given = self._done = 0

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
                self._end_run()
                self._line.finish()
                self._copy_until(len(self._pts))
        finally:
            self._threads.close()
            self._out.close()
            self._source.close()

    def write(self, picture: Picture, t_s: float, lasts_s: float) -> None:
        """Encode one picture [shape=(H, W, 3), uint8] shown at `t_s`; those before it are copied.

        For how long is known already. It may be drawn on afterwards.
        """
        index = self._index[ticks(t_s)]
        if self._copied[self._given : index].any():
            self._end_run()
        if self._encoder is None:
            self._encoder = bare_encoder(*self._size)
            self._runs += 1
        self._encode(self._converter(picture, self._pts[index]), index)
        self._given = index + 1

    def _encode(self, converted: Any, index: int) -> None:
        pool = self._pools[self._runs % len(self._pools)]
        self._line.put(index, pool.submit(self._encoder.encode, converted))

    def _end_run(self) -> None:
        if self._encoder is not None:
            self._encode(None, self._given)
            self._encoder = None

    def _add(self, index: int, packets: Sequence[Any]) -> None:
        """Add what the encoder gave when it took picture `index`, behind those to be copied."""
        self._copy_until(index)
        self._mux(packets)

    def _copy_until(self, end: int) -> None:
        for index in range(self._done, end):
            if self._copied[index]:
                packet = self._packet(index)
                packet.pts = packet.dts = self._pts[index]
                packet.time_base = Fraction(1, TICKS)
                self._mux([packet])
        self._done = end

    def _packet(self, index: int) -> Any:
        while True:
            packet = next(self._pictures)
            self._read += 1
            if self._read > index:
                return packet

    def _mux(self, packets: Sequence[Any]) -> None:
        for packet in packets:
            packet.stream = self._stream
            packet.duration = self._lasts[self._index[packet.pts]]
            self._out.mux(packet)
