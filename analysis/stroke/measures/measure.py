"""What a measure is: a name, a unit, and one small function of one stroke."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from analysis.stroke.view import StrokeView


class Reading(NamedTuple):
    """A value and the time that shows it best, s; NaN where it cannot be told."""

    value: float
    moment_s: float


NOTHING = Reading(float("nan"), float("nan"))


@dataclass(frozen=True)
class Measure:
    """One column of strokes.csv.

    Attributes
    ----------
    name : str
        Column name.
    unit : str
        ``"deg"``, ``"s"``, ``"share"``, ``"1/min"``, ``"pct"`` or ``"m"``.
    frames : str
        The frames it is read from, in words.
    what : str
        Its definition and sign.
    read : callable
        From one stroke to its reading.
    """

    name: str
    unit: str
    frames: str
    what: str
    read: Callable[[StrokeView], Reading]


def measure(unit: str, frames: str) -> Callable[[Callable[[StrokeView], Reading]], Measure]:
    """Make a measure of a function: its name is the column, its docstring the definition."""

    def make(read: Callable[[StrokeView], Reading]) -> Measure:
        return Measure(read.__name__, unit, frames, (read.__doc__ or "").strip(), read)

    return make
