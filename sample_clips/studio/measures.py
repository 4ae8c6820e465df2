"""Stroke events and measures of a motion that is known exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

NEAR_END = 0.01  # share of the handle's travel that counts as "at the end"


@dataclass(frozen=True)
class Motion:
    """A densely sampled motion; every array is (T,) over t_s.

    seat_m and handle_m along the machine (+ towards the feet), handle_z_m upwards, angles by
    name in deg; lengths of upper arm, forearm, trunk and thigh in m.
    """

    t_s: np.ndarray
    seat_m: np.ndarray
    handle_m: np.ndarray
    handle_z_m: np.ndarray
    shoulder_z_m: np.ndarray
    hip_z_m: np.ndarray
    angles: dict[str, np.ndarray]
    lengths_m: dict[str, float]
    neutral_deg: float
    slide_m: float


@dataclass(frozen=True)
class Events:
    """One stroke as indices into the motion."""

    catch: int
    release: int
    next_catch: int
    front: int
    next_front: int
    dwell_s: float


def _first(mask: np.ndarray, start: int, stop: int) -> int | None:
    hits = np.flatnonzero(mask[start:stop])
    return start + int(hits[0]) if len(hits) else None


def find_events(m: Motion, starts_s: list[float], ends_s: list[float]) -> list[Events]:
    """Catches and releases by place; starts_s and ends_s are where the plan has them, roughly."""
    h, s, t = m.handle_m, m.seat_m, m.t_s
    fronts, rears = [], []
    for a, b in zip(starts_s, ends_s, strict=True):
        def near(x: float) -> int:
            return int(np.clip(np.searchsorted(t, x), 0, len(t) - 1))

        i, j = near(a - 0.45), near(a + 0.35)
        fronts.append((i + int(np.argmax(h[i:j])), i, j))
        i, j = near(b - 0.4), near(b + 0.4)
        rears.append(i + int(np.argmin(h[i:j])))
    catches, dwells, compressions = [], [], []
    moves = np.ptp(s) > 0.02
    for k, (f, i, j) in enumerate(fronts):
        travel = h[f] - h[rears[k]]
        at_front = h >= h[f] - NEAR_END * travel
        leave, arrive = f, f
        while leave + 1 < len(h) and at_front[leave + 1]:
            leave += 1
        while arrive > 0 and at_front[arrive - 1]:
            arrive -= 1
        catches.append(leave)
        dwells.append(float(t[leave] - t[arrive]))
        seat_front = i + int(np.flatnonzero(s[i:j] >= s[i:j].max() - 1e-6)[-1])
        compressions.append(seat_front if moves else leave)
    out = []
    for k in range(len(fronts) - 1):
        travel = h[fronts[k][0]] - h[rears[k]]
        at_rear = h <= h[rears[k]] + NEAR_END * travel
        release = _first(at_rear, catches[k], rears[k] + 1)
        out.append(Events(catches[k], int(release), catches[k + 1], compressions[k],
                          compressions[k + 1], dwells[k]))
    return out


def progress(x: np.ndarray, least: float) -> np.ndarray | None:
    """Running share of the way from x[0] to the extreme reached, 0 … 1; None if it hardly moves."""
    way = x - x[0]
    end = way[np.argmax(np.abs(way))]
    if abs(end) < least:
        return None
    return np.clip(np.maximum.accumulate(way / end), 0, 1)


def measure(m: Motion, e: Events) -> dict[str, float | None]:
    """Every measure of one stroke, by column name; None where it cannot be told."""
    t, a, seat = m.t_s, m.angles, m.seat_m
    rate = 60.0 / (t[e.next_catch] - t[e.catch])
    drive, recovery = t[e.release] - t[e.catch], t[e.next_catch] - t[e.release]
    out: dict[str, float | None] = {
        "rate_spm": rate, "drive_s": drive, "recovery_s": recovery, "ratio": recovery / drive,
        "catch_dwell_s": e.dwell_s,
    }
    travel = m.handle_m[e.catch] - m.handle_m[e.release]
    out["stroke_length_share"] = travel / sum(m.lengths_m.values())
    out["stroke_length_m"] = travel
    out["slide_share"] = np.ptp(seat[e.front:e.next_front + 1]) / m.slide_m
    out["catch_trunk_deg"] = a["trunk_deg"][e.front]
    out["shin_catch_deg"] = a["shin_deg"][e.front]
    out["knee_catch_deg"] = a["knee_deg"][e.front]
    out["elbow_catch_deg"] = a["elbow_deg"][e.front]
    out["knee_release_deg"] = a["knee_deg"][e.release]
    out["layback_deg"] = -a["trunk_deg"][e.release]
    out["forearm_release_deg"] = a["forearm_deg"][e.release]
    out["hand_height_share"] = ((m.handle_z_m[e.release] - m.hip_z_m[e.release])
                                / (m.shoulder_z_m[e.release] - m.hip_z_m[e.release]))
    out["head_deg"] = float(np.median(a["head_deg"][e.catch:e.next_catch + 1]))
    rounding = a["back_rounding_deg"]
    for name, value in (("catch", rounding[e.front]), ("release", rounding[e.release]),
                        ("drive", rounding[e.catch:e.release + 1].max())):
        out[f"rounding_{name}_raw_deg"] = value
        out[f"rounding_{name}_deg"] = value - m.neutral_deg
    out |= _drive(m, e)
    out |= _recovery(m, e)
    return {k: None if v is None else float(v) for k, v in out.items()}


def _drive(m: Motion, e: Events) -> dict[str, float | None]:
    out: dict[str, float | None] = {}
    start = min(e.catch, e.front)
    span = slice(start, e.release + 1)
    legs = progress(m.seat_m[span], 0.08 * m.slide_m)
    back = progress(m.angles["trunk_deg"][span], 10.0)
    elbow = m.angles["elbow_deg"][span]
    arms = progress(elbow, 20.0)
    out["legs_at_back_open"] = out["legs_at_arm_bend"] = out["seat_slip_share"] = None
    if legs is not None and back is not None:
        out["legs_at_back_open"] = legs[np.argmax(back >= 0.2)]
    if legs is not None and arms is not None:
        tenth = max(1, len(elbow) // 10)
        bent = elbow <= elbow[:tenth].max() - 15.0
        out["legs_at_arm_bend"] = legs[np.argmax(bent)]
    for name, part in (("legs", legs), ("back", back), ("arms", arms)):
        out[f"{name}_peak_pct"] = (
            None if part is None else 100.0 * np.argmax(np.gradient(part)) / (len(part) - 1))
    if legs is not None:
        seat = m.seat_m[e.front] - m.seat_m[e.front:e.release + 1]
        handle = m.handle_m[e.front] - m.handle_m[e.front:e.release + 1]
        half = seat <= 0.5 * seat.max()
        half = slice(0, int(np.argmin(half)))
        out["seat_slip_share"] = max(0.0, float((seat - handle)[half].max() / seat.max()))
    x, z = m.handle_m[e.catch:e.release + 1], m.handle_z_m[e.catch:e.release + 1]
    dx, dz = x[-1] - x[0], z[-1] - z[0]
    off = np.abs((x - x[0]) * dz - (z - z[0]) * dx) / np.hypot(dx, dz)
    out["handle_level_share"] = off.max() / m.lengths_m["forearm"]
    return out


def _recovery(m: Motion, e: Events) -> dict[str, float | None]:
    t, forearm = m.t_s, m.lengths_m["forearm"]
    out: dict[str, float | None] = {k: None for k in (
        "body_over_share", "arms_away_share", "slide_time_share", "front_speed_share",
        "lunge_deg")}
    end = e.next_front + 1
    knee = m.angles["knee_deg"]
    mid = (e.catch + e.release) // 2
    straight = mid + int(np.argmax(knee[mid:end]))
    rise = _first(knee < knee[straight] - 10.0, straight, end)
    span = slice(e.release, end)
    trunk, elbow = m.angles["trunk_deg"][span], m.angles["elbow_deg"][span]
    if rise is not None:
        at = max(0, rise - e.release)
        over, away = progress(trunk, 10.0), progress(elbow, 20.0)
        out["body_over_share"] = None if over is None else over[min(at, len(over) - 1)]
        out["arms_away_share"] = None if away is None else away[min(at, len(away) - 1)]
    rear = mid + int(np.argmin(m.seat_m[mid:end]))
    way = m.seat_m[e.next_front] - m.seat_m[rear]
    if way >= 0.08 * m.slide_m:
        done = (m.seat_m - m.seat_m[rear]) / way
        off, quarter = _first(done > 0.02, rear, end), _first(done >= 0.75, rear, end)
        slide_s = t[e.next_front] - t[off]
        out["slide_time_share"] = slide_s / (t[e.next_catch] - t[e.release])
        out["front_speed_share"] = (0.25 / (t[e.next_front] - t[quarter])) / (0.98 / slide_s)
        lean = m.angles["trunk_deg"]
        out["lunge_deg"] = lean[e.next_front] - lean[quarter]
    x = m.handle_m[e.release:e.next_catch + 1]
    z = m.handle_z_m[e.release:e.next_catch + 1]
    line = z[0] + (z[-1] - z[0]) * (x - x[0]) / (x[-1] - x[0])
    out["handle_loop_share"] = max(0.0, float((z - line).max())) / forearm
    late = int(np.argmax(x >= x[0] + 0.85 * (x.max() - x[0])))
    out["handle_dip_share"] = max(0.0, float(z[late] - z[late:].min())) / forearm
    return out
