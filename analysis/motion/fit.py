"""The planar rower fitted to a whole clip at once.

Unknown are the places of six joints in every frame, the five segment lengths, the line that the
hip keeps to on the seat, and the ankle's resting place. Evidence pulls on them like springs of
known stiffness: what each witness saw, segments that keep their length, the seat on its rail,
feet held by the footboard, and limbs that cannot jerk. Gauss–Newton on the sparse normal
equations finds the places that satisfy all best; witnesses far off are believed less (Student's
t, by iterated re-weighting).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse
from scipy.linalg import solveh_banded

from analysis.checks import FloatArray, IntArray, require_increasing, require_shape
from analysis.motion.angles import included_deg
from analysis.motion.motion import SEGMENTS

#: Joints that are fitted, in the order of the fit's own joint axis.
FITTED = ("ankle", "knee", "hip", "shoulder", "elbow", "wrist")

#: Unknowns of the whole clip: five lengths, the seat's line, the ankle's resting place.
_OF_CLIP = 9
#: Joints couple over at most three frames of twelve coordinates.
_BAND = 36

#: The joint (of three) whose bending turns a segment out of the plane: knees part, elbows flare.
_BENT_AT = {
    "thigh": ("hip", "knee", "ankle"),
    "shank": ("hip", "knee", "ankle"),
    "upper_arm": ("shoulder", "elbow", "wrist"),
    "forearm": ("shoulder", "elbow", "wrist"),
}

#: Segment → angles of its joint, degrees, rising, and the share of its length that shows there.
Shortening = Mapping[str, tuple[FloatArray, FloatArray]]

_ENDS = np.array([[FITTED.index(a), FITTED.index(b)] for a, b in SEGMENTS.values()])


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
    tail : float
        Degrees of freedom of Student's t for the witnesses.
    """

    segment: dict[str, float] = field(
        default_factory=lambda: {
            "upper_arm": 0.06,
            "forearm": 0.06,
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
            "elbow": 160.0,
            "wrist": 160.0,
        }
    )
    tail: float = 4.0


@dataclass(frozen=True)
class FittedRower:
    """Result of the fit.

    Attributes
    ----------
    place_px : array [shape=(T, 6, 2)]
        Joints of ``FITTED`` in the athlete's frame, px.
    segments_px : mapping of str to float
    seat_height_px, seat_slope : float
        Hip's path: y = height + slope · x.
    scatter_px : array [shape=(W, 6)]
        Robust spread of each witness about the fit, one coordinate, px; NaN without witness.
    rounds : int
        Gauss–Newton rounds taken.
    """

    place_px: FloatArray
    segments_px: dict[str, float]
    seat_height_px: float
    seat_slope: float
    scatter_px: FloatArray
    rounds: int


class _Rows:
    """Collects rows of the linearised problem: residuals already divided by their spread."""

    def __init__(self) -> None:
        self.residuals: list[FloatArray] = []
        self.entries: list[tuple[IntArray, IntArray, FloatArray]] = []
        self.count = 0

    def add(self, residual: FloatArray, columns: IntArray, slopes: FloatArray) -> None:
        """Add n rows: `residual` (n,), `columns` (n, k) and their `slopes` (n, k)."""
        rows = np.repeat(np.arange(self.count, self.count + len(residual)), columns.shape[1])
        self.entries.append((rows, columns.ravel(), slopes.ravel()))
        self.residuals.append(residual)
        self.count += len(residual)

    def solve(self, unknowns: int) -> FloatArray:
        """Return the step that lowers the sum of squares most.

        Joints couple only to joints at most three frames away, so their part of the normal
        equations is banded; the nine unknowns of the whole clip border it and are eliminated
        by their Schur complement.
        """
        rows = np.concatenate([e[0] for e in self.entries])
        columns = np.concatenate([e[1] for e in self.entries])
        slopes = np.concatenate([e[2] for e in self.entries])
        jacobian = sparse.csr_matrix((slopes, (rows, columns)), shape=(self.count, unknowns))
        normal = (jacobian.T @ jacobian).tocsr()
        right = -(jacobian.T @ np.concatenate(self.residuals))
        joints = unknowns - _OF_CLIP
        border = normal[:joints, joints:].toarray()
        band = _banded(normal[:joints, :joints].tocoo())
        solved = solveh_banded(band, np.column_stack([right[:joints], border]))
        corner = normal[joints:, joints:].toarray() - border.T @ solved[:, 1:]
        of_clip = np.linalg.solve(corner, right[joints:] - border.T @ solved[:, 0])
        return np.concatenate([solved[:, 0] - solved[:, 1:] @ of_clip, of_clip])


def _banded(normal: sparse.coo_matrix) -> FloatArray:
    """Upper band storage of a symmetric matrix, lightly damped so that it can be factored."""
    upper = normal.row <= normal.col
    row, column = normal.row[upper], normal.col[upper]
    band = np.zeros((_BAND + 1, normal.shape[0]))
    np.add.at(band, (_BAND + row - column, column), normal.data[upper])
    band[_BAND] += 1e-9
    return band


def fit_rower(
    t_s: FloatArray,
    seen_px: FloatArray,
    spread_px: FloatArray,
    *,
    stiffness: Stiffness | None = None,
    shortening: Shortening | None = None,
    on_rail: bool = True,
    most_rounds: int = 12,
) -> FittedRower:
    """Fit the rower to what the witnesses saw.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    seen_px : array [shape=(W, T, 6, 2)]
        Each witness's joints (``FITTED``) in the athlete's frame, px; NaN where it saw none.
    spread_px : array [shape=(W, T, 6)]
        How far each is believed to be off, one coordinate, px.
    stiffness : Stiffness, optional
    shortening : mapping of str to (angles, shares), optional
        How much of a segment's length shows, by the angle of the joint that it bends at: knees
        part at full compression and elbows flare, so that limbs leave the plane.
    on_rail : bool
        Whether the hip keeps to a line (a machine, or a boat seen steadily).
    most_rounds : int

    Returns
    -------
    FittedRower

    Raises
    ------
    ValueError
        When a shape is wrong or a joint was never seen.
    """
    require_increasing("t_s", t_s)
    frames = len(t_s)
    require_shape("seen_px", seen_px, (None, frames, len(FITTED), 2))
    require_shape("spread_px", spread_px, (len(seen_px), frames, len(FITTED)))
    rules = stiffness or Stiffness()
    place = _first_guess(t_s, seen_px, spread_px)
    lengths = np.array(
        [np.median(np.linalg.norm(place[:, a] - place[:, b], axis=-1)) for a, b in _ENDS]
    )
    hip = place[:, FITTED.index("hip")]
    line = np.array([float(np.median(hip[:, 1])), 0.0])
    rest = np.median(place[:, FITTED.index("ankle")], axis=0)

    rounds = 0
    for _ in range(most_rounds):
        rounds += 1
        rows = _Rows()
        unit = float(lengths[list(SEGMENTS).index("trunk")])
        _add_witnesses(rows, place, seen_px, spread_px, rules)
        _add_segments(rows, place, lengths, rules, shortening or {})
        _add_foot(rows, place, rest, unit, rules)
        _add_smoothness(rows, t_s, place, unit, rules)
        if on_rail:
            _add_seat(rows, place, line, unit, rules)
        else:
            rows.add(np.zeros(2), np.array([[_line(frames)], [_line(frames) + 1]]), np.ones((2, 1)))
        step = rows.solve(frames * 12 + 9)
        place = place + step[: frames * 12].reshape(place.shape)
        lengths = lengths + step[_length(frames) : _line(frames)]
        line = line + step[_line(frames) : _rest(frames)]
        rest = rest + step[_rest(frames) :]
        if np.max(np.abs(step[: frames * 12])) < 2e-4 * unit:
            break
    return FittedRower(
        place_px=place,
        segments_px=dict(zip(SEGMENTS, (float(n) for n in lengths), strict=True)),
        seat_height_px=float(line[0]),
        seat_slope=float(line[1]),
        scatter_px=_scatter(place, seen_px),
        rounds=rounds,
    )


def _length(frames: int) -> int:
    """Column of the first segment length."""
    return frames * 12


def _line(frames: int) -> int:
    """Column of the seat line's height; its slope follows."""
    return frames * 12 + 5


def _rest(frames: int) -> int:
    """Column of the ankle's resting x; its y follows."""
    return frames * 12 + 7


def _columns(frames: IntArray, joint: IntArray | int, axis: IntArray | int) -> IntArray:
    return np.asarray((frames * 6 + joint) * 2 + axis)


def _first_guess(t_s: FloatArray, seen: FloatArray, spread: FloatArray) -> FloatArray:
    """Weighted mean of the witnesses, gaps bridged however long: the fit will judge them."""
    weight = np.where(np.isfinite(seen[..., 0]), 1.0 / spread**2, 0.0)[..., None]
    total = weight.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.sum(np.nan_to_num(seen) * weight, axis=0) / total
    for joint, name in enumerate(FITTED):
        known = np.isfinite(mean[:, joint, 0])
        if not known.any():
            raise ValueError(f"seen_px: expected {name} in at least one frame, got none")
        for axis in (0, 1):
            mean[:, joint, axis] = np.interp(t_s, t_s[known], mean[known, joint, axis])
    return np.asarray(mean)


def _add_witnesses(
    rows: _Rows, place: FloatArray, seen: FloatArray, spread: FloatArray, rules: Stiffness
) -> None:
    witness, frame, joint = np.nonzero(np.isfinite(seen[..., 0]) & np.isfinite(spread))
    off = (place[frame, joint] - seen[witness, frame, joint]) / spread[witness, frame, joint, None]
    # Student's t in two dimensions: the weight falls once the point is further off than expected.
    trust = np.sqrt((rules.tail + 2.0) / (rules.tail + np.sum(off**2, axis=1)))
    slope = (trust / spread[witness, frame, joint])[:, None]
    for axis in (0, 1):
        rows.add(trust * off[:, axis], _columns(frame, joint, axis)[:, None], slope)


def _add_segments(
    rows: _Rows,
    place: FloatArray,
    lengths: FloatArray,
    rules: Stiffness,
    shortening: Shortening,
) -> None:
    frames = np.arange(len(place))
    for index, (name, (a, b)) in enumerate(zip(SEGMENTS, _ENDS, strict=True)):
        line = place[:, a] - place[:, b]
        length = np.linalg.norm(line, axis=1)
        along = line / np.maximum(length, 1e-9)[:, None]
        give = rules.segment[name] * lengths[index]
        shows = _share_shown(place, name, shortening)
        columns = np.column_stack(
            [
                _columns(frames, a, 0),
                _columns(frames, a, 1),
                _columns(frames, b, 0),
                _columns(frames, b, 1),
                np.full(len(frames), _length(len(frames)) + index),
            ]
        )
        slopes = np.column_stack([along, -along, -shows]) / give
        rows.add((length - shows * lengths[index]) / give, columns, slopes)


def _share_shown(place: FloatArray, name: str, shortening: Shortening) -> FloatArray:
    """Share of a segment's length that shows in the plane in every frame [shape=(T,)]."""
    if name not in shortening:
        return np.ones(len(place))
    a, b, c = (place[:, FITTED.index(joint)] for joint in _BENT_AT[name])
    return np.interp(included_deg(a, b, c), *shortening[name])


def _add_seat(
    rows: _Rows, place: FloatArray, line: FloatArray, unit: float, rules: Stiffness
) -> None:
    frames = np.arange(len(place))
    hip = FITTED.index("hip")
    x, y = place[:, hip, 0], place[:, hip, 1]
    give = rules.seat * unit
    height = np.full(len(frames), _line(len(frames)))
    columns = np.column_stack(
        [_columns(frames, hip, 0), _columns(frames, hip, 1), height, height + 1]
    )
    ones = np.ones(len(frames))
    slopes = np.column_stack([-line[1] * ones, ones, -ones, -x]) / give
    rows.add((y - line[0] - line[1] * x) / give, columns, slopes)
    slope_column = np.array([[_line(len(frames)) + 1]])
    rows.add(line[1:] / rules.seat_slope, slope_column, np.array([[1.0 / rules.seat_slope]]))


def _add_foot(
    rows: _Rows, place: FloatArray, rest: FloatArray, unit: float, rules: Stiffness
) -> None:
    frames = np.arange(len(place))
    ankle = FITTED.index("ankle")
    give = rules.ankle * unit
    for axis in (0, 1):
        columns = np.column_stack(
            [_columns(frames, ankle, axis), np.full(len(frames), _rest(len(frames)) + axis)]
        )
        slopes = np.tile([1.0 / give, -1.0 / give], (len(frames), 1))
        rows.add((place[:, ankle, axis] - rest[axis]) / give, columns, slopes)


def _add_smoothness(
    rows: _Rows, t_s: FloatArray, place: FloatArray, unit: float, rules: Stiffness
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
            columns = np.stack([_columns(first + k, joint, axis) for k in range(4)], axis=1)
            rows.add(np.sum(values * slopes, axis=1), columns, slopes)


def _scatter(place: FloatArray, seen: FloatArray) -> FloatArray:
    """Spread of each witness about the fit: 1.4826 × median absolute departure."""
    off = np.abs(seen - place[None])
    out = np.full((len(seen), len(FITTED)), np.nan)
    for witness in range(len(seen)):
        for joint in range(len(FITTED)):
            known = off[witness, :, joint][np.isfinite(off[witness, :, joint])]
            if len(known):
                out[witness, joint] = 1.4826 * float(np.median(known))
    return out
