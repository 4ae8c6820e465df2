"""A clip cut into sections that can be worked on side by side.

Where the cuts lie depends on the clip alone, never on the machine: the landmarker follows a
person from frame to frame, so where it starts anew is part of the result.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.clip import ClipFacts

#: No section is longer, s: each costs a start and a warm-up. Clips shorter than twice the least
#: length are not cut.
LONGEST_S, LEAST_S = 10.0, 2.0
#: The landmarker begins this long before its section, s, to have settled on the person.
WARM_UP_S = 0.25


@dataclass(frozen=True)
class Section:
    """Frames ``start`` to ``end`` (left out) of a clip; reading begins with frame ``warm``."""

    warm: int
    start: int
    end: int


def sections(t_s: FloatArray, facts: ClipFacts) -> list[Section]:
    """Cut a clip into an even number of sections of the same duration.

    Even, so that two, or twice two, cores end together.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times of its frames, s.
    facts : ClipFacts
        A damaged clip, or one whose clock is not to be trusted, is left whole: its frames cannot
        be found again from the middle.
    """
    whole = [Section(0, 0, len(t_s))]
    duration_s = float(t_s[-1] - t_s[0])
    if not facts.sound:
        return whole
    if duration_s < 2 * LEAST_S:
        return whole
    count = 2 * int(np.ceil(duration_s / (2 * LONGEST_S)))
    cuts = t_s[0] + np.arange(count + 1) * (duration_s / count)
    at = [*np.searchsorted(t_s, cuts[:-1] - 1e-9).tolist(), len(t_s)]
    warm = np.searchsorted(t_s, t_s[at[:-1]] - WARM_UP_S - 1e-9).tolist()
    return [Section(warm[i], at[i], at[i + 1]) for i in range(count) if at[i + 1] > at[i]]
