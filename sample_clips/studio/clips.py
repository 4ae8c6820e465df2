"""The sample clips: a made-up learn-to-row block at Withy Reach Rowing Club.

    python -m studio.clips [--out DIR] [--only WORD] [--table]
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from .body import Figure
from .camera import Camera
from .dress import Look
from .film import Sensor
from .gym import Paint, Room
from .raster import Light
from .shoot import Athlete, Shot, make, plan
from .technique import Technique

SMALL, MIDDLE, LARGE = (640, 360), (854, 480), (960, 540)
BRICK = Room(wall="brick", wall_colour="#b9a48d", floor="planks", floor_colour="#8a6f4e", seed=3)
HALL = Room(wall="plaster", wall_colour="#c4c6bd", wall_m=3.4, floor="mats",
            floor_colour="#4d5357", windows=2, bars=True, seed=8)
SHED = Room(wall="plaster", wall_colour="#8f9aa0", wall_m=2.3, floor="planks",
            floor_colour="#7c7264", windows=0, bars=True, seed=14)
BARN = Room(wall="brick", wall_colour="#9c6b57", wall_m=4.0, floor="mats",
            floor_colour="#6a655c", windows=2, seed=21)
EVENING = Light(key_dir=(0.35, -0.5, 0.75), key_colour=(0.85, 0.72, 0.55),
                sky_colour=(0.42, 0.42, 0.46))
BRIGHT = Light(key_dir=(0.2, -0.6, 0.7), key_colour=(0.72, 0.74, 0.76),
               sky_colour=(0.62, 0.65, 0.68), ground_colour=(0.3, 0.3, 0.3))

RIVERSIDE = Light(key_dir=(0.3, -0.5, 0.8), key_colour=(0.85, 0.82, 0.74),
                  sky_colour=(0.60, 0.66, 0.72), ground_colour=(0.22, 0.27, 0.28),
                  haze=(0.72, 0.78, 0.83), haze_per_m=0.004, backdrop=(0.72, 0.80, 0.88))

AYLA = Athlete(
    Figure(gender=1.0, age=0.67, muscle=0.5, weight=0.55, height=0.55),
    Look(skin="#7a4a30", hair_colour="#17110d", hair="bun", top="#b8433c", bottom="#23304a",
         sleeve=0.24, leg=0.36, loose_m=0.014),
    Technique(rate_spm=21, layback_deg=32.0, hand_height_share=0.50, flex_catch_deg=18.0,
              back_over=(0.06, 0.46), legs_up=(0.36, 1.0)), first_s=0.7)


def shots() -> list[Shot]:
    """All sample clips."""
    return [
        Shot(
            "oskar_2026-05-05_arms_only",
            Athlete(Figure(gender=0.0, age=0.47, muscle=0.45, weight=0.42, height=0.55),
                    Look(skin="#e0b08e", hair_colour="#b08a4a", top="#e8e4da", bottom="#2a3d2f",
                         sleeve=0.33, leg=0.45, loose_m=0.022),
                    Technique(stage="arms_only", rate_spm=38, drive_share=0.42, slide=0.0,
                              trunk_catch_deg=-9.0, layback_deg=9.0, arms_drive=(0.0, 1.0),
                              arms_away=(0.0, 0.9), hand_height_share=0.45, catch_drop_m=0.02),
                    first_s=0.35),
            Camera(MIDDLE, "right", 3.4, 1.0, (-0.55, 0.72), yaw_deg=-3.0, tilt_deg=-0.8,
                   view_deg=54),
            fps=Fraction(30), duration_s=8.0, room=HALL, light=BRIGHT, seed=109),
        Shot(
            "mira_2026-05-09_sound",
            Athlete(Figure(gender=1.0, age=0.62, muscle=0.55, weight=0.45, height=0.45),
                    Look(skin="#c98f6d", hair_colour="#4a2f1d", hair="bun", top="#2f6d5a",
                         bottom="#1f2328", sleeve=0.28, leg=0.9),
                    Technique(rate_spm=22)),
            Camera(LARGE, "right", 3.5, 1.05, (-0.42, 0.70), yaw_deg=2.0, tilt_deg=0.4,
                   view_deg=52),
            fps=Fraction(30), duration_s=9.5, room=BRICK, seed=101),
        Shot(
            "jonas_2026-05-09_sound",
            Athlete(Figure(gender=0.0, age=0.42, muscle=0.5, weight=0.40, height=0.5),
                    Look(skin="#dba888", hair_colour="#2b2320", top="#3b4f8f", bottom="#7d8288",
                         sleeve=0.36, leg=0.46, loose_m=0.020, stripe_width_m=0.035),
                    Technique(rate_spm=25, layback_deg=8.0, trunk_catch_deg=24.0,
                              shin_catch_deg=-5.0, flex_catch_deg=24.0, flex_drive_deg=22.0,
                              flex_release_deg=24.0, hand_height_share=0.50,
                              drive_share=0.42), first_s=0.9),
            Camera(MIDDLE, "left", 3.3, 0.95, (-0.42, 0.62), yaw_deg=-5.0, tilt_deg=-1.2,
                   view_deg=50),
            fps=Fraction(60), duration_s=8.5, room=HALL, light=BRIGHT, seed=102),
        Shot(
            "ayla_2026-05-09_layback", AYLA,
            Camera(LARGE, "right", 3.8, 1.25, (-0.55, 0.72), yaw_deg=4.0, tilt_deg=1.0,
                   view_deg=52),
            planted=("layback",), fps=Fraction(25), duration_s=10.0, room=SHED, light=EVENING,
            sensor=Sensor(noise=3.5, contrast=0.95), seed=103),
        Shot(
            "piet_2026-05-12_rounded",
            Athlete(Figure(gender=0.0, age=0.84, muscle=0.45, weight=0.62, height=0.5),
                    Look(skin="#d9a384", hair_colour="#8d8a86", top="#6a6f74", bottom="#20242b",
                         sleeve=0.38, leg=0.48, loose_m=0.024),
                    Technique(rate_spm=20, drive_share=0.38, trunk_catch_deg=36.0,
                              lunge_deg=11.5, lunge_span=(0.80, 1.0), flex_catch_deg=48.0,
                              flex_drive_deg=45.0, flex_release_deg=41.0, layback_deg=14.5,
                              head_level=0.75, head_nod_deg=4.0, hand_height_share=0.42,
                              shin_catch_deg=-2.0), first_s=0.4),
            Camera(LARGE, "left", 4.2, 1.15, (-0.50, 0.70), yaw_deg=3.0, tilt_deg=-0.5,
                   view_deg=48),
            planted=("rounding", "lunge"), fps=Fraction(30), duration_s=10.0, room=BARN,
            seed=104),
        Shot(
            "noor_2026-05-12_opening_early",
            Athlete(Figure(gender=1.0, age=0.48, muscle=0.4, weight=0.35, height=0.5),
                    Look(skin="#b07a55", hair_colour="#1c1512", hair="long", top="#d9a520",
                         bottom="#30343a", sleeve=0.3, leg=0.92, loose_m=0.014),
                    Technique(rate_spm=23, back_drive=(-0.04, 0.70), legs_drive=(0.0, 0.84),
                              arms_drive=(0.58, 1.0)), first_s=0.6),
            Camera(MIDDLE, "right", 3.2, 1.0, (-0.42, 0.66), yaw_deg=-2.0, tilt_deg=0.0,
                   view_deg=54),
            planted=("opening_early",), fps=Fraction(30), duration_s=9.0, room=BRICK,
            light=EVENING, seed=105),
        Shot(
            "sami_2026-05-12_arms_early",
            Athlete(Figure(gender=0.0, age=0.67, muscle=0.62, weight=0.5, height=0.42),
                    Look(skin="#5b3a28", hair_colour="#120e0c", top="#f0efe9", bottom="#8a2f2a",
                         sleeve=0.05, leg=0.40, loose_m=0.012),
                    Technique(rate_spm=24, arms_drive=(0.08, 1.0)), first_s=0.5),
            Camera(LARGE, "left", 4.0, 1.2, (-0.50, 0.74), yaw_deg=-4.0, tilt_deg=1.5,
                   view_deg=50),
            planted=("arms_early",), fps=Fraction(30), duration_s=9.0, room=BARN, light=BRIGHT,
            walker=(Figure(gender=1.0, age=0.67), Look(top="#5c6b4a", bottom="#39404a",
                    leg=0.95, sleeve=0.9, hair="long"), 2.6, 0.75),
            seed=106),
        Shot(
            "lena_2026-05-16_over_compressed",
            Athlete(Figure(gender=1.0, age=0.40, muscle=0.4, weight=0.38, height=0.5),
                    Look(skin="#e2b596", hair_colour="#7a4e2a", hair="bun", top="#4aa0b5",
                         bottom="#2c2f36", sleeve=0.3, leg=0.40),
                    Technique(rate_spm=24, shin_catch_deg=17.0, heel_lift_deg=34.0,
                              trunk_catch_deg=25.0, drive_share=0.41), first_s=0.5),
            Camera(LARGE, "right", 3.3, 1.0, (-0.42, 0.66), yaw_deg=6.0, tilt_deg=-1.0,
                   view_deg=50),
            planted=("compression",), fps=Fraction(30), duration_s=8.5, room=HALL, seed=107,
            beside=((Athlete(Figure(gender=0.0, age=0.67, weight=0.6),
                             Look(skin="#c68e6a", top="#3a3f45", bottom="#5a5f66"),
                             Technique(rate_spm=27), first_s=1.3), (-0.5, 1.7)),)),
        Shot(
            "ravi_2026-05-16_knees_first",
            Athlete(Figure(gender=0.0, age=0.72, muscle=0.5, weight=0.58, height=0.42),
                    Look(skin="#9a6a48", hair_colour="#1d1713", top="#27548a", bottom="#1d2023",
                         sleeve=0.36, leg=0.46, loose_m=0.018),
                    Technique(rate_spm=22, arms_away=(0.0, 0.44), back_over=(0.03, 0.50),
                              legs_up=(0.155, 1.0), loop_m=0.035, loop_at=0.32), first_s=0.8),
            Camera(LARGE, "right", 3.9, 1.1, (-0.48, 0.70), yaw_deg=1.5, tilt_deg=3.0,
                   view_deg=50),
            planted=("arms_away", "body_over"), fps=Fraction(30), duration_s=9.5, room=SHED,
            seed=108),
        Shot(
            "ida_2026-05-16_rushed",
            Athlete(Figure(gender=1.0, age=0.76, muscle=0.45, weight=0.6, height=0.45),
                    Look(skin="#e6bda0", hair_colour="#c9a25e", hair="short", top="#7a3d6a",
                         bottom="#26292e", sleeve=0.62, leg=0.88, loose_m=0.016),
                    Technique(rate_spm=22, drive_share=0.38, legs_up=(0.68, 1.0),
                              back_over=(0.10, 0.46), slide_rise=2.0, slide_fall=1.12),
                    first_s=0.6),
            Camera(SMALL, "left", 3.6, 1.05, (-0.46, 0.68), yaw_deg=0.0, tilt_deg=0.6,
                   view_deg=52),
            planted=("rush",), fps=Fraction(60), duration_s=9.8, room=BRICK, light=BRIGHT,
            seed=110),
        Shot(
            "freya_2026-05-23_boat_sound",
            Athlete(Figure(gender=1.0, age=0.67, muscle=0.58, weight=0.48, height=0.6),
                    Look(skin="#d6a07c", hair_colour="#5a3a22", hair="cap", top="#e0b23c",
                         bottom="#1e2126", sleeve=0.06, leg=0.44),
                    Technique(rate_spm=21, feather_drop_m=0.06, shin_catch_deg=-4.0,
                              trunk_catch_deg=25.0, elbow_drawn_deg=66.0,
                              hand_height_share=0.46), first_s=0.6),
            Camera(LARGE, "left", 6.0, 1.3, (-0.55, 0.62), yaw_deg=2.0, tilt_deg=0.0,
                   view_deg=37),
            setting="boat", fps=Fraction(30), duration_s=10.0, shake=2.2,
            light=RIVERSIDE, paint=Paint(frame="#d8d3c4", rail="#e9e7e0", accent="#35506b"),
            seed=111),
        Shot(
            "ayla_2026-05-23_layback_again",
            replace(AYLA, technique=replace(AYLA.technique, layback_deg=15.0, rate_spm=22)),
            Camera(LARGE, "right", 3.7, 1.2, (-0.52, 0.72), yaw_deg=-2.0, tilt_deg=-0.5,
                   view_deg=52),
            fps=Fraction(30), duration_s=9.5, room=HALL, seed=112, shake=0.5),
    ]


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path(__file__).resolve().parents[1])
    parser.add_argument("--only", default="", help="render clips whose name holds this word")
    parser.add_argument("--table", action="store_true", help="print measures, render nothing")
    args = parser.parse_args()
    from .check import print_table

    for shot in shots():
        if args.only not in shot.stem:
            continue
        start = time.perf_counter()
        record = plan(shot)[3] if args.table else make(shot, args.out)
        print_table(record)
        took = time.perf_counter() - start
        print(f"  {shot.stem}: {len(record['t_s'])} frames in {took:.1f} s", flush=True)


if __name__ == "__main__":
    main()
