"""How somebody rows, as numbers: posture at catch and release, and when each part moves."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

_GRID = np.linspace(0.0, 1.0, 4001)


def step(u: np.ndarray, rise: float = 2.0, fall: float = 2.0) -> np.ndarray:
    """Smooth way from 0 to 1 while u goes from 0 to 1.

    Speed is proportional to u^(rise − 1) · (1 − u)^(fall − 1): a small `fall` keeps going fast
    until the end, a large one eases in.
    """
    speed = _GRID ** (rise - 1) * (1 - _GRID) ** (fall - 1)
    way = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]))])
    return np.interp(np.asarray(u, float), _GRID, way / way[-1])


@dataclass(frozen=True)
class Technique:
    """One way of rowing. The defaults are a sound full-slide stroke of a novice.

    Spans are (start, end): in the drive as shares of the drive's time, in the recovery as
    shares of the recovery's time.
    """

    stage: str = "full_slide"
    rate_spm: float = 22.0
    drive_share: float = 0.40
    # Posture
    slide: float = 1.0
    shin_catch_deg: float = -3.0
    knee_release_deg: float = 166.0
    trunk_catch_deg: float = 27.0
    layback_deg: float = 11.0
    flex_catch_deg: float = 21.0
    flex_drive_deg: float = 20.0
    flex_release_deg: float = 22.0
    elbow_long_deg: float = 172.0
    elbow_drawn_deg: float = 64.0
    hand_height_share: float = 0.46
    catch_drop_m: float = 0.05
    heel_lift_deg: float = 22.0
    protract_deg: float = 10.0
    head_level: float = 0.45
    head_nod_deg: float = 0.0
    # Order in the drive
    legs_drive: tuple[float, float] = (0.0, 0.78)
    back_drive: tuple[float, float] = (0.25, 0.97)
    arms_drive: tuple[float, float] = (0.54, 1.0)
    # Order in the recovery
    arms_away: tuple[float, float] = (0.0, 0.24)
    back_over: tuple[float, float] = (0.07, 0.42)
    legs_up: tuple[float, float] = (0.32, 1.0)
    slide_rise: float = 1.9
    slide_fall: float = 2.0
    # A second swing of the trunk at the end of the slide (deg), as share of the recovery
    lunge_deg: float = 0.0
    lunge_span: tuple[float, float] = (0.72, 1.0)
    # Handle and seat
    slip_deg: float = 0.0
    pause_s: float = 0.0
    drive_arch_m: float = 0.01
    loop_m: float = 0.0
    loop_at: float = 0.5
    dip_m: float = 0.0
    feather_drop_m: float = 0.0
    # Stroke to stroke
    scatter: float = 1.0

    def varied(self, rng: np.random.Generator) -> Technique:
        """The same technique in another stroke: a little off in everything, as people are."""
        k = self.scatter

        def off(sd: float) -> float:
            return float(np.clip(rng.normal(0, sd), -2 * sd, 2 * sd)) * k

        def moved(span: tuple[float, float]) -> tuple[float, float]:
            return span[0] + off(0.012), span[1]

        return replace(
            self,
            back_drive=moved(self.back_drive),
            arms_drive=moved(self.arms_drive),
            legs_up=moved(self.legs_up),
            back_over=(self.back_over[0], self.back_over[1] + off(0.012)),
            rate_spm=self.rate_spm * (1 + off(0.012)),
            drive_share=self.drive_share + off(0.006),
            shin_catch_deg=self.shin_catch_deg + off(0.7),
            knee_release_deg=self.knee_release_deg + off(0.6),
            trunk_catch_deg=self.trunk_catch_deg + off(0.6),
            layback_deg=self.layback_deg + off(0.7),
            flex_catch_deg=self.flex_catch_deg + off(0.8),
            flex_release_deg=self.flex_release_deg + off(0.8),
            elbow_drawn_deg=self.elbow_drawn_deg + off(1.5),
            hand_height_share=self.hand_height_share + off(0.008),
            catch_drop_m=self.catch_drop_m + off(0.004),
            loop_m=self.loop_m + off(0.003),
        )


@dataclass(frozen=True)
class Stroke:
    """One planned stroke: when it starts, how long drive and recovery last, and how it is done."""

    start_s: float
    drive_s: float
    recovery_s: float
    how: Technique

    @property
    def end_s(self) -> float:
        """Start of the next stroke, s."""
        return self.start_s + self.drive_s + self.recovery_s


def plan_strokes(technique: Technique, duration_s: float, rng: np.random.Generator,
                 first_s: float) -> list[Stroke]:
    """Strokes that cover 0 … duration_s with room on both sides; one starts at first_s."""
    def one(start_s: float) -> Stroke:
        how = technique.varied(rng)
        period = 60.0 / how.rate_spm
        drive = how.drive_share * period
        return Stroke(start_s, drive, period - drive, how)

    lead = one(0.0)
    count = int(np.ceil((first_s + 2.0) / (lead.drive_s + lead.recovery_s))) + 1
    strokes = [one(0.0) for _ in range(count)]
    start = first_s - sum(s.drive_s + s.recovery_s for s in strokes)
    placed = []
    for s in strokes:
        placed.append(replace(s, start_s=start))
        start = placed[-1].end_s
    while start < duration_s + 4.0:
        placed.append(one(start))
        start = placed[-1].end_s
    return placed


def _span(t: np.ndarray, origin: float, length: float, span: tuple[float, float]) -> np.ndarray:
    a, b = origin + span[0] * length, origin + span[1] * length
    return (t - a) / (b - a)


@dataclass(frozen=True)
class Timeline:
    """Progress of every part over time, before it is laid on a body; every field is (T,).

    seat: 0 at full compression … 1 at legs flat, in units of the full slide; trunk_deg, flex_deg,
    elbow_deg; straight: 1 arms long, 0 drawn; bump_m: handle above its straight line;
    feather: 1 while the blades are flat and out of the water.
    """

    seat: np.ndarray
    shin_catch_deg: np.ndarray
    knee_release_deg: np.ndarray
    trunk_deg: np.ndarray
    flex_deg: np.ndarray
    elbow_deg: np.ndarray
    straight: np.ndarray
    hand_height_share: np.ndarray
    catch_drop_m: np.ndarray
    bump_m: np.ndarray
    feather: np.ndarray


def timeline(strokes: list[Stroke], t_s: np.ndarray) -> Timeline:
    """Evaluate planned strokes at times t_s (T,)."""
    t = np.asarray(t_s, float)
    first = strokes[0].how
    zero = np.zeros_like(t)
    seat, trunk, flex, elbow = (zero + v for v in (
        1 - first.slide, first.trunk_catch_deg, first.flex_catch_deg, first.elbow_long_deg))
    front = zero + first.shin_catch_deg
    straight, bump, feather = zero + 1.0, zero.copy(), zero.copy()
    rear, height, drop = (zero + v for v in (
        first.knee_release_deg, first.hand_height_share, first.catch_drop_m))
    for s, after in zip(strokes, [*strokes[1:], strokes[-1]], strict=True):
        how, nxt = s.how, after.how
        mid = s.start_s + s.drive_s
        moving = s.recovery_s - nxt.pause_s
        # Drive
        legs = step(_span(t, s.start_s, s.drive_s, how.legs_drive), 1.9, 2.2)
        back = step(_span(t, s.start_s, s.drive_s, how.back_drive), 2.0, 1.8)
        arms = step(_span(t, s.start_s, s.drive_s, how.arms_drive), 2.0, 1.7)
        whole = step(_span(t, s.start_s, s.drive_s, (0, 1)))
        # Recovery
        away = step(_span(t, mid, moving, how.arms_away), 1.8, 2.0)
        over = step(_span(t, mid, moving, how.back_over), 2.0, 2.0)
        reach = step(_span(t, mid, moving, how.lunge_span), 2.0, 1.5)
        up = step(_span(t, mid, moving, how.legs_up), how.slide_rise, how.slide_fall)
        home = step(_span(t, mid, moving, (0, 1)))

        set_deg = nxt.trunk_catch_deg - nxt.lunge_deg
        seat += how.slide * legs - nxt.slide * up
        trunk += (-how.layback_deg - how.trunk_catch_deg) * back
        trunk += (set_deg + how.layback_deg) * over + nxt.lunge_deg * reach
        flex += (how.flex_drive_deg - how.flex_catch_deg) * legs
        flex += (how.flex_release_deg - how.flex_drive_deg) * arms
        flex += (nxt.flex_catch_deg - how.flex_release_deg) * (0.5 * over + 0.5 * up)
        elbow += (how.elbow_drawn_deg - how.elbow_long_deg) * arms
        elbow += (nxt.elbow_long_deg - how.elbow_drawn_deg) * away
        straight += away - arms
        slip_out = step(_span(t, s.start_s, s.drive_s, (0.0, 0.36)), 1.9, 2.0)
        slip_back = step(_span(t, s.start_s, s.drive_s, (0.36, 0.85)))
        trunk += how.slip_deg * (slip_out - slip_back)
        front += (nxt.shin_catch_deg - how.shin_catch_deg) * whole
        rear += (nxt.knee_release_deg - how.knee_release_deg) * home
        height += (nxt.hand_height_share - how.hand_height_share) * home
        drop += (nxt.catch_drop_m - how.catch_drop_m) * whole
        bump += how.drive_arch_m * np.sin(np.pi * np.clip(
            _span(t, s.start_s, s.drive_s, (0, 1)), 0, 1)) ** 2
        u = np.clip(_span(t, mid, moving, (0, 1)), 0, 1)
        bump += how.loop_m * np.sin(np.pi * u ** (np.log(0.5) / np.log(how.loop_at))) ** 2
        fall_in = step(_span(t, mid, moving, (0.70, 0.97)))
        lift_out = step(_span(t, after.start_s, after.drive_s, (0.0, 0.14)))
        bump -= nxt.dip_m * (fall_in - lift_out)
        if how.feather_drop_m:
            down = step(_span(t, mid, moving, (-0.02, 0.10)))
            raised = step(_span(t, mid, moving, (0.90, 1.0)))
            feather += down - raised
            bump -= how.feather_drop_m * (down - raised)
    return Timeline(seat, front, rear, trunk, flex, elbow, straight, height, drop, bump, feather)
