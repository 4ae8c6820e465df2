"""The rules that the fit keeps: each adds its rows to the linearised problem."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.angles import included_deg
from analysis.motion.motion import SEGMENTS
from analysis.motion.rows import Rows

#: Joints that are fitted, in the order of the fit's own joint axis.
FITTED = ("ankle", "knee", "hip", "shoulder", "elbow", "wrist")

#: The joint (of three) whose bending turns a segment out of the plane: knees part, elbows flare.
_BENT_AT = {
    "thigh": ("hip", "knee", "ankle"),
    "shank": ("hip", "knee", "ankle"),
    "upper_arm": ("shoulder", "elbow", "wrist"),
    "forearm": ("shoulder", "elbow", "wrist"),
}

#: Segment → angles of its joint, degrees, rising, and the share of its length that shows there.
Shortening = Mapping[str, tuple[FloatArray, FloatArray]]

ENDS = np.array([[FITTED.index(a), FITTED.index(b)] for a, b in SEGMENTS.values()])


@dataclass(frozen=True)
class Stiffness:
    """How far each rule may give, as standard deviations.

    Lengths are shares of the trunk's length unless said otherwise.

    Attributes
    ----------
    segment : mapping of str to float
        Change of a segment's seen length within a clip, share of that segment. The trunk gives
        most, because it rounds; the arm's parts turn out of the plane.
    seat : float
        Departure of the hip from its straight path.
    seat_slope : float
        Slope of that path left after the camera's tilt was taken out, rise over run.
    ankle : float
        Departure of the ankle from its resting place: the heel lifts.
    jerk : mapping of str to float
        Spectral density of each joint's jerk, trunk lengths · s^−2.5.
    way_deg : float
        Departure of a segment from the way in which its picture or the athlete's build says that it
        points, degrees: more than that is off, for it is off for longer than a frame.
    tail : float
        Degrees of freedom of Student's t for the witnesses.
    """

    segment: dict[str, float] = field(
        default_factory=lambda: {
            "upper_arm": 0.04,
            "forearm": 0.04,
            "trunk": 0.03,
            "thigh": 0.04,
            "shank": 0.04,
        }
    )
    seat: float = 0.012
    seat_slope: float = 0.03
    ankle: float = 0.1
    jerk: dict[str, float] = field(
        default_factory=lambda: {
            "ankle": 12.0,
            "knee": 50.0,
            "hip": 36.0,
            "shoulder": 50.0,
            "elbow": 70.0,
            "wrist": 110.0,
        }
    )
    way_deg: float = 1.4
    tail: float = 4.0


def add_witnesses(
    rows: Rows, place: FloatArray, seen: FloatArray, spread: FloatArray, rules: Stiffness
) -> None:
    """Let what each model saw pull on the joints, less the further off it is."""
    witness, frame, joint = np.nonzero(np.isfinite(seen[..., 0]) & np.isfinite(spread))
    off = (place[frame, joint] - seen[witness, frame, joint]) / spread[witness, frame, joint, None]
    # Student's t in two dimensions: the weight falls once the point is further off than expected.
    trust = np.sqrt((rules.tail + 2.0) / (rules.tail + np.sum(off**2, axis=1)))
    slope = (trust / spread[witness, frame, joint])[:, None]
    for axis in (0, 1):
        rows.add(trust * off[:, axis], rows.unknowns.joint(frame, joint, axis)[:, None], slope)


def add_segments(
    rows: Rows,
    place: FloatArray,
    lengths: FloatArray,
    rules: Stiffness,
    shortening: Shortening,
) -> None:
    """Hold segments to the length that shows."""
    frames = np.arange(len(place))
    for index, (name, (a, b)) in enumerate(zip(SEGMENTS, ENDS, strict=True)):
        line = place[:, a] - place[:, b]
        length = np.linalg.norm(line, axis=1)
        along = line / np.maximum(length, 1e-9)[:, None]
        give = rules.segment[name] * lengths[index]
        shows = _share_shown(place, name, shortening)
        columns = np.column_stack(
            [
                rows.unknowns.joint(frames, a, 0),
                rows.unknowns.joint(frames, a, 1),
                rows.unknowns.joint(frames, b, 0),
                rows.unknowns.joint(frames, b, 1),
                np.full(len(frames), rows.unknowns.lengths.start + index),
            ]
        )
        slopes = np.column_stack([along, -along, -shows]) / give
        rows.add((length - shows * lengths[index]) / give, columns, slopes)


def add_ways(
    rows: Rows, place: FloatArray, ways: FloatArray, lengths: FloatArray, rules: Stiffness
) -> None:
    """Let segments point as `ways` [shape=(T, S, 2)] say, unit vectors; NaN says nothing."""
    for index, (a, b) in enumerate(ENDS):
        frames = np.flatnonzero(np.isfinite(ways[:, index, 0]))
        way = ways[frames, index]
        across = np.column_stack([-way[:, 1], way[:, 0]])
        give = np.radians(rules.way_deg) * lengths[index]
        off = np.sum(across * (place[frames, b] - place[frames, a]), axis=1)
        columns = np.column_stack(
            [rows.unknowns.joint(frames, joint, axis) for joint in (a, b) for axis in (0, 1)]
        )
        rows.add(off / give, columns, np.column_stack([-across, across]) / give)


def _share_shown(place: FloatArray, name: str, shortening: Shortening) -> FloatArray:
    """Share of a segment's length that shows in the plane in every frame [shape=(T,)]."""
    if name not in shortening:
        return np.ones(len(place))
    a, b, c = (place[:, FITTED.index(joint)] for joint in _BENT_AT[name])
    return np.interp(included_deg(a, b, c), *shortening[name])


def add_seat(
    rows: Rows, place: FloatArray, line: FloatArray, unit: float, rules: Stiffness
) -> None:
    """Hold the hip to a line."""
    frames = np.arange(len(place))
    hip = FITTED.index("hip")
    x, y = place[:, hip, 0], place[:, hip, 1]
    give = rules.seat * unit
    height = np.full(len(frames), rows.unknowns.line.start)
    columns = np.column_stack(
        [
            rows.unknowns.joint(frames, hip, 0),
            rows.unknowns.joint(frames, hip, 1),
            height,
            height + 1,
        ]
    )
    ones = np.ones(len(frames))
    slopes = np.column_stack([-line[1] * ones, ones, -ones, -x]) / give
    rows.add((y - line[0] - line[1] * x) / give, columns, slopes)
    slope_column = np.array([[rows.unknowns.line.start + 1]])
    rows.add(line[1:] / rules.seat_slope, slope_column, np.array([[1.0 / rules.seat_slope]]))


def add_foot(
    rows: Rows, place: FloatArray, rest: FloatArray, unit: float, rules: Stiffness
) -> None:
    """Hold the ankle near one place."""
    frames = np.arange(len(place))
    ankle = FITTED.index("ankle")
    give = rules.ankle * unit
    for axis in (0, 1):
        columns = np.column_stack(
            [
                rows.unknowns.joint(frames, ankle, axis),
                np.full(len(frames), rows.unknowns.rest.start + axis),
            ]
        )
        slopes = np.tile([1.0 / give, -1.0 / give], (len(frames), 1))
        rows.add((place[:, ankle, axis] - rest[axis]) / give, columns, slopes)


def add_smoothness(
    rows: Rows, t_s: FloatArray, place: FloatArray, unit: float, rules: Stiffness
) -> None:
    """Jerk is white noise of known density: third divided differences of uneven times."""
    if len(t_s) < 4:
        return
    first = np.arange(len(t_s) - 3)
    window = np.stack([t_s[first + k] for k in range(4)], axis=1)
    weights = np.empty((len(first), 4))
    for k in range(4):
        others = [m for m in range(4) if m != k]
        weights[:, k] = 6.0 / np.prod(window[:, [k]] - window[:, others], axis=1)
    span = (window[:, 3] - window[:, 0]) / 3.0
    for joint, name in enumerate(FITTED):
        scale = np.sqrt(span) / (rules.jerk[name] * unit)
        slopes = weights * scale[:, None]
        for axis in (0, 1):
            values = np.stack([place[first + k, joint, axis] for k in range(4)], axis=1)
            columns = np.stack(
                [rows.unknowns.joint(first + k, joint, axis) for k in range(4)], axis=1
            )
            rows.add(np.sum(values * slopes, axis=1), columns, slopes)
