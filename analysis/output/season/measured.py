"""A reviewed clip read back from its folder: motion.csv, strokes.csv and review.json."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.errors import SettingsError
from analysis.motion.motion import JOINTS
from analysis.output.tables import ANGLE_COLUMNS

#: Points of a curve from catch to next catch.
POINTS = 101


@dataclass(frozen=True)
class Measured:
    """What a review measured, frame by frame and stroke by stroke.

    Attributes
    ----------
    t_s : array [shape=(T,), s]
    joints_px : array [shape=(T, J, 2), px of the full-size upright picture]
        NaN where not known.
    filled : array [shape=(T, J)] of bool
        Bridged over a gap.
    angles_deg : mapping of str to array [shape=(T,)]
    catch_s, release_s, next_catch_s : array [shape=(N,), s]
    values : mapping of str to array [shape=(N,)]
        The measures that strokes.csv holds.
    facing : str
    size_px : (int, int)
    """

    t_s: FloatArray
    joints_px: FloatArray
    filled: BoolArray
    angles_deg: Mapping[str, FloatArray]
    catch_s: FloatArray
    release_s: FloatArray
    next_catch_s: FloatArray
    values: Mapping[str, FloatArray]
    facing: str
    size_px: tuple[int, int]

    @property
    def strokes(self) -> int:
        """Whole strokes."""
        return len(self.catch_s)

    @property
    def drive_share(self) -> float:
        """Mean share of the drive in the stroke; NaN without strokes."""
        if not self.strokes:
            return math.nan
        whole = self.next_catch_s - self.catch_s
        return float(np.mean((self.release_s - self.catch_s) / whole))


def read_measured(folder: Path) -> Measured:
    """Read a clip's folder.

    Raises
    ------
    SettingsError
        When files are missing or cannot be read: the clip then needs another review.
    """
    try:
        frames = _columns(folder / "motion.csv")
        strokes = _columns(folder / "strokes.csv")
        clip = json.loads((folder / "review.json").read_text(encoding="utf-8"))["clip"]
        joints = [
            np.stack([_numbers(frames[f"{joint}_{axis}_px"]) for axis in ("x", "y")], axis=1)
            for joint in JOINTS
        ]
        bridged = [cell.split() for cell in frames["filled"]]
        told = {name for name in strokes if name.endswith(("_deg", "_share", "_s", "_pct", "_spm"))}
        return Measured(
            t_s=_numbers(frames["time_s"]),
            joints_px=np.stack(joints, axis=1),
            filled=np.array([[joint in row for joint in JOINTS] for row in bridged], dtype=bool),
            angles_deg={name: _numbers(frames[name]) for name in ANGLE_COLUMNS},
            catch_s=_numbers(strokes["catch_s"]),
            release_s=_numbers(strokes["release_s"]),
            next_catch_s=_numbers(strokes["next_catch_s"]),
            values={
                name: _numbers(strokes[name])
                for name in sorted(told)
                if name not in ("catch_s", "release_s", "next_catch_s", "full_compression_s")
            },
            facing=clip["facing"],
            size_px=(int(clip["size_px"][0]), int(clip["size_px"][1])),
        )
    except (OSError, KeyError, ValueError, TypeError) as error:
        raise SettingsError(
            f"The measurements in {folder} cannot be read ({type(error).__name__}): review the "
            f"clip again with  sideon squad --again"
        ) from error


def _columns(path: Path) -> dict[str, list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    return {name: [row[i] for row in rows[1:]] for i, name in enumerate(rows[0])}


def _numbers(cells: list[str]) -> FloatArray:
    return np.array([float(cell) if cell else math.nan for cell in cells], dtype=np.float64)


def over_the_stroke(clip: Measured, values: FloatArray, drive_share: float) -> FloatArray:
    """Lay a per-frame quantity [shape=(T,)] over the strokes [shape=(N, POINTS)].

    The axis runs from catch (0) to next catch (1) with every release at `drive_share`, so that
    catch lies on catch and release on release. A gap of missing frames stays missing.
    """
    axis = np.linspace(0.0, 1.0, POINTS)
    knots = [0.0, drive_share, 1.0]
    known = np.isfinite(values)
    rows = np.full((clip.strokes, POINTS), np.nan)
    if known.sum() < 2:
        return rows
    events = np.stack([clip.catch_s, clip.release_s, clip.next_catch_s], axis=1)
    for i, own in enumerate(events):
        times = np.interp(axis, knots, own)
        laid = np.interp(times, clip.t_s[known], values[known])
        missing = np.interp(times, clip.t_s, (~known).astype(np.float64)) >= 0.5
        rows[i] = np.where(missing, np.nan, laid)
    return rows


def usual_stroke(clip: Measured) -> int:
    """Return the 0-based stroke whose measures lie nearest to the medians of all.

    Raises
    ------
    ValueError
        Without a whole stroke.
    """
    if not clip.strokes:
        raise ValueError("expected at least one whole stroke, got none")
    off = np.zeros(clip.strokes)
    for values in clip.values.values():
        known = values[np.isfinite(values)]
        if known.size < 3:
            continue
        spread = float(np.median(np.abs(known - np.median(known))))
        if spread > 0:
            far = np.minimum(np.abs(values - np.median(known)) / spread, 5.0)
            off += np.where(np.isfinite(far), far, 5.0)
    return int(np.argmin(off))
