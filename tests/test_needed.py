"""Coded pictures that are passed over: the wanted ones come out as if all had been decoded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis import decoding, needed
from analysis.clip import Clip
from analysis.needed import Part, asked_for
from tests.made_clips import make_clip


@dataclass(frozen=True)
class Coded:
    """Stands in for a packet."""

    pts: int | None
    is_keyframe: bool = False
    size: int = 9


END = Coded(None, size=0)


def stream(*groups: tuple[int, ...]) -> list[Coded]:
    """Return the packets of groups told by their times in the order of the file."""
    coded = [Coded(pts, is_keyframe=not at) for group in groups for at, pts in enumerate(group)]
    return [*coded, END]


def parts(packets: list[Coded], *wanted: int) -> list[tuple[list[int | None], bool]]:
    found = needed.needed(packets, lambda packet: packet.pts in wanted)
    return [([packet.pts for packet in part.packets], part.afresh) for part in found]


def test_of_each_group_what_follows_the_last_wanted_is_passed_over() -> None:
    packets = stream((0, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10))
    assert parts(packets, 1, 7) == [([0, 1], False), ([6, 7], True), ([None], True)]
    assert parts(packets, 2, 3, 10) == [
        ([0, 1, 2], False),
        ([3], False),
        ([9, 10], True),
        ([None], False),
    ]


def test_of_what_comes_first_one_is_decoded_and_else_nothing_that_is_not_wanted() -> None:
    # After a jump the first picture tells where it led.
    assert parts(stream((0, 1), (2, 3))) == [([0], False), ([None], True)]
    assert parts(stream((0, 1), (2, 3), (4, 5)), 4) == [([0], False), ([4], True), ([None], True)]


def test_groups_of_too_many_bytes_are_decoded_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(needed, "MOST_HELD_BYTES", 20)
    assert parts(stream((0, 1, 2, 3, 4), (5, 6)), 0)[0] == ([0, 1, 2], False)


def test_wanted_is_told_by_what_is_stored_last() -> None:
    # 3 is stored before 1 and 2, which are drawn from it.
    assert parts(stream((0, 3, 1, 2), (4, 5)), 1) == [([0, 3, 1], False), ([None], True)]


def test_what_leans_on_the_group_before_has_it_decoded() -> None:
    # 3 is stored behind the key frame 4 and shown before it.
    packets = stream((0, 1, 2), (4, 3, 5), (6, 7))
    assert parts(packets, 5) == [([0, 1, 2], False), ([4, 3, 5], False), ([None], True)]


def test_groups_too_long_to_hold_and_without_times_are_decoded_whole(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(needed, "MOST_HELD", 3)
    assert parts(stream((0, 1, 2, 3, 4), (5, 6)), 1) == [([0, 1, 2], False), ([None], True)]
    timeless = [Coded(0, True), Coded(1), Coded(None, True), Coded(3), END]
    assert [packets for packets, _ in parts(timeless, 3)] == [[0, 1], [None, 3], [None]]


def test_times_that_are_not_known_are_wanted() -> None:
    wanted = asked_for(np.array([0.5, 0.1]), lambda packet: packet)
    assert [wanted(t_s) for t_s in (None, 0.1, 0.1015, 0.4985)] == [True] * 4
    assert [wanted(t_s) for t_s in (0.0, 0.1025, 0.3, 0.4975, 0.6)] == [False] * 5
    assert not asked_for(np.array([]), lambda packet: packet)(0.1)


PATTERN = np.random.default_rng(4).integers(0, 255, (12, 60, 64, 3)).astype(np.uint8)

BOTH_SIDES = "b-adapt=0:bframes=3:keyint=10:scenecut=0:open-gop="

#: File, codec and its options, and how many of 120 coded pictures are decoded at most, at least.
CODED = {
    "closed groups": ("a.mp4", "libx264", {"x264-params": f"{BOTH_SIDES}0"}, 60, 30),
    "open groups": ("b.mp4", "libx264", {"x264-params": f"{BOTH_SIDES}1"}, 120, 120),
    "one group": ("c.mkv", "libx264", {"g": "600"}, 120, 120),
    "HEVC": ("d.mp4", "libx265", {"x265-params": "log-level=none:keyint=10:open-gop=0"}, 60, 30),
    "HEVC, open": ("e.mov", "libx265", {"x265-params": "log-level=none:keyint=10"}, 120, 60),
}


@pytest.fixture
def decoded(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many coded pictures go to the decoder, part by part."""
    counts: list[int] = []
    real = decoding.needed

    def counting(packets: Any, wanted: Any) -> Iterator[Part]:
        for part in real(packets, wanted):
            counts.append(sum(packet.size > 0 for packet in part.packets))
            yield part

    monkeypatch.setattr(decoding, "needed", counting)
    return counts


@pytest.mark.parametrize("kind", list(CODED))
@pytest.mark.parametrize("threads", [1, 2])
def test_wanted_frames_are_the_same(
    tmp_path: Path, decoded: list[int], kind: str, threads: int
) -> None:
    name, codec, options, most, least = CODED[kind]
    path = make_clip(
        tmp_path / name,
        times_s=[i / 30 for i in range(120)],
        pictures=list(PATTERN),
        size=(64, 60),
        codec=codec,
        options=options,
    )
    with Clip(path, threads=threads) as clip:
        whole = {round(frame.t_s, 3): frame.rgb.tobytes() for frame in clip}
    wanted = [0, 3, 41, 42, 43, 69, 70, 71, 95, 119]
    times_s = np.array(wanted) / 30
    with Clip(path, threads=threads, wanted_s=times_s) as clip:
        some = {round(frame.t_s, 3): frame.rgb.tobytes() for frame in clip}
    for t_s in times_s.round(3).tolist():
        assert some[t_s] == whole[t_s]
    assert list(some) == sorted(some) and set(some) <= set(whole)
    assert least <= sum(decoded) <= most
