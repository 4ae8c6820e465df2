"""The stick figure behind :mod:`tests.made_motion`: one technique, moved in continuous time.

Segment lengths are a stature's shares from Drillis & Contini 1966, as in Winter, Biomechanics and
Motor Control of Human Movement, 4th ed., 2009, Fig. 4.1. Lengths are metres; x points to the feet,
y up, the ankle is at 0.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.motion.motion import ANGLES, JOINTS
from tests.made_technique import PHASE_OF_PAUSE, Technique

STATURE_M = 1.75
SEGMENTS_M = {
    "upper_arm": 0.186 * STATURE_M,
    "forearm": 0.146 * STATURE_M,
    "trunk": 0.288 * STATURE_M,
    "thigh": 0.245 * STATURE_M,
    "shank": 0.246 * STATURE_M,
}
HIP_HEIGHT_M = 0.12  # hip above ankle
NECK_M = 0.20  # shoulder to ear
BELLY_M = 0.11  # front of the torso before the hip–shoulder line
NEUTRAL_RAW_DEG = 8.0


class Rower:
    """The stick figure in continuous time; places in m, x to the feet, y up, ankle at 0."""

    def __init__(self, techniques: Sequence[Technique]) -> None:
        self.techniques = list(techniques)
        self.clocks = [_Clock(technique) for technique in techniques]
        lengths = [clock.length_s for clock in self.clocks]
        self.starts = np.concatenate([[0.0], np.cumsum(lengths)])

    def time_of_phase(self, stroke: int, phase: float) -> float:
        """Return when `stroke` is at `phase` (0…1 drive, 1…2 recovery), s."""
        return float(self.starts[stroke] + self.clocks[stroke].time(phase))

    def places(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return joints [shape=(T, J, 2), m] and raw back rounding [shape=(T,), deg]."""
        t = np.asarray(t, dtype=float)
        last = len(self.techniques) - 2
        stroke = np.clip(np.searchsorted(self.starts, t, side="right") - 1, 0, last)
        joints = np.full((len(t), len(JOINTS), 2), np.nan)
        rounding = np.full(len(t), np.nan)
        for k in np.unique(stroke):
            now = stroke == k
            phase = self.clocks[k].phase(t[now] - self.starts[k])
            joints[now], rounding[now] = _pose(phase, self.techniques[k], self.techniques[k + 1])
        return joints, rounding


class _Clock:
    """Time within one stroke ↔ phase (0…1 drive, 1…2 recovery); holds and pauses stretch it."""

    def __init__(self, technique: Technique) -> None:
        recovery = 60.0 / technique.rate_spm - technique.drive_s
        recovery -= technique.front_hold_s + technique.back_hold_s
        if recovery <= 0.1:
            raise ValueError(f"no time left for the recovery: {recovery:.2f} s")
        phase = np.linspace(0.0, 2.0, 8001)
        speed = np.where(phase < 1.0, technique.drive_s, recovery)  # s per unit of phase
        stops = [(PHASE_OF_PAUSE.get(place, place), s) for place, s in technique.pauses]
        for place, seconds in stops:
            near = np.clip(np.abs(phase - place) / 0.03, 0.0, 1.0)
            speed = speed + seconds * (1.0 + np.cos(np.pi * near)) / 0.06
        time = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(phase))])
        # The holds are flat pieces of the phase: at 1 (release) and at 2 (front).
        back = np.searchsorted(phase, 1.0)
        self._time = np.concatenate([time[: back + 1], time[back:] + technique.back_hold_s])
        self._phase = np.concatenate([phase[: back + 1], phase[back:]])
        self.length_s = float(self._time[-1] + technique.front_hold_s)

    def phase(self, time: np.ndarray) -> np.ndarray:
        return np.interp(time, self._time, self._phase)

    def time(self, phase: float) -> float:
        return float(
            np.interp(phase, self._phase + 1e-12 * np.arange(len(self._phase)), self._time)
        )


def _ease(x: np.ndarray, start: float = 0.0, end: float = 1.0) -> np.ndarray:
    """Half a cosine from 0 at `start` to 1 at `end`."""
    return (1.0 - np.cos(np.pi * np.clip((x - start) / (end - start), 0.0, 1.0))) / 2.0


def _slide(x: np.ndarray, rush: float) -> np.ndarray:
    """Way done by the seat; its speed rises as a sine up to `peak`, then falls as a cosine."""
    x, peak = x ** (1.0 + rush), 0.5 + 0.4 * rush
    rising = peak * (1.0 - np.cos(np.pi / 2 * np.minimum(x, peak) / peak))
    return rising + (1.0 - peak) * np.sin(np.pi / 2 * np.clip((x - peak) / (1.0 - peak), 0, 1))


def _pose(phase: np.ndarray, tech: Technique, after: Technique) -> tuple[np.ndarray, np.ndarray]:
    """Return joints [shape=(n, J, 2), m] and raw rounding [shape=(n,), deg] at `phase`."""
    driving = phase < 1.0
    drive, recovery = np.clip(phase, 0.0, 1.0), np.clip(phase - 1.0, 0.0, 1.0)

    def between(back: float, front: float, front_after: float, out: np.ndarray, home: np.ndarray):
        """`out`: share of the way done in the drive; `home`: in the recovery."""
        return np.where(driving, front + (back - front) * out, back + (front_after - back) * home)

    slide = _slide(np.clip((recovery - tech.slide_start) / (1 - tech.slide_start), 0, 1),
                   tech.slide_rush)  # fmt: skip
    legs = _ease(drive, tech.legs_start, tech.legs_end)
    seat = between(_seat_back(tech), _seat_front(tech), _seat_front(after), legs, slide)

    back = _ease(drive, tech.back_start, tech.back_start + tech.back_length)
    body = _ease(recovery, tech.body_end - tech.body_length, tech.body_end)
    late = _ease(slide, 0.75, 1.0) if tech.slide else body
    trunk = between(-tech.layback_deg, tech.catch_trunk_deg, after.catch_trunk_deg, back, body)
    trunk = trunk + np.where(driving, 0.0, after.lunge_deg * (late - body))
    trunk = np.degrees(np.arcsin(np.sin(np.radians(trunk)) + _slip(drive, seat, tech) * driving))

    drawn = _ease(drive, tech.arms_start, tech.arms_end)
    away = _ease(recovery, tech.arms_away_end - tech.arms_away_length, tech.arms_away_end)
    elbow = between(tech.elbow_drawn_deg, tech.elbow_straight_deg, after.elbow_straight_deg,
                    drawn, away)  # fmt: skip

    joints = np.zeros((len(phase), len(JOINTS), 2))
    place = {name: joints[:, JOINTS.index(name)] for name in JOINTS}  # views
    place["heel"][:], place["toe"][:] = (-0.02, -0.07), (0.09, 0.06)
    place["hip"][:, 0], place["hip"][:, 1] = seat, HIP_HEIGHT_M
    place["knee"][:] = _two_link(place["ankle"], place["hip"], "shank", "thigh", up=True)
    place["shoulder"][:] = place["hip"] + SEGMENTS_M["trunk"] * _direction(trunk)
    place["ear"][:] = place["shoulder"] + NECK_M * _direction(trunk + tech.head_deg)
    place["wrist"][:], forward = _wrist(place["shoulder"], elbow, driving, tech, after)
    place["elbow"][:] = _two_link(
        place["shoulder"], place["wrist"], "upper_arm", "forearm", up=False
    )
    front = np.where(driving, tech.rounding_front_deg, after.rounding_front_deg)
    rounding = tech.rounding_back_deg + (front - tech.rounding_back_deg) * forward
    rounding += tech.rounding_drive_deg * driving * 4 * forward * (1 - forward)
    return joints, rounding + NEUTRAL_RAW_DEG


def _direction(from_vertical_deg: np.ndarray) -> np.ndarray:
    angle = np.radians(from_vertical_deg)
    return np.stack([np.sin(angle), np.cos(angle)], axis=-1)


def _seat_back(tech: Technique) -> float:
    thigh, shank = SEGMENTS_M["thigh"], SEGMENTS_M["shank"]
    knee = np.radians(tech.knee_release_deg)
    square = thigh**2 + shank**2 - 2 * thigh * shank * np.cos(knee)
    return -float(np.sqrt(square - HIP_HEIGHT_M**2))


def _seat_front(tech: Technique) -> float:
    """Hip's x at full compression: where the shin has its angle, or part of the way there."""
    shin = np.radians(tech.shin_catch_deg)
    knee_x, knee_y = SEGMENTS_M["shank"] * np.sin(shin), SEGMENTS_M["shank"] * np.cos(shin)
    full = knee_x - np.sqrt(SEGMENTS_M["thigh"] ** 2 - (knee_y - HIP_HEIGHT_M) ** 2)
    back = _seat_back(tech)
    return back + tech.slide * (float(full) - back)


def full_slide_m() -> float:
    """Seat travel from legs straight to shins vertical, by the law of the triangle."""
    thigh, shank = SEGMENTS_M["thigh"], SEGMENTS_M["shank"]
    flat = np.sqrt((thigh + shank) ** 2 - HIP_HEIGHT_M**2)
    return float(flat - np.sqrt(thigh**2 - (shank - HIP_HEIGHT_M) ** 2))


def _slip(drive: np.ndarray, seat: np.ndarray, tech: Technique) -> np.ndarray:
    """Forward tip of the trunk (as a sine) that keeps the handle while the seat slips away."""
    whole = _seat_front(tech) - _seat_back(tech)
    if not tech.slip_share or not whole:
        return np.zeros_like(drive)
    moved = np.clip((_seat_front(tech) - seat) / (tech.slip_share * whole), 0.0, None)
    held = 1.0 - np.exp(-moved - moved**2 / 2)  # ≈ `moved` first, then levels off at 1
    return held * tech.slip_share * whole / SEGMENTS_M["trunk"] * (1 - _ease(drive, 0.35, 0.8))


def _two_link(
    start: np.ndarray, end: np.ndarray, first: str, second: str, *, up: bool
) -> np.ndarray:
    """Return the joint between two segments that lead from `start` to `end` [shape=(n, 2)]."""
    a, b = SEGMENTS_M[first], SEGMENTS_M[second]
    line = end - start
    distance = np.linalg.norm(line, axis=1)
    along = (distance**2 + a**2 - b**2) / (2 * distance)
    off = np.sqrt(np.clip(a**2 - along**2, 0.0, None))
    unit = line / distance[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    side = np.where((normal[:, 1] > 0) == up, 1.0, -1.0)
    return start + along[:, None] * unit + (side * off)[:, None] * normal


def _wrist(shoulder: np.ndarray, elbow_deg: np.ndarray, driving: np.ndarray, tech: Technique,
           after: Technique) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Return the wrist [shape=(n, 2)] on its height path, and its share of the way forward."""
    upper, fore = SEGMENTS_M["upper_arm"], SEGMENTS_M["forearm"]

    def reach(elbow: float | np.ndarray) -> np.ndarray:
        return np.sqrt(upper**2 + fore**2 - 2 * upper * fore * np.cos(np.radians(elbow)))

    def end(seat: float, trunk_deg: float, elbow: float, y: float) -> float:
        top = np.array([seat, HIP_HEIGHT_M]) + SEGMENTS_M["trunk"] * _direction(np.array(trunk_deg))
        return float(top[0] + np.sqrt(reach(elbow) ** 2 - (y - top[1]) ** 2))

    y_back = HIP_HEIGHT_M + tech.hand_height * SEGMENTS_M["trunk"] * np.cos(
        np.radians(tech.layback_deg)
    )
    y_front = y_back + np.where(driving, tech.catch_rise_m, after.catch_rise_m)
    x_back = end(_seat_back(tech), -tech.layback_deg, tech.elbow_drawn_deg, y_back)
    fronts = [end(_seat_front(k), k.catch_trunk_deg, k.elbow_straight_deg, y_back + k.catch_rise_m)
              for k in (tech, after)]  # fmt: skip
    x_front = np.where(driving, *fronts)
    arm = reach(elbow_deg)
    x = shoulder[:, 0] + arm * 0.9
    for _ in range(12):  # height depends on the way done and the way done a little on the height
        q = np.clip((x - x_back) / (x_front - x_back), 0.0, 1.0)
        hump = 4 * q * (1 - q)
        dip = tech.dip_m * np.sin(np.pi * np.clip((q - 0.85) / 0.15, 0.0, 1.0)) ** 2
        y = y_back + (y_front - y_back) * q
        y = y + np.where(driving, tech.level_m * hump, tech.loop_m * hump - dip)
        x = shoulder[:, 0] + np.sqrt(np.clip(arm**2 - (y - shoulder[:, 1]) ** 2, 1e-6, None))
    return np.stack([x, y], axis=1), q


def angles_of(places: np.ndarray, rounding_deg: np.ndarray) -> np.ndarray:
    """Return ``ANGLES`` [shape=(T, A), deg] of joints in the athlete's frame, by definition."""
    p = {name: places[:, JOINTS.index(name)] for name in JOINTS}

    def from_vertical(low: str, high: str) -> np.ndarray:
        line = p[high] - p[low]
        return np.degrees(np.arctan2(line[:, 0], line[:, 1]))

    def included(a: str, at: str, b: str) -> np.ndarray:
        u, v = p[a] - p[at], p[b] - p[at]
        cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        return np.degrees(np.arctan2(np.abs(cross), np.sum(u * v, axis=1)))

    fore = p["wrist"] - p["elbow"]
    trunk = from_vertical("hip", "shoulder")
    named = {
        "trunk_deg": trunk,
        "shin_deg": from_vertical("ankle", "knee"),
        "knee_deg": included("hip", "knee", "ankle"),
        "hip_deg": included("shoulder", "hip", "knee"),
        "elbow_deg": included("shoulder", "elbow", "wrist"),
        "forearm_deg": np.degrees(np.arctan2(fore[:, 1], fore[:, 0])),
        "head_deg": from_vertical("shoulder", "ear") - trunk,
        "back_rounding_deg": rounding_deg,
    }
    return np.stack([named[name] for name in ANGLES], axis=1)


def belly_x(places: np.ndarray, depth: float) -> np.ndarray:
    """Front of the torso at the wrist's height."""
    hip, shoulder, wrist = (places[:, JOINTS.index(n)] for n in ("hip", "shoulder", "wrist"))
    share = (wrist[:, 1] - hip[:, 1]) / (shoulder[:, 1] - hip[:, 1])
    return hip[:, 0] + share * (shoulder[:, 0] - hip[:, 0]) + depth


def signals_of(places: np.ndarray, rounding_deg: np.ndarray) -> dict[str, np.ndarray]:
    """What the truth is measured on: angles in deg, places in m."""
    angles = angles_of(places, rounding_deg)
    signals = {name: angles[:, i] for i, name in enumerate(ANGLES)}
    for name in ("wrist", "hip", "shoulder"):
        signals[f"{name}_x"] = places[:, JOINTS.index(name), 0]
        signals[f"{name}_y"] = places[:, JOINTS.index(name), 1]
    signals["belly_x"] = belly_x(places, BELLY_M)
    return signals
