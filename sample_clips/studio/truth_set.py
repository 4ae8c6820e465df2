"""Renders the truth set for the accuracy benches.

    python -m studio.truth_set --out DIR --split tune|report|both [--count N] [--jobs J] [--fps F]

Clips that are already there are left alone, so that a broken run can be taken up again.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from . import variety
from .camera import Camera
from .check import faults_of
from .motion import BOAT_SEAT_M
from .shoot import Athlete, Shot, make, plan

SIZES = ((960, 540), (854, 480), (640, 360), (960, 540))
RATES = (25, 30, 30, 30, 30, 50, 60)
ORDER = ("rounding", "arms_away", "body_over", "lunge", "reach", "seat_slip", "opening_early",
         "arms_early", "compression", "layback", "legs_down", "handle_path", "handle_loop",
         "handle_dip", "ratio", "rush", "dwell", "head")
MARGIN = 0.03


def draw_shot(split: str, index: int) -> Shot:
    """The index-th clip of a split; the same every time."""
    rng = np.random.default_rng([variety.STREAM[split], index])
    wardrobe = variety.WARDROBES[split]
    boat = index % 8 == 5
    technique, wrong = variety.technique(rng, index)
    if boat:
        technique = replace(technique, feather_drop_m=float(rng.uniform(0.045, 0.07)))
    body = variety.figure(rng)
    dressed = variety.look(rng, wardrobe)
    first = float(rng.uniform(0.3, 0.9))
    period = 60.0 / technique.rate_spm
    duration = float(np.clip(first + 2.12 * period + 0.4, 6.0, 8.4))
    distance = float(rng.uniform(4.5, 7.0) if boat else rng.uniform(3.0, 7.0))
    camera = Camera(
        SIZES[rng.integers(len(SIZES))], str(rng.choice(["left", "right"])), round(distance, 2),
        round(float(rng.uniform(0.7, 1.5)), 2),
        (-0.45 + float(rng.uniform(-0.1, 0.1)), 0.68 + float(rng.uniform(-0.06, 0.12))),
        yaw_deg=round(float(rng.uniform(-15, 15)), 2),
        tilt_deg=round(float(rng.uniform(-4, 4)), 2),
        view_deg=float(np.degrees(2 * np.arctan(rng.uniform(1.35, 1.75) / distance))))
    beside, walker = (), None
    if not boat and rng.random() < 0.25:
        other = Athlete(variety.figure(rng), variety.look(rng, wardrobe), variety.sound(rng),
                        float(rng.uniform(0.2, 2.0)))
        beside = ((other, (float(rng.uniform(-0.9, 0.9)), float(rng.uniform(1.3, 1.9)))),)
    room = variety.room(rng, wardrobe)
    if beside:
        room = replace(room, wall_m=max(room.wall_m, 2.8))
    if not boat and rng.random() < 0.25:
        walker = (variety.figure(rng), variety.look(rng, wardrobe),
                  float(rng.uniform(1.9, 2.2) if not beside else 2.5),
                  float(rng.choice([-1, 1]) * rng.uniform(0.5, 1.0)))
        room = replace(room, wall_m=max(room.wall_m, 3.0))
    shake = float(rng.uniform(1.0, 2.5)) if boat else float(
        rng.choice([0.0, 0.0, 0.0, rng.uniform(0.4, 1.2)]))
    setting = "boat" if boat else "erg"
    return Shot(
        f"{split}{index:02d}_2026-01-01_{wrong[0] if wrong else 'sound'}",
        Athlete(body, dressed, technique, first), camera, setting=setting, duration_s=duration,
        fps=Fraction(int(RATES[rng.integers(len(RATES))])), room=room,
        light=variety.light(rng, boat), paint=variety.paint(rng, wardrobe),
        sensor=variety.sensor(rng), beside=beside, walker=walker, shake=shake,
        seed=int(rng.integers(1, 2**31)),
        about={"split": split, "seed": index, "meant": wrong, "scene": {
            "beside": bool(beside), "walker": walker is not None, "shake": round(shake, 2),
            "seat_top_m": BOAT_SEAT_M if boat else None}})


def framed(shot: Shot) -> tuple[Shot, dict]:
    """Step back or zoom out until every joint is in the picture; gives the truth, too."""
    for _ in range(12):
        record = plan(shot)[3]
        w, h = record["size"]
        points = np.array([p for p in record["joints_px"].values()]).reshape(-1, 2)
        low, high = points.min(0), points.max(0)
        if (low > [MARGIN * w, MARGIN * h]).all() and (
                high < [(1 - MARGIN) * w, (1 - MARGIN) * h]).all():
            return shot, record
        # Bring the joints' middle towards the picture's, and widen the view a little.
        off = (low + high) / 2 - np.array([w, h]) / 2
        scale = shot.camera.distance_m / shot.camera.focal_px
        right = 1.0 if shot.camera.facing == "right" else -1.0
        x, z = shot.camera.aim_m
        aim = (x + 0.7 * right * off[0] * scale, z - 0.5 * off[1] * scale)
        shot = replace(shot, camera=replace(shot.camera, aim_m=aim,
                                            view_deg=1.05 * shot.camera.view_deg))
    raise RuntimeError(f"{shot.stem} cannot be framed")


def render_one(out: Path, split: str, index: int, fps: int | None = None) -> str:
    """Render one clip unless it is there; gives a line for the log."""
    start = time.perf_counter()
    if list(out.glob(f"{split}{index:02d}_*.truth.json")):
        return f"{split}{index:02d}: already there"
    shot = draw_shot(split, index)
    if fps is not None:
        shot = replace(shot, fps=Fraction(fps))
    shot, record = framed(shot)
    past = faults_of(record)
    planted = tuple(c for c in ORDER if past.get(c, 0.0) >= 1.4)
    record = make(replace(shot, planted=planted), out)
    took = time.perf_counter() - start
    return (f"{shot.stem}: {len(record['strokes'])} strokes, {len(record['t_s'])} frames, "
            f"{took:.0f} s, past limit {', '.join(f'{k} {v:.1f}' for k, v in past.items()) or '-'}")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True,
                        help="directory; with --split both, one below it for each split")
    parser.add_argument("--split", choices=("tune", "report", "both"), required=True)
    parser.add_argument("--count", type=int, default=24, help="clips of each split")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--fps", type=int,
                        help="frames a second of every clip; fewer render sooner, and do for "
                             "learning where joints are, though not when events are")
    parser.add_argument("--progress", type=Path, help="file to append progress to")
    args = parser.parse_args()
    splits = ("tune", "report") if args.split == "both" else (args.split,)
    todo = [(args.out / s if args.split == "both" else args.out, s, i, args.fps)
            for i in range(args.count) for s in splits]
    for directory, *_ in todo:
        directory.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(args.jobs) as pool:
        waiting = [pool.submit(render_one, *job) for job in todo]
        for n, (job, result) in enumerate(zip(todo, waiting, strict=True), 1):
            try:
                line = result.result()
            except Exception as error:  # one bad draw must not end the whole run
                line = f"{job[1]}{job[2]:02d}: failed: {error}"
            line = f"{time.strftime('%H:%M:%S')} {n}/{len(todo)} {line}"
            print(line, flush=True)
            if args.progress:
                with args.progress.open("a", encoding="utf-8") as log:
                    log.write(line + "\n")


if __name__ == "__main__":
    main()
