"""People doing anything but rowing, as angles over time: what a tool must not take for strokes.

Seen from the side, in statures, x ahead and z up. Needs numpy only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

# Segment lengths ÷ stature: Drillis & Contini 1966, as in Winter 2009, Fig. 4.1.
TRUNK, UPPER_ARM, FOREARM, THIGH, SHANK = 0.288, 0.186, 0.146, 0.245, 0.246

Values = np.ndarray | float


@dataclass(frozen=True)
class Act:
    """A body over time, every field (T,); limbs as (left, right).

    Attributes
    ----------
    hip : (T, 2) statures
    trunk_deg : against upright, + forward
    thigh_deg, shank_deg, upper_arm_deg, forearm_deg : against hanging down, + forward
    """

    hip: np.ndarray
    trunk_deg: np.ndarray
    thigh_deg: tuple[np.ndarray, np.ndarray]
    shank_deg: tuple[np.ndarray, np.ndarray]
    upper_arm_deg: tuple[np.ndarray, np.ndarray]
    forearm_deg: tuple[np.ndarray, np.ndarray]

    def joints(self, side: int) -> dict[str, np.ndarray]:
        """Joints of the left (0) or right (1) side, each (T, 2)."""
        shoulder = self.hip + TRUNK * _up(self.trunk_deg)
        elbow = shoulder + UPPER_ARM * _down(self.upper_arm_deg[side])
        knee = self.hip + THIGH * _down(self.thigh_deg[side])
        return {
            "ear": shoulder + 0.11 * _up(self.trunk_deg),
            "shoulder": shoulder, "elbow": elbow,
            "wrist": elbow + FOREARM * _down(self.forearm_deg[side]),
            "hip": self.hip, "knee": knee,
            "ankle": knee + SHANK * _down(self.shank_deg[side]),
        }


def _up(deg: np.ndarray) -> np.ndarray:
    return np.stack([np.sin(np.radians(deg)), np.cos(np.radians(deg))], -1)


def _down(deg: np.ndarray) -> np.ndarray:
    return np.stack([np.sin(np.radians(deg)), -np.cos(np.radians(deg))], -1)


def _links(start: np.ndarray, end: np.ndarray, a: float, b: float, ahead: float) -> tuple:
    """Directions (deg, as limbs') of two links from start to end; the joint bends ahead (+1)."""
    gap = end - start
    reach = np.clip(np.hypot(gap[..., 0], gap[..., 1]), abs(a - b) + 1e-3, 0.999 * (a + b))
    straight = np.degrees(np.arctan2(gap[..., 0], -gap[..., 1]))
    first = np.degrees(np.arccos((a * a + reach**2 - b * b) / (2 * a * reach)))
    second = np.degrees(np.arccos((b * b + reach**2 - a * a) / (2 * b * reach)))
    return straight + ahead * first, straight - ahead * second


def _act(t: np.ndarray, hip: tuple, trunk: Values, thigh: tuple, shank: tuple, arm: tuple,
         fore: tuple) -> Act:
    def wide(v: Values) -> np.ndarray:
        return np.zeros_like(t) + v

    def both(pair: tuple) -> tuple:
        return wide(pair[0]), wide(pair[1])

    return Act(np.stack([wide(hip[0]), wide(hip[1])], -1), wide(trunk), both(thigh), both(shank),
               both(arm), both(fore))


def _reach(t: np.ndarray, hip: tuple, trunk: Values, hands: tuple, feet: tuple,
           elbow: float = -1.0, knee: float = 1.0) -> Act:
    """Hands and feet at places (left, right), each an (x, z) pair; elbows point back by default."""
    place = np.stack([np.zeros_like(t) + hip[0], np.zeros_like(t) + hip[1]], -1)
    shoulder = place + TRUNK * _up(np.zeros_like(t) + trunk)

    def at(xz: tuple) -> np.ndarray:
        return np.stack([np.zeros_like(t) + xz[0], np.zeros_like(t) + xz[1]], -1)

    arms = [_links(shoulder, at(h), UPPER_ARM, FOREARM, elbow) for h in hands]
    legs = [_links(place, at(f), THIGH, SHANK, knee) for f in feet]
    return _act(t, hip, trunk, (legs[0][0], legs[1][0]), (legs[0][1], legs[1][1]),
                (arms[0][0], arms[1][0]), (arms[0][1], arms[1][1]))


def _wave(t: np.ndarray, per_min: float, late: float = 0.0) -> np.ndarray:
    """Between 0 and 1, 0 at the start."""
    return 0.5 - 0.5 * np.cos(2 * np.pi * (per_min / 60 * t - late))


def _turn(t: np.ndarray, per_min: float, late: float = 0.0) -> np.ndarray:
    return 2 * np.pi * (per_min / 60 * t - late)


def walking(t: np.ndarray, per_min: float = 55.0) -> Act:
    """A walk across the picture; `per_min` counts double steps."""
    w = np.sin(_turn(t, per_min))
    return _act(t, (0.6 * t - 2.0, 0.49), 3.0, (22 * w, -22 * w), (14 * w - 10, -14 * w - 10),
                (-25 * w, 25 * w), (10 - 20 * w, 10 + 20 * w))


def pushing_a_pram(t: np.ndarray, per_min: float = 55.0) -> Act:
    """A walk with both hands held on a bar ahead."""
    w = np.sin(_turn(t, per_min))
    return _act(t, (0.5 * t - 2.0, 0.49), 8.0, (22 * w, -22 * w), (14 * w - 10, -14 * w - 10),
                (15 + 3 * w, 15 + 3 * w), (75, 75))


def cycling(t: np.ndarray, per_min: float = 60.0) -> Act:
    """A racing bicycle, filmed from a car beside it."""
    a = _turn(t, per_min)
    feet = tuple((0.12 + 0.1 * np.cos(p), 0.08 + 0.1 * np.sin(p)) for p in (-a, -a + np.pi))
    sway = 0.008 * np.sin(2 * a)
    return _reach(t, (sway, 0.55), 40.0 + 2 * np.sin(2 * a), ((0.42, 0.55),) * 2, feet)


def recumbent_cycling(t: np.ndarray, per_min: float = 60.0) -> Act:
    """Seated low, legs ahead and treading, hands on side handles."""
    a = _turn(t, per_min)
    feet = tuple((0.40 + 0.08 * np.cos(p), 0.10 + 0.08 * np.sin(p)) for p in (-a, -a + np.pi))
    return _reach(t, (0.0, 0.12), -20.0, ((0.02, 0.16),) * 2, feet)


def squats(t: np.ndarray, per_min: float = 20.0) -> Act:
    """Squats, arms swung forward."""
    d = _wave(t, per_min)
    act = _reach(t, (-0.2 * d, 0.485 - 0.28 * d), 5 + 38 * d, ((0, 0),) * 2, ((0, 0),) * 2)
    hang = 85 * d
    return Act(act.hip, act.trunk_deg, act.thigh_deg, act.shank_deg, (hang, hang),
               (hang + 5, hang + 5))


def lunges(t: np.ndarray, per_min: float = 22.0) -> Act:
    """Lunges, one foot ahead, hands on the hips."""
    d = _wave(t, per_min)
    return _act(t, (0.12 * d, 0.48 - 0.2 * d), 5.0, (15 + 70 * d, -10 - 15 * d),
                (5 - 5 * d, -10 - 70 * d), (-35, -35), (40, 40))


def deadlift(t: np.ndarray, per_min: float = 16.0) -> Act:
    """A bar lifted from the floor to hanging arms and put down."""
    d = _wave(t, per_min)
    return _reach(t, (-0.18 * d, 0.485 - 0.16 * d), 3 + 65 * d,
                  ((0.05, 0.44 - 0.32 * d),) * 2, ((0, 0),) * 2)


def clean_and_press(t: np.ndarray, per_min: float = 12.0) -> Act:
    """A bar from the floor to over the head and back."""
    d = _wave(t, per_min)
    return _reach(t, (-0.2 * d, 0.485 - 0.22 * d), 2 + 50 * d,
                  ((0.08, 1.02 - 0.90 * d),) * 2, ((0, 0),) * 2, elbow=1.0)


def bench_press(t: np.ndarray, per_min: float = 20.0) -> Act:
    """On the back on a bench, feet on the floor, a bar pressed up."""
    d = _wave(t, per_min)
    return _reach(t, (0.0, 0.27), -88.0, ((-0.25, 0.36 + 0.26 * d),) * 2, ((0.2, 0.0),) * 2)


def jumping_jacks(t: np.ndarray, per_min: float = 50.0) -> Act:
    """Seen from the side: arms go up ahead of the body, little else moves."""
    d = _wave(t, per_min)
    return _act(t, (0.0, 0.49 + 0.03 * d), 0.0, (3, -3), (0, -3), (10 + 150 * d,) * 2,
                (15 + 150 * d,) * 2)


def push_ups(t: np.ndarray, per_min: float = 25.0) -> Act:
    """Straight body over the hands."""
    d = _wave(t, per_min)
    tilt = 72 + 12 * d
    act = _reach(t, (0.0, 0.20 - 0.1 * d), tilt, ((0.28, 0.0),) * 2, ((-0.47, 0.03),) * 2)
    return act


def sit_ups(t: np.ndarray, per_min: float = 24.0) -> Act:
    """On the back, knees bent, hands at the ears."""
    d = _wave(t, per_min)
    trunk = -85 + 110 * d
    shoulder = TRUNK * _up(trunk) + [0.0, 0.06]
    ear = shoulder + 0.08 * _up(trunk)
    hands = ((ear[:, 0], ear[:, 1]),) * 2
    return _reach(t, (0.0, 0.06), trunk, hands, ((0.30, 0.02),) * 2, elbow=1.0)


def sit_ups_reaching(t: np.ndarray, per_min: float = 24.0) -> Act:
    """On the back, knees bent, hands reaching from over the head to the feet."""
    d = _wave(t, per_min)
    trunk = -85 + 110 * d
    return Act(*(lambda a: (a.hip, a.trunk_deg, a.thigh_deg, a.shank_deg,
                            (-170 + 235 * d,) * 2, (-170 + 240 * d,) * 2))(
        _reach(t, (0.0, 0.06), trunk, ((0, 0),) * 2, ((0.30, 0.02),) * 2)))


def leg_press(t: np.ndarray, per_min: float = 18.0) -> Act:
    """Seated, legs pushing a plate ahead, hands on handles beside the seat."""
    d = _wave(t, per_min)
    return _reach(t, (0.0, 0.15), -30.0, ((0.02, 0.15),) * 2, ((0.27 + 0.2 * d, 0.25),) * 2)


def on_a_swing(t: np.ndarray, per_min: float = 22.0) -> Act:
    """A playground swing: the body goes to and fro, legs out and back, hands on the ropes."""
    w = np.sin(_turn(t, per_min))
    place = (1.1 * np.sin(0.5 * w), 1.5 - 1.1 * np.cos(0.5 * w))
    trunk = -15 - 22 * w
    shoulder = TRUNK * _up(trunk)
    hands = ((place[0] + shoulder[:, 0] + 0.1, place[1] + shoulder[:, 1]),) * 2
    act = _reach(t, place, trunk, hands, ((0, 0),) * 2)
    return Act(act.hip, act.trunk_deg, (70 + 15 * w,) * 2, (40 + 45 * w,) * 2, act.upper_arm_deg,
               act.forearm_deg)


def drumming(t: np.ndarray, per_min: float = 55.0) -> Act:
    """Seated at drums, sticks up and down in turn."""
    a, b = _wave(t, per_min), _wave(t, per_min, 0.5)
    hands = ((0.26 + 0.02 * a, 0.42 + 0.12 * a), (0.24 + 0.02 * b, 0.40 + 0.12 * b))
    return _reach(t, (0.0, 0.28), 5.0, hands, ((0.30, 0.02), (0.26, 0.02)))


def drumming_about(t: np.ndarray, per_min: float = 24.0) -> Act:
    """Seated at drums, reaching from the near drum to the far cymbals and back."""
    a, b = _wave(t, per_min), _wave(t, per_min, 0.2)
    hands = ((0.14 + 0.22 * a, 0.40 + 0.2 * a), (0.14 + 0.2 * b, 0.40 + 0.16 * b))
    return _reach(t, (0.0, 0.28), 2 + 8 * a, hands, ((0.30, 0.02), (0.26, 0.02)))


def piano(t: np.ndarray, per_min: float = 40.0) -> Act:
    """Seated at a piano, swaying."""
    w = np.sin(_turn(t, per_min / 2))
    return _reach(t, (0.0, 0.28), 8 + 5 * w, ((0.27, 0.42 + 0.01 * w), (0.28, 0.42 - 0.01 * w)),
                  ((0.28, 0.03),) * 2)


def wheelchair(t: np.ndarray, per_min: float = 40.0) -> Act:
    """A wheelchair pushed along by its rims."""
    a = _turn(t, per_min)
    hand = (0.02 + 0.16 * np.cos(a), 0.32 + 0.10 * np.sin(a))
    return _reach(t, (0.3 * t, 0.30), 10 + 6 * np.cos(a), ((0.3 * t + hand[0], hand[1]),) * 2,
                  ((0.3 * t + 0.30, 0.06),) * 2)


def kayaking(t: np.ndarray, per_min: float = 40.0) -> Act:
    """Seated with legs ahead, a double paddle: one hand goes forward while the other comes back."""
    a = _turn(t, per_min)
    hands = tuple((0.24 + 0.17 * np.cos(p), 0.24 + 0.10 * np.sin(p)) for p in (a, a + np.pi))
    return _reach(t, (0.0, 0.05), 5.0, hands, ((0.42, 0.05),) * 2)


def rope_hand_over_hand(t: np.ndarray, per_min: float = 40.0) -> Act:
    """Seated on the floor, legs ahead, pulling a rope in hand over hand."""
    a = _turn(t, per_min)
    hands = tuple((0.26 + 0.14 * np.cos(p), 0.22 + 0.05 * np.sin(p)) for p in (a, a + np.pi))
    return _reach(t, (0.0, 0.06), -5.0, hands, ((0.44, 0.05),) * 2)


def tug_of_war(t: np.ndarray, per_min: float = 20.0) -> Act:
    """Standing, leaning back, a rope pulled in jerks."""
    d = _wave(t, per_min)
    return _reach(t, (-0.22 - 0.05 * d, 0.36), -20 - 8 * d, ((0.12 - 0.06 * d, 0.46),) * 2,
                  ((0.1, 0.0), (-0.1, 0.0)))


def cable_row_standing(t: np.ndarray, per_min: float = 25.0) -> Act:
    """Standing, knees bent a little, a cable drawn to the belly."""
    d = _wave(t, per_min)
    return _reach(t, (-0.06, 0.46), 12 - 8 * d, ((0.40 - 0.28 * d, 0.58),) * 2, ((0, 0),) * 2)


def ski_machine(t: np.ndarray, per_min: float = 40.0) -> Act:
    """Standing, both arms drawn down from over the head past the hips."""
    d = _wave(t, per_min)
    hang = 150 - 165 * d
    act = _reach(t, (-0.1 * d, 0.485 - 0.06 * d), 5 + 45 * d, ((0, 0),) * 2, ((0, 0),) * 2)
    return Act(act.hip, act.trunk_deg, act.thigh_deg, act.shank_deg, (hang, hang), (hang + 20,) * 2)


def front_crawl(t: np.ndarray, per_min: float = 40.0) -> Act:
    """Face down, arms circling in turn."""
    a = np.degrees(_turn(t, per_min))
    return _act(t, (0.3 * t - 1.0, 0.0), 88.0, (-90 + 8 * np.sin(3 * np.radians(a)),
                -90 - 8 * np.sin(3 * np.radians(a))), (-92, -92), (a, a + 180), (a + 15, a + 195))


def breast_stroke(t: np.ndarray, per_min: float = 30.0) -> Act:
    """Face down, hands out and in together, legs drawn up and kicked."""
    d = _wave(t, per_min)
    return _act(t, (0.2 * t - 1.0, 0.0), 80.0, (-85 + 50 * d,) * 2, (-95 - 60 * d,) * 2,
                (165 - 100 * d,) * 2, (168 - 20 * d,) * 2)


def back_stroke(t: np.ndarray, per_min: float = 36.0) -> Act:
    """Face up, arms circling in turn, legs ahead: the nearest that swimming comes to rowing."""
    a = -np.degrees(_turn(t, per_min))
    return _act(t, (-0.3 * t + 1.0, 0.0), -85.0, (86 + 6 * np.sin(np.radians(3 * a)),
                86 - 6 * np.sin(np.radians(3 * a))), (84, 84), (a, a + 180), (a, a + 180))


def horse_riding(t: np.ndarray, per_min: float = 55.0) -> Act:
    """Seated astride, going up and down."""
    w = np.sin(_turn(t, per_min))
    return _reach(t, (0.01 * w, 0.5 + 0.04 * w), 5 + 4 * w, ((0.2 + 0.02 * w, 0.60),) * 2,
                  ((0.02, 0.08),) * 2)


def sawing(t: np.ndarray, per_min: float = 50.0) -> Act:
    """Standing bent over, one hand going to and fro."""
    d = _wave(t, per_min)
    return _reach(t, (-0.05, 0.47), 35.0, ((0.18 + 0.2 * d, 0.36), (0.35, 0.4)),
                  ((0.1, 0.0), (-0.15, 0.0)))


def mopping(t: np.ndarray, per_min: float = 30.0) -> Act:
    """Standing, both hands push a mop to and fro."""
    d = _wave(t, per_min)
    return _reach(t, (0.06 * d, 0.47), 15 + 12 * d,
                  ((0.2 + 0.2 * d, 0.55), (0.28 + 0.2 * d, 0.45)), ((0.15, 0.0), (-0.15, 0.0)))


def crawling(t: np.ndarray, per_min: float = 45.0) -> Act:
    """On hands and knees."""
    w = np.sin(_turn(t, per_min))
    x = 0.2 * t
    return _act(t, (x, 0.27), 80.0, (20 * w, -20 * w), (-90 + 10 * w, -90 - 10 * w),
                (-10 - 22 * w, -10 + 22 * w), (5 - 10 * w, 5 + 10 * w))


def rocking(t: np.ndarray, per_min: float = 30.0) -> Act:
    """A rocking chair, hands on its arms."""
    w = np.sin(_turn(t, per_min))
    return _reach(t, (0.03 * w, 0.27), -15 + 8 * w, ((0.14 + 0.04 * w, 0.36),) * 2,
                  ((0.30, 0.02),) * 2)


def waving_about(t: np.ndarray, per_min: float = 24.0) -> Act:
    """Seated at rest on a machine, legs ahead, telling a story with both hands."""
    w, v = np.sin(_turn(t, per_min)), np.sin(_turn(t, 0.63 * per_min, 0.3))
    hands = ((0.20 + 0.08 * w, 0.26 + 0.06 * v), (0.18 + 0.07 * v, 0.28 + 0.06 * w))
    return _reach(t, (0.0, 0.1), 0.0 + 4 * v, hands, ((0.42, 0.05),) * 2)


def chest_press_seated(t: np.ndarray, per_min: float = 22.0) -> Act:
    """Seated on a bench, feet on the floor, handles pushed ahead at the height of the chest."""
    d = _wave(t, per_min)
    return _reach(t, (0.0, 0.28), -5.0, ((0.1 + 0.2 * d, 0.5),) * 2, ((0.26, 0.0),) * 2)


def rope_waves(t: np.ndarray, per_min: float = 55.0) -> Act:
    """Standing in a half squat, two heavy ropes made to wave in turn."""
    w = np.sin(_turn(t, per_min))
    return _reach(t, (-0.12, 0.40), 25.0, ((0.3, 0.45 + 0.12 * w), (0.3, 0.45 - 0.12 * w)),
                  ((0, 0),) * 2)


def rope_climbing(t: np.ndarray, per_min: float = 30.0) -> Act:
    """Hanging on a rope, legs drawn up, hand over hand."""
    a = _turn(t, per_min)
    z = 0.1 * t
    hands = tuple((0.1, z + 0.9 + 0.12 * np.sin(p)) for p in (a, a + np.pi))
    return _reach(t, (0.0, z + 0.4), -5.0, hands, ((0.2, z + 0.15),) * 2, elbow=1.0)


#: Nothing of this is rowing, nor near it.
NOT_ROWING: dict[str, Callable[..., Act]] = {
    f.__name__: f
    for f in (walking, pushing_a_pram, cycling, recumbent_cycling, squats, lunges, deadlift,
              clean_and_press, bench_press, jumping_jacks, push_ups, sit_ups, sit_ups_reaching,
              leg_press, on_a_swing, drumming, drumming_about, piano, wheelchair,
              kayaking, rope_hand_over_hand, tug_of_war, cable_row_standing, ski_machine,
              front_crawl, breast_stroke, back_stroke, horse_riding, sawing, mopping, crawling,
              rocking, waving_about, chest_press_seated, rope_waves, rope_climbing)
}


def cable_row_seated(t: np.ndarray, per_min: float = 22.0) -> Act:
    """Seated on the floor, legs nearly flat, a cable drawn to the belly: arms and body, no seat."""
    d = _wave(t, per_min)
    return _reach(t, (0.0, 0.06), 18 - 24 * d, ((0.42 - 0.30 * d, 0.2 + 0.02 * d),) * 2,
                  ((0.44, 0.06),) * 2)


def toe_touches(t: np.ndarray, per_min: float = 15.0) -> Act:
    """Seated on the floor, legs flat, reaching for the feet and sitting up again: a stretch."""
    d = _wave(t, per_min)
    return _reach(t, (0.0, 0.06), 5 + 40 * d, ((0.12 + 0.26 * d, 0.2 - 0.1 * d),) * 2,
                  ((0.485, 0.04),) * 2)


#: Much like a drill of rowing without the slide: landmarks alone may not tell them apart.
NEAR_ROWING: dict[str, Callable[..., Act]] = {
    f.__name__: f for f in (cable_row_seated, toe_touches)
}
