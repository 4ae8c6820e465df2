"""Clips of people doing anything but rowing (`acts`), to see that no stroke is invented.

    python -m studio.bystanders --out DIR [--only WORD] [--rate PER_MIN] [--seed N]
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from . import mesh, variety
from . import rotations as rot
from .acts import NEAR_ROWING, NOT_ROWING, Act
from .body import SIDES, load_body
from .camera import Camera
from .dress import dress, linear
from .film import Film
from .raster import Raster
from .rig import LATERAL, Pose
from .shoot import Athlete, Hall, Shot
from .truth_set import draw_shot

SIZE, FPS, SECONDS = (400, 300), Fraction(25), 10.0
#: Arms of the body at rest stand off by so much, deg.
ARMS_OFF_DEG = 36.0


class Actor:
    """Somebody doing something, facing +x."""

    def __init__(self, athlete: Athlete, act: Callable[[np.ndarray], Act], seed: int):
        self.body, self.act = load_body(athlete.figure), act
        self.dressed = dress(self.body, athlete.look, seed)

    def load(self, raster: Raster, t_s: np.ndarray) -> None:
        """Pose all frames and put the shape on the graphics side."""
        self.person = raster.figure(self.dressed)
        act, stature = self.act(t_s), self.body.stature_m
        pose = Pose.start(self.body, rot.pitch(act.trunk_deg), np.zeros((len(t_s), 3)))
        for k, side in enumerate(SIDES):
            s = LATERAL[side]
            hang = rot.about(np.array([1.0, 0, 0]), np.full(len(t_s), -s * np.radians(ARMS_OFF_DEG)))
            for bones, deg, first in (
                (("upperleg01", "upperleg02"), act.thigh_deg[k], np.eye(3)),
                (("lowerleg01", "lowerleg02"), act.shank_deg[k], np.eye(3)),
                (("upperarm01", "upperarm02"), act.upper_arm_deg[k], hang),
                (("lowerarm01", "lowerarm02", "wrist"), act.forearm_deg[k], hang),
            ):
                for bone in bones:
                    pose.turn(f"{bone}.{side}", rot.pitch(-deg) @ first)
        self.pose = pose.finish()
        hips = 0.5 * (self.pose.at("upperleg01.L") + self.pose.at("upperleg01.R"))
        wanted = np.stack([act.hip[:, 0], np.zeros(len(t_s)), act.hip[:, 1]], -1) * stature
        self.pose.centre += (wanted - hips)[None]
        # Nobody sinks into the floor.
        ends = [self.pose.at(f"{b}.{s}")[:, 2] for b in ("foot", "wrist", "lowerleg01") for s in SIDES]
        ends += [hips[:, 2] + wanted[:, 2] - hips[:, 2], self.pose.at("head")[:, 2]]
        self.pose.centre[:, :, 2] += max(0.0, 0.09 - float(np.min(ends)))
        self.at_m = np.median(self.pose.at("spine03"), axis=0)

    def things(self, i: int) -> list:
        """What is to be drawn of frame i."""
        return [self.person.pose(self.pose.skin_transforms(i))]


def make(name: str, act: Callable[..., Act], out: Path, per_min: float | None, seed: int) -> Path:
    """Render one clip."""
    rng = np.random.default_rng([seed, len(name), ord(name[0])])
    shot = draw_shot("tune", int(rng.integers(0, 30)))
    actor = Actor(shot.athlete, act if per_min is None else lambda t: act(t, per_min), seed)
    t_s = np.arange(round(SECONDS * float(FPS))) / float(FPS)
    camera = Camera(SIZE, str(rng.choice(["left", "right"])), 4.5, 1.1, (0.0, 0.6),
                    yaw_deg=float(rng.uniform(-15, 15)), tilt_deg=float(rng.uniform(-3, 3)),
                    view_deg=42.0)
    away = 1.0 if camera.near == "R" else -1.0
    key = shot.light.key_dir
    raster = Raster(SIZE, replace(shot.light, key_dir=(key[0], -away * abs(key[1]), key[2])))
    room = Shot(name, shot.athlete, camera, room=replace(shot.room, wall_m=3.0))
    hall = Hall(raster, room, away)
    actor.load(raster, t_s)
    # What people sit and lie on.
    bench_z = float(np.median(actor.pose.at("upperleg01.L")[:, 2])) - 0.12
    seat = []
    if 0.1 < bench_z < 0.6 and np.ptp(actor.pose.at("upperleg01.L")[:, 0]) < 0.1:
        box = mesh.box((actor.at_m[0] - 0.1, 0.0, bench_z / 2), (0.5, 0.35, bench_z),
                       linear("#5b4a3a"))
        seat = [raster.solid(box)]
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{name}{'' if per_min is None else f'_{per_min:.0f}'}.mp4"
    with Film(path, SIZE, FPS, variety.sensor(rng), seed) as film:
        for i in range(len(t_s)):
            middle = float(actor.pose.at("spine03")[i, 0])
            # Somebody who goes along is followed.
            going = np.ptp(actor.pose.at("spine03")[:, 0]) > 1.5
            seen = replace(camera, aim_m=(middle if going else float(actor.at_m[0]),
                                          max(0.55, float(actor.at_m[2]))))
            things, options = hall.things(float(t_s[i]))
            film.add(raster.draw(seen, things + seat + actor.things(i), hall.backdrop, **options))
    raster.ctx.release()
    return path


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--only", default="")
    parser.add_argument("--rate", type=float)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    for name, act in (NOT_ROWING | NEAR_ROWING).items():
        if args.only in name:
            start = time.perf_counter()
            path = make(name, act, args.out, args.rate, args.seed)
            print(f"{path.name}: {time.perf_counter() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
