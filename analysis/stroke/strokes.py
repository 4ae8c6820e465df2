"""What the stroke stage hands on: events, phases, stage and one row of measures a stroke."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray, IntArray, require_shape
from analysis.motion.motion import Setting
from analysis.stroke.build_up import STAGES as STAGES
from analysis.stroke.build_up import Stage as Stage

Phase = Literal["", "catch", "drive", "release", "recovery"]


@dataclass(frozen=True)
class MeasureColumn:
    """One measure over the strokes of a clip.

    Attributes
    ----------
    name : str
        Column name in strokes.csv.
    unit : str
        ``"deg"``, ``"s"``, ``"share"``, ``"1/min"``, ``"pct"`` or ``"m"``.
    values : array [shape=(N,)]
        One value a stroke; NaN where it cannot be told.
    se : array [shape=(N,)]
        Standard error of each value from frame-to-frame noise.
    bias_se : float
        Standard error of what is common to all strokes of the clip; does not shrink with N.
    moment_s : array [shape=(N,)]
        The time in each stroke that shows the measure best, s.
    """

    name: str
    unit: str
    values: FloatArray
    se: FloatArray
    bias_se: float
    moment_s: FloatArray


@dataclass(frozen=True)
class Strokes:
    """Whole strokes of one clip.

    Attributes
    ----------
    catch_s, release_s, next_catch_s, full_compression_s : array [shape=(N,)]
        Event times, s, sub-frame, on the clip's own clock.
    phase : array [shape=(T,)] of str
        ``catch`` (handle dwelling at the front), ``drive``, ``release`` (dwelling at the body),
        ``recovery``, or ``""`` outside every whole stroke.
    stroke : array [shape=(T,)] of int
        1…N, 0 outside every whole stroke.
    stage : str
        The stage that judges the clip.
    stage_named : bool
        True when the coach named it.
    stage_of_stroke : tuple of str
        The stage recognised for each stroke.
    setting : "erg" or "boat"
    measures : mapping of str to MeasureColumn
        In the order of strokes.csv.
    """

    catch_s: FloatArray
    release_s: FloatArray
    next_catch_s: FloatArray
    full_compression_s: FloatArray
    phase: NDArray[np.str_]
    stroke: IntArray
    stage: Stage
    stage_named: bool
    stage_of_stroke: tuple[Stage, ...]
    setting: Setting
    measures: Mapping[str, MeasureColumn] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check that events and measures tell of the same strokes."""
        count = len(self.catch_s)
        for name in ("release_s", "next_catch_s", "full_compression_s"):
            require_shape(name, getattr(self, name), (count,))
        require_shape("stroke", self.stroke, (len(self.phase),))
        if len(self.stage_of_stroke) != count:
            raise ValueError(
                f"stage_of_stroke: expected {count} entries, got {len(self.stage_of_stroke)}"
            )
        for column in self.measures.values():
            require_shape(column.name, column.values, (count,))
            require_shape(f"{column.name} se", column.se, (count,))

    @property
    def count(self) -> int:
        """Number of whole strokes."""
        return len(self.catch_s)
