"""Which coded pictures have to be decoded to see some of a clip's frames.

A coded picture may need all that come before it back to the last key frame, and as a rule none
before that: of each group that a key frame begins, what follows the last wanted picture is passed
over. Where pictures are shown before their group's key frame, the group before is kept whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.checks import FloatArray
from analysis.frame import SAME_TIME_S

#: Coded pictures of a group that are held back to be looked through, and their bytes; larger groups
#: are decoded whole.
MOST_HELD, MOST_HELD_BYTES = 300, 30_000_000


@dataclass(frozen=True)
class Part:
    """Coded pictures (`av.Packet`) that are decoded one after the other.

    ``afresh`` tells that some before them were passed over: the decoder has to begin anew.
    """

    packets: list[Any]
    afresh: bool


def needed(packets: Iterable[Any], wanted: Callable[[Any], bool]) -> Iterator[Part]:
    """Give the coded pictures that the wanted ones take, and the packet without any at the end.

    Parameters
    ----------
    packets : iterable of av.Packet
        In the order of the file.
    wanted : callable
        Whether the picture of a packet is wanted; asked a group late, as times are known then.
    """
    groups = _groups(packets)
    held = next(groups, [])
    # After a jump the first picture tells where it led, so there has to be one.
    least = 1
    afresh = False
    for group in groups:
        rest = held if _leans_back(group) else _up_to_wanted(held, wanted) or held[:least]
        if rest:
            yield Part(rest, afresh)
        afresh = len(rest) < len(held)
        held, least = group, 0
    if held:
        yield Part(held, afresh)


def asked_for(
    times_s: FloatArray, time_in_file: Callable[[Any], float | None]
) -> Callable[[Any], bool]:
    """Return what tells of a packet whether its picture is among those of some times.

    Parameters
    ----------
    times_s : array [shape=(N,), s]
    time_in_file : callable
        Gives a packet's time, s, or None where it is not known: that one is wanted.
    """
    sorted_s = np.sort(times_s)

    def wanted(packet: Any) -> bool:
        t_s = time_in_file(packet)
        if t_s is None:
            return True
        first, end = np.searchsorted(sorted_s, [t_s - SAME_TIME_S, t_s + SAME_TIME_S])
        return bool(first < end)

    return wanted


def _groups(packets: Iterable[Any]) -> Iterator[list[Any]]:
    """Give each key frame with what is stored behind it; the packet at the end comes alone."""
    group: list[Any] = []
    held = 0
    for packet in packets:
        full = len(group) == MOST_HELD or held > MOST_HELD_BYTES
        if group and (packet.is_keyframe or not packet.size or full):
            yield group
            group, held = [], 0
        group.append(packet)
        held += packet.size
    if group:
        yield group


def _leans_back(group: list[Any]) -> bool:
    """Whether pictures of a group may need those of the group before it."""
    first = group[0]
    if not first.size:
        return False
    unknown = any(packet.pts is None for packet in group)
    # Shown before the key frame, though stored behind it: drawn from both sides.
    return not first.is_keyframe or unknown or any(packet.pts < first.pts for packet in group)


def _up_to_wanted(group: list[Any], wanted: Callable[[Any], bool]) -> list[Any]:
    last = max((count for count, packet in enumerate(group, 1) if wanted(packet)), default=0)
    return group[:last]
