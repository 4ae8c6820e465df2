"""The sample clips: a made-up learn-to-row block at Withy Reach Rowing Club.

    python -m studio.clips [--out DIR] [--only WORD] [--table]
"""

from __future__ import annotations

import argparse
import time
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


def shots() -> list[Shot]:
    """All sample clips."""
    return [
        Shot(
            "mira_2026-05-09_sound",
            Athlete(Figure(gender=0.0, age=0.62, muscle=0.55, weight=0.45, height=0.45),
                    Look(skin="#c98f6d", hair_colour="#4a2f1d", hair="bun", top="#2f6d5a",
                         bottom="#1f2328", sleeve=0.28, leg=0.9),
                    Technique(rate_spm=22)),
            Camera(LARGE, "right", 3.5, 1.05, (-0.42, 0.70), yaw_deg=2.0, tilt_deg=0.4,
                   view_deg=52),
            fps=Fraction(30), duration_s=9.5,
            room=Room(wall="brick", wall_colour="#b9a48d", floor="planks",
                      floor_colour="#8a6f4e", seed=3),
            seed=101,
        ),
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
