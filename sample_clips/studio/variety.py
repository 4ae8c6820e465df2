"""Random people, clothes, rooms, cameras and ways of rowing for the truth set.

The two splits draw from different seed streams and from lists of clothes and rooms that have
nothing in common, so that what is tuned on is never what is reported.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .body import Figure
from .dress import Look
from .film import Sensor
from .gym import Paint, Room
from .raster import Light
from .technique import Technique

STREAM = {"tune": 7_001, "report": 9_001}
SKINS = ("#f0cdb4", "#e2b596", "#d0a07a", "#b98660", "#9a6a48", "#7a4a30", "#573624", "#40281b")
HAIRS = ("#17110d", "#2b2320", "#4a2f1d", "#7a4e2a", "#b08a4a", "#cdb27a", "#8d8a86", "#d8d6d2")


@dataclass(frozen=True)
class Wardrobe:
    """What one split may wear and where it may row."""

    tops: tuple[str, ...]
    bottoms: tuple[str, ...]
    shoes: tuple[str, ...]
    walls: tuple[tuple[str, str], ...]
    floors: tuple[tuple[str, str], ...]
    frames: tuple[str, ...]


WARDROBES = {
    "tune": Wardrobe(
        ("#2f6d5a", "#b8433c", "#3b4f8f", "#e8e4da", "#6a6f74", "#d9a520", "#17191c", "#7a3d6a"),
        ("#1f2328", "#23304a", "#7d8288", "#2a3d2f", "#8a2f2a"),
        ("#d8d8d4", "#2a2d31", "#b5483f"),
        (("brick", "#b9a48d"), ("plaster", "#c4c6bd"), ("plaster", "#8f9aa0"),
         ("plaster", "#3e4a44")),
        (("planks", "#8a6f4e"), ("mats", "#4d5357"), ("planks", "#7c7264")),
        ("#5b6066", "#2d3338"),
    ),
    "report": Wardrobe(
        ("#4aa0b5", "#f0efe9", "#27548a", "#a0522d", "#5c6b4a", "#c9c2d6", "#101418", "#e07a3f"),
        ("#30343a", "#141a2a", "#5a5f66", "#3f2f45", "#b9b4a6"),
        ("#efefe8", "#39434f", "#5f7f4f"),
        (("brick", "#9c6b57"), ("plaster", "#d8cfbd"), ("plaster", "#a3ada1"),
         ("brick", "#6d6a68")),
        (("mats", "#6a655c"), ("planks", "#a08560"), ("mats", "#3a3f3c")),
        ("#77797c", "#3b2f2a"),
    ),
}


def figure(rng: np.random.Generator) -> Figure:
    """Somebody between about 12 and 70."""
    age = float(rng.choice([rng.uniform(0.36, 0.5), rng.uniform(0.5, 0.72),
                            rng.uniform(0.72, 0.90)], p=[0.4, 0.35, 0.25]))
    return Figure(
        gender=float(rng.choice([rng.uniform(0, 0.15), rng.uniform(0.85, 1)])), age=round(age, 3),
        muscle=round(float(rng.uniform(0.35, 0.7)), 3),
        weight=round(float(rng.uniform(0.33, 0.72)), 3),
        height=round(float(rng.uniform(0.35, 0.65)), 3))


def look(rng: np.random.Generator, wardrobe: Wardrobe) -> Look:
    """Clothes for anybody."""
    long_leg = rng.random() < 0.35
    return Look(
        skin=str(rng.choice(SKINS)), hair_colour=str(rng.choice(HAIRS)),
        hair=str(rng.choice(["short", "long", "bun", "cap"])),
        top=str(rng.choice(wardrobe.tops)), bottom=str(rng.choice(wardrobe.bottoms)),
        shoe=str(rng.choice(wardrobe.shoes)),
        sleeve=float(rng.choice([0.05, rng.uniform(0.22, 0.42), rng.uniform(0.55, 0.95)],
                                p=[0.2, 0.6, 0.2])),
        leg=float(rng.uniform(0.82, 0.95) if long_leg else rng.uniform(0.30, 0.52)),
        loose_m=float(rng.uniform(0.008, 0.034)), wrinkle=float(rng.uniform(0.3, 0.9)),
        stripe_width_m=float(rng.choice([0.0, 0.0, 0.035])))


def room(rng: np.random.Generator, wardrobe: Wardrobe) -> Room:
    """Somewhere with a floor and a wall."""
    wall, wall_colour = wardrobe.walls[rng.integers(len(wardrobe.walls))]
    floor, floor_colour = wardrobe.floors[rng.integers(len(wardrobe.floors))]
    return Room(wall=wall, wall_colour=wall_colour, wall_m=float(rng.uniform(2.2, 5.0)),
                floor=floor, floor_colour=floor_colour, windows=int(rng.integers(0, 3)),
                bars=bool(rng.random() < 0.5), seed=int(rng.integers(1, 10_000)))


def light(rng: np.random.Generator, outside: bool) -> Light:
    """Lamps or sky."""
    strength, sky = rng.uniform(0.45, 1.0), rng.uniform(0.35, 0.68)
    warm = rng.uniform(-0.08, 0.12)
    key = tuple(float(strength * v) for v in (1 + warm, 1.0, 1 - 1.5 * warm))
    direction = (float(rng.uniform(-0.6, 0.6)), -0.55, float(rng.uniform(0.55, 0.9)))
    if outside:
        return Light(key_dir=direction, key_colour=key, sky_colour=(sky, sky * 1.06, sky * 1.13),
                     ground_colour=(0.22, 0.27, 0.28), haze=(0.72, 0.78, 0.83),
                     haze_per_m=float(rng.uniform(0.002, 0.010)), backdrop=(0.72, 0.80, 0.88))
    return Light(key_dir=direction, key_colour=key, sky_colour=(sky, sky, sky * 1.04))


def sensor(rng: np.random.Generator) -> Sensor:
    """A better or a worse phone."""
    return Sensor(noise=float(rng.uniform(1.0, 6.0)), soft_px=float(rng.uniform(0.35, 1.1)),
                  contrast=float(rng.uniform(0.75, 1.2)),
                  brightness=float(rng.uniform(0.72, 1.18)),
                  warmth=float(rng.uniform(-0.05, 0.05)), crf=int(rng.integers(20, 33)))


def paint(rng: np.random.Generator, wardrobe: Wardrobe) -> Paint:
    """Colours of the machine or the boat."""
    return Paint(frame=str(rng.choice(wardrobe.frames)),
                 rail=str(rng.choice(["#b9bdc0", "#3a3d40", "#e4e2da"])),
                 accent=str(rng.choice(["#c46a2a", "#35506b", "#7f8a3a", "#8a2f3a"])))


def sound(rng: np.random.Generator) -> Technique:
    """A sound full-slide stroke, somewhere inside the limits."""
    rate = rng.uniform(18, 28)
    flex = rng.uniform(16, 26)
    return Technique(
        rate_spm=rate, drive_share=rng.uniform(0.365, 0.40) + 0.008 * max(0.0, rate - 22),
        shin_catch_deg=rng.uniform(-9, 2), knee_release_deg=rng.uniform(159, 171),
        trunk_catch_deg=rng.uniform(20, 33), layback_deg=rng.uniform(6, 17),
        flex_catch_deg=flex, flex_drive_deg=flex - rng.uniform(0, 3),
        flex_release_deg=flex + rng.uniform(-3, 3), elbow_drawn_deg=rng.uniform(58, 78),
        hand_height_share=rng.uniform(0.44, 0.57), catch_drop_m=rng.uniform(0.02, 0.07),
        heel_lift_deg=rng.uniform(14, 28), protract_deg=rng.uniform(5, 13),
        head_level=rng.uniform(0.35, 0.7), back_drive=(rng.uniform(0.14, 0.30), 0.97),
        arms_drive=(rng.uniform(0.48, 0.60), 1.0), arms_away=(0.0, rng.uniform(0.20, 0.28)),
        back_over=(0.06, rng.uniform(0.36, 0.44)), legs_up=(rng.uniform(0.30, 0.38), 1.0),
        slide_fall=rng.uniform(1.8, 2.3))


def _knees_first(rng: np.random.Generator, t: Technique) -> Technique:
    bad = rng.uniform(0.4, 1.0)
    return replace(t, arms_away=(0.0, 0.30 + 0.16 * bad), back_over=(0.03, 0.42 + 0.14 * bad),
                   legs_up=(0.22 - 0.10 * bad, 1.0), loop_m=0.035, loop_at=0.32)


FAULTS: dict[str, Callable[[np.random.Generator, Technique], Technique]] = {
    "layback": lambda r, t: replace(t, layback_deg=r.uniform(23, 40)),
    "upright_finish": lambda r, t: replace(t, layback_deg=r.uniform(-7, 1)),
    "rounding": lambda r, t: replace(
        t, flex_catch_deg=t.flex_catch_deg + (f := r.uniform(14, 34)),
        flex_drive_deg=t.flex_drive_deg + f * r.uniform(0.8, 1.0),
        flex_release_deg=t.flex_release_deg + f * r.uniform(0.5, 1.0)),
    "lunge": lambda r, t: replace(t, lunge_deg=r.uniform(7, 15), lunge_span=(0.78, 1.0),
                                  trunk_catch_deg=t.trunk_catch_deg + 4),
    "late_body": lambda r, t: replace(t, back_over=(0.2, r.uniform(0.75, 0.95))),
    "opening_early": lambda r, t: replace(
        t, back_drive=(r.uniform(-0.05, 0.06), r.uniform(0.66, 0.8)), legs_drive=(0.0, 0.84)),
    "arms_early": lambda r, t: replace(t, arms_drive=(r.uniform(0.0, 0.28), 1.0)),
    "over_compressed": lambda r, t: replace(t, shin_catch_deg=r.uniform(8, 20),
                                            heel_lift_deg=r.uniform(27, 36)),
    "short_slide": lambda r, t: replace(t, shin_catch_deg=r.uniform(-27, -15)),
    "knees_first": _knees_first,
    "rush": lambda r, t: replace(t, legs_up=(r.uniform(0.55, 0.70), 1.0),
                                 slide_fall=r.uniform(1.1, 1.4)),
    "seat_slip": lambda r, t: replace(t, slip_deg=r.uniform(10, 24)),
    "legs_not_down": lambda r, t: replace(t, knee_release_deg=r.uniform(130, 145)),
    "pause": lambda r, t: replace(t, pause_s=r.uniform(0.3, 0.7)),
    "loop": lambda r, t: replace(t, loop_m=r.uniform(0.09, 0.16)),
    "dip": lambda r, t: replace(t, dip_m=r.uniform(0.05, 0.10)),
    "slow_drive": lambda r, t: replace(t, drive_share=r.uniform(0.50, 0.56)),
}


def drill(rng: np.random.Generator, t: Technique, stage: str) -> Technique:
    """A sound drill of an earlier stage."""
    if stage == "arms_only":
        lean = rng.uniform(5, 12)
        return replace(t, stage=stage, slide=0.0, rate_spm=rng.uniform(32, 42), drive_share=0.42,
                       trunk_catch_deg=-lean, layback_deg=lean, arms_drive=(0.0, 1.0),
                       arms_away=(0.0, 0.9), catch_drop_m=0.02)
    if stage == "arms_and_body":
        return replace(t, stage=stage, slide=0.0, rate_spm=rng.uniform(26, 34), drive_share=0.42,
                       trunk_catch_deg=rng.uniform(14, 24), back_drive=(0.0, 0.85),
                       arms_drive=(0.25, 1.0), arms_away=(0.0, 0.4), back_over=(0.25, 0.95))
    return replace(t, stage=stage, slide=0.27 if stage == "quarter_slide" else 0.5,
                   rate_spm=rng.uniform(22, 28), legs_drive=(0.0, 0.55),
                   legs_up=(0.45, 1.0), drive_share=0.40)


def technique(rng: np.random.Generator, index: int) -> tuple[Technique, list[str]]:
    """A way of rowing and the names of what was made wrong with it.

    One clip in three is sound, the rest have one fault, some two; a few are drills.
    """
    t = sound(rng)
    if index % 9 == 7:
        stage = ("arms_and_body", "half_slide", "quarter_slide", "arms_only")[(index // 9) % 4]
        return drill(rng, t, stage), []
    if index % 3 == 0:
        return t, []
    names = list(FAULTS)
    # Every fault gets its turn; the order differs between the streams.
    first = names[(5 * index + int(rng.integers(0, 3))) % len(names)]
    chosen = [first]
    if rng.random() < 0.3:
        chosen.append(str(rng.choice([n for n in names if n != first])))
    for name in chosen:
        t = FAULTS[name](rng, t)
    return t, chosen
