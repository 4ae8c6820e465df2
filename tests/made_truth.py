"""What is true of a made clip: events and measures from continuous motion, without noise.

Written straight from the definitions, on signals sampled at 2 kHz, and apart from the code that
it checks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

RATE_HZ = 2000.0
Signals = dict[str, np.ndarray]


@dataclass(frozen=True)
class Truth:
    """Arrays with one entry for each stroke that lies wholly inside the clip; s on its clock.

    ``compression_s`` is the full compression before the drive, ``next_compression_s`` the one
    that ends the recovery; ``arrival_s`` when the handle comes within 1 % of its foremost place
    at the end of the recovery, ``away_s`` when it leaves the body.
    """

    catch_s: np.ndarray
    release_s: np.ndarray
    away_s: np.ndarray
    arrival_s: np.ndarray
    next_catch_s: np.ndarray
    compression_s: np.ndarray
    next_compression_s: np.ndarray
    slide_share: np.ndarray
    measures: Mapping[str, np.ndarray]


def truth_of(
    signals_at: Callable[[np.ndarray], Signals],
    *,
    starts_s: np.ndarray,
    end_s: float,
    segments_m: Mapping[str, float],
    full_slide_m: float,
    neutral_deg: float,
) -> Truth:
    """Measure every whole stroke; `starts_s` only says roughly where the strokes are."""
    t = np.arange(starts_s[0], starts_s[-1], 1 / RATE_HZ)
    s = signals_at(t)
    rows = []
    middles = [0, *np.searchsorted(t, (starts_s[:-1] + starts_s[1:]) / 2)]
    fronts = [a + int(np.argmax(s["wrist_x"][a:b])) for a, b in pairwise(middles)]
    for here, then in pairwise(fronts[1:]):
        row = _stroke(t, s, here, then, segments_m, full_slide_m, neutral_deg)
        if row is None or row["catch_s"] < 0 or row["next_catch_s"] > end_s:
            continue
        shown = s["wrist_x"][np.searchsorted(t, 0.0) : np.searchsorted(t, row["catch_s"]) + 1]
        near = 0.002 * np.ptp(s["wrist_x"])
        if shown.max() >= s["wrist_x"][here] - near:  # its foremost place is in the clip
            rows.append(row)
    events = Truth.__dataclass_fields__.keys() - {"measures"}
    column = {name: np.array([row[name] for row in rows]) for name in (rows[0] if rows else events)}
    return Truth(**{name: column.pop(name) for name in events}, measures=column)


def _stroke(t, s, here, then, segments, full_slide, neutral) -> dict[str, float] | None:
    """Measure the stroke from front turn `here` to front turn `then` (indices into `t`)."""
    handle, seat, trunk, elbow = (s[n] for n in ("wrist_x", "hip_x", "trunk_deg", "elbow_deg"))
    rear = here + int(np.argmin(handle[here:then]))
    travel = handle[here] - handle[rear]
    if t[-1] - t[then] < 0.3:
        return None
    catch = here + _last(handle[here:rear] >= handle[here] - 0.01 * travel)
    release = catch + _first(handle[catch : rear + 1] <= handle[rear] + 0.01 * travel)
    away = rear + _last(handle[rear:then] <= handle[rear] + 0.01 * travel)
    next_rear = then + int(np.argmin(handle[then : then + (then - here) * 3 // 4]))
    next_travel = handle[then] - handle[next_rear]
    arrival = rear + _first(handle[rear : then + 1] >= handle[then] - 0.01 * next_travel)
    next_catch = then + _last(handle[then:next_rear] >= handle[then] - 0.01 * next_travel)

    half = (then - here) // 2
    seat_front, seat_next = _foremost(seat, here - half, rear), _foremost(seat, rear, then + half)
    share = (seat[seat_front] - seat[here:then].min()) / full_slide
    slides = share >= 0.08
    if not slides:
        seat_front, seat_next = catch, next_catch
    m = _timing(t, catch, release, next_catch)
    m |= {"catch_s": t[catch], "release_s": t[release], "away_s": t[away], "arrival_s": t[arrival],
          "next_catch_s": t[next_catch], "compression_s": t[seat_front],
          "next_compression_s": t[seat_next], "slide_share": share}  # fmt: skip
    m["catch_dwell_s"] = t[next_catch] - t[arrival]
    m["stroke_length_share"] = travel / sum(
        segments[n] for n in ("upper_arm", "forearm", "trunk", "thigh")
    )
    m |= _postures(s, seat_front, release, segments["forearm"])
    m |= _rounding(s["back_rounding_deg"], seat_front, release, neutral)
    m |= _drive(t, s, min(catch, seat_front), release, slides)
    m |= _recovery(t, s, (catch + release) // 2, release, seat_next, next_catch, slides)
    m["seat_slip_share"] = _slip(handle, seat, seat_front, rear) if slides else np.nan
    m |= _handle(s, catch, release, next_catch, segments["forearm"])
    m["head_deg"] = float(np.median(s["head_deg"][catch:next_catch]))
    assert trunk.shape == elbow.shape
    return m


def _timing(t, catch, release, next_catch) -> dict[str, float]:
    drive, recovery = t[release] - t[catch], t[next_catch] - t[release]
    return {"rate_spm": 60 / (t[next_catch] - t[catch]), "drive_s": drive,
            "recovery_s": recovery, "ratio": recovery / drive}  # fmt: skip


def _postures(s, front, release, forearm) -> dict[str, float]:
    height = s["wrist_y"][release] - s["hip_y"][release]
    return {
        "catch_trunk_deg": s["trunk_deg"][front],
        "shin_catch_deg": s["shin_deg"][front],
        "knee_catch_deg": s["knee_deg"][front],
        "elbow_catch_deg": s["elbow_deg"][front],
        "knee_release_deg": s["knee_deg"][release],
        "layback_deg": -s["trunk_deg"][release],
        "forearm_release_deg": s["forearm_deg"][release],
        "hand_height_share": height / (s["shoulder_y"][release] - s["hip_y"][release]),
        "hand_gap_share": (s["wrist_x"][release] - s["belly_x"][release]) / forearm,
    }


def _rounding(raw, front, release, neutral) -> dict[str, float]:
    values = {"catch": raw[front], "drive": raw[min(front, release):release + 1].max(),
              "release": raw[release]}  # fmt: skip
    return {f"rounding_{k}_deg": v - neutral for k, v in values.items()} | {
        f"rounding_{k}_raw_deg": v for k, v in values.items()
    }


def _drive(t, s, start, release, slides) -> dict[str, float]:
    span = slice(start, release + 1)
    seat, trunk, elbow = (s[n][span] for n in ("hip_x", "trunk_deg", "elbow_deg"))
    legs = _progress(-seat, 0.0 if slides else np.inf)
    back, arms = _progress(-trunk, 10.0), _progress(-elbow, 20.0)
    straightest = elbow[: max(1, len(elbow) // 10)].max()
    bent = _first(elbow <= straightest - 15)
    out = {
        "legs_at_back_open": legs[_first(back >= 0.2)] if np.isfinite(back).all() else np.nan,
        "legs_at_arm_bend": legs[bent] if np.isfinite(arms).all() else np.nan,
    }
    for name, part, moves in (
        ("legs", -seat, legs),
        ("back", -trunk, back),
        ("arms", -elbow, arms),
    ):
        speed = np.gradient(part, t[span])
        at = 100 * np.argmax(speed) / (len(speed) - 1)
        out[f"{name}_peak_pct"] = at if np.isfinite(moves).all() else np.nan
    return out


def _recovery(t, s, mid_drive, release, front, next_catch, slides) -> dict[str, float]:
    seat, trunk, elbow, knee = (s[n] for n in ("hip_x", "trunk_deg", "elbow_deg", "knee_deg"))
    names = (
        "body_over_share",
        "arms_away_share",
        "slide_time_share",
        "front_speed_share",
        "lunge_deg",
    )
    out = dict.fromkeys(names, np.nan)
    body = _progress(trunk[release : front + 1], 10.0)
    arms = _progress(elbow[release : front + 1], 20.0)
    if not slides:
        if np.isfinite(body).all() and (trunk[release:front] >= 5).any():
            out["arms_away_share"] = arms[_first(trunk[release:front] >= 5)]
        return out
    straight = mid_drive + int(np.argmax(knee[mid_drive:front]))
    rise = straight + _first(knee[straight:front] <= knee[straight] - 10)
    at = max(rise - release, 0)
    out["body_over_share"], out["arms_away_share"] = body[at], arms[at]
    rear = mid_drive + int(np.argmin(seat[mid_drive:front]))
    way = (seat[rear : front + 1] - seat[rear]) / (seat[front] - seat[rear])
    off, late = rear + _last(way <= 0.02), rear + _last(way <= 0.75)
    out["slide_time_share"] = (t[front] - t[off]) / (t[next_catch] - t[release])
    whole = 0.98 / (t[front] - t[off])
    out["front_speed_share"] = 0.25 / (t[front] - t[late]) / whole
    out["lunge_deg"] = trunk[front] - trunk[late]
    return out


def _slip(handle, seat, front, rear) -> float:
    back = front + int(np.argmin(seat[front : rear + 1]))
    whole = seat[front] - seat[back]
    half = front + _first(seat[front : back + 1] <= seat[front] - whole / 2)
    ahead = (seat[front] - seat[front:half]) - (handle[front] - handle[front:half])
    return float(max(ahead.max(), 0.0) / whole)


def _handle(s, catch, release, next_catch, forearm) -> dict[str, float]:
    x, y = s["wrist_x"], s["wrist_y"]

    def over_line(a: int, b: int) -> np.ndarray:
        return y[a:b] - np.interp(x[a:b], *zip(*sorted([(x[a], y[a]), (x[b], y[b])]), strict=True))

    last = release + _first(
        x[release:next_catch] >= x[release] + 0.85 * (x[next_catch] - x[release])
    )
    return {
        "handle_level_share": np.abs(over_line(catch, release)).max() / forearm,
        "handle_loop_share": max(over_line(release, next_catch).max(), 0.0) / forearm,
        "handle_dip_share": (y[last] - y[last:next_catch].min()) / forearm,
    }


def _progress(x: np.ndarray, least: float) -> np.ndarray:
    """Running maximum of the way done; NaN when the whole way is less than `least`."""
    done = np.maximum.accumulate(x - x[0])
    return (
        np.clip(done / done[-1], 0, 1) if done[-1] >= max(least, 1e-12) else np.full_like(x, np.nan)
    )


def _foremost(seat: np.ndarray, a: int, b: int) -> int:
    """Index at which the seat is foremost; the middle, when it rests there."""
    window = seat[max(a, 0) : b]
    return max(a, 0) + int(np.median(np.nonzero(window >= window.max() - 1e-7)[0]))


def _first(mask: np.ndarray) -> int:
    return int(np.argmax(mask))


def _last(mask: np.ndarray) -> int:
    return int(np.nonzero(mask)[0][-1])
