"""Boats as a launch films them: small, shaky, zoomed, panned, compressed; two rowers and more.

    python -m studio.launch --out DIR --split tune|report [--count N] [--first K]

Every clip is 320×240 at 25 frames a second in an AVI file, with a truth file beside it. The nearest
rower is 60 to 100 px tall. The split decides on people, clothes and chance as in the truth set.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from . import mesh, variety
from .camera import Camera
from .dress import linear
from .raster import Raster
from .river import River, Sculler
from .shoot import Athlete, Shot, frame_times
from .truth import stroke_truth, truth_record, write_truth
from .truth_set import draw_shot

SIZE, FPS = (320, 240), Fraction(25)
#: Drawn larger, then made small as a converter would.
DRAWN = 1.25
SEAT_APART_M = 1.38
#: Height of somebody seated in a boat from the hull to the top of the head, m.
SEATED_M = 0.88


@dataclass(frozen=True)
class Launch:
    """One clip: rowers with their places (m along and away), camera path, and how it was kept."""

    stem: str
    kind: str
    rowers: tuple[tuple[Athlete, tuple[float, float]], ...]
    camera: Camera
    path: dict[str, float]
    duration_s: float
    bars_px: int
    bit_rate: int
    soft_px: float
    noise: float
    seed: int
    board_m: float


def draw_launch(split: str, index: int) -> Launch:
    """The index-th clip of a split; the same every time."""
    rng = np.random.default_rng([variety.STREAM[split], 555, index])
    kind = ("double", "single", "two boats", "double", "quad")[index % 5]
    rate = float(rng.uniform(14, 36))
    period = 60.0 / rate
    duration = float(np.clip(rng.uniform(2.3, 5.4) * period, 4.0, 16.0))
    first = float(rng.uniform(0.0, period))

    def rower(off_s: float, spm: float) -> Athlete:
        of = draw_shot(split, int(rng.integers(0, 30))).athlete
        technique = replace(variety.sound(rng), rate_spm=spm,
                            drive_share=float(0.33 + 0.006 * (spm - 14) + rng.uniform(-0.02, 0.02)),
                            feather_drop_m=float(rng.uniform(0.045, 0.07)))
        return Athlete(of.figure, of.look, technique, max(0.0, first + off_s))

    crew = {"double": 2, "quad": 4}.get(kind, 1)
    # The nearest rower to the camera's middle is the first: bow or stroke, whichever.
    step = float(rng.choice([-1, 1])) * SEAT_APART_M
    people = [(rower(float(rng.normal(0, 0.03)), rate), (k * step, 0.0)) for k in range(crew)]
    if kind == "two boats":
        other = (float(rng.uniform(-1.5, 1.5)), float(rng.uniform(4, 9)))
        people.append((rower(float(rng.uniform(0, 2)), rate * float(rng.uniform(0.9, 1.1))), other))
    tall = float(rng.uniform(62, 98))
    bars = int(rng.choice([0, 30, 30]))
    size = (round(SIZE[0] * DRAWN), round((SIZE[1] - 2 * bars) * DRAWN))
    distance = float(rng.uniform(9, 25))
    width_m = SIZE[0] / tall * SEATED_M
    middle = 0.5 * (min(crew, 3) - 1) * step
    camera = Camera(size, str(rng.choice(["left", "right"])), distance,
                    float(rng.uniform(0.9, 2.4)),
                    (-0.45 + middle, float(rng.uniform(0.55, 0.85))),
                    yaw_deg=float(rng.uniform(-22, 22)), tilt_deg=float(rng.uniform(-4, 4)),
                    view_deg=float(np.degrees(2 * np.arctan(width_m / 2 / distance))))
    path = {"pan_m": float(rng.uniform(0.0, 0.12) * width_m), "zoom": float(rng.uniform(0, 0.3)),
            "turn_deg": float(rng.uniform(-10, 10)), "shake_px": float(rng.uniform(0.5, 3.0))}
    return Launch(f"{split}{index:02d}_{kind.replace(' ', '-')}", kind, tuple(people), camera,
                  path, duration, bars, int(rng.choice([250, 400, 550])) * 1000,
                  float(rng.uniform(0.3, 1.0)), float(rng.uniform(1, 5)),
                  int(rng.integers(1, 2**31)), float(rng.choice([0.0, rng.uniform(0.08, 0.22)])))


def cameras_of(launch: Launch, t_s: np.ndarray) -> list[Camera]:
    """One camera a frame: it wanders, pans, turns about the boat, zooms and trembles."""
    rng = np.random.default_rng(launch.seed + 77)
    share = t_s / max(launch.duration_s, 1e-6)

    def wander(*parts: tuple[float, float]) -> np.ndarray:
        total = np.zeros(len(t_s))
        for hz, size in parts:
            total += size * np.sin(2 * np.pi * (hz * t_s + rng.uniform()))
        return total

    c, p = launch.camera, launch.path
    px_m = c.distance_m / c.focal_px * DRAWN
    tremble = p["shake_px"] * px_m
    x = wander((0.11, p["pan_m"]), (0.29, 0.5 * p["pan_m"]), (1.3, 0.5 * tremble), (3.1, tremble))
    z = wander((0.17, 0.4 * p["pan_m"]), (1.1, 0.6 * tremble), (2.7, tremble))
    zoom = 1.0 + p["zoom"] * (share - 0.5) * np.sign(np.sin(launch.seed)) + wander((0.2, 0.03))
    yaw = p["turn_deg"] * (share - 0.5)
    tilt = wander((0.2, 1.2), (0.7, 0.5))
    view = 2 * np.arctan(np.tan(np.radians(c.view_deg) / 2) / zoom)
    return [replace(c, aim_m=(c.aim_m[0] + x[i], c.aim_m[1] + z[i]),
                    yaw_deg=c.yaw_deg + yaw[i], tilt_deg=c.tilt_deg + tilt[i],
                    view_deg=float(np.degrees(view[i]))) for i in range(len(t_s))]


class Avi:
    """Writes 320×240 pictures as a small MPEG-4 AVI, between black bars; a context manager."""

    def __init__(self, path: Path, launch: Launch):
        self.path, self.of = path, launch
        self.rng = np.random.default_rng(launch.seed)

    def __enter__(self) -> Avi:
        self.file = av.open(str(self.path), "w")
        self.stream = self.file.add_stream("mpeg4", rate=FPS)
        self.stream.width, self.stream.height = SIZE
        self.stream.pix_fmt = "yuv420p"
        self.stream.bit_rate = self.of.bit_rate
        return self

    def add(self, picture: np.ndarray) -> None:
        """Append a drawn picture."""
        bars = self.of.bars_px
        small = cv2.resize(picture, (SIZE[0], SIZE[1] - 2 * bars), interpolation=cv2.INTER_AREA)
        soft = cv2.GaussianBlur(small, (0, 0), self.of.soft_px).astype("f4")
        soft += self.rng.normal(0, self.of.noise, soft.shape)
        out = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
        out[bars:SIZE[1] - bars] = np.clip(soft, 0, 255).astype(np.uint8)
        for packet in self.stream.encode(av.VideoFrame.from_ndarray(out, "rgb24")):
            self.file.mux(packet)

    def __exit__(self, kind, value, trace) -> None:
        for packet in self.stream.encode():
            self.file.mux(packet)
        self.file.close()


def make(launch: Launch, out: Path) -> dict[str, object]:
    """Render a clip and its truth file into a directory; gives the truth."""
    rng = np.random.default_rng(launch.seed + 3)
    away = 1.0 if launch.camera.near == "R" else -1.0
    light = variety.light(rng, outside=True)
    key = light.key_dir
    light = replace(light, key_dir=(key[0], -away * abs(key[1]), key[2]))
    wardrobe = variety.WARDROBES[launch.stem[:4] if launch.stem.startswith("tune") else "report"]
    shot = Shot(launch.stem, launch.rowers[0][0], launch.camera, setting="boat",
                duration_s=launch.duration_s, fps=FPS, seed=launch.seed)
    t_s = frame_times(shot)
    cameras = cameras_of(launch, t_s)
    paint = variety.paint(rng, wardrobe)
    rowers = []
    for k, (athlete, (dx, dy)) in enumerate(launch.rowers):
        # One crew keeps one rhythm, stroke by stroke: the same chance for all in a boat.
        seed = launch.seed if dy == 0 else launch.seed + 11 + k
        rowers.append(Sculler(athlete, launch.duration_s, seed, paint, (dx, away * dy), boat=True))
    strokes = stroke_truth(rowers[0].rowing, float(t_s[-1]), launch.camera.near)
    record = truth_record(rowers[0].rowing, cameras, t_s, strokes, {
        "clip": launch.stem + ".avi", "athlete": launch.stem.split("_")[0], "setting": "boat",
        "stage": "full_slide", "planted": [], "fps": int(FPS), "kind": launch.kind,
        "rate_spm": round(launch.rowers[0][0].technique.rate_spm, 2),
        "path": launch.path, "board_m": round(launch.board_m, 2), "bit_rate": launch.bit_rate})
    for name in ("joints_px", "joints_px_rig", "joints_px_marked"):
        record[name] = {joint: [[round((x + 0.5) / DRAWN - 0.5, 2),
                                 round((y + 0.5) / DRAWN - 0.5 + launch.bars_px, 2)]
                                for x, y in places]
                        for joint, places in record[name].items()}
    record["size"] = list(SIZE)
    raster = Raster(launch.camera.size_px, light)
    river = River(raster, shot, away)
    for rower in rowers:
        rower.load(raster, t_s)
    # A high side hides feet, seat and, of some, the hips.
    board = []
    if launch.board_m:
        side = mesh.box((-0.4, -0.3 * away, 0.16 + launch.board_m / 2),
                        (6.0, 0.02, launch.board_m + 0.04), linear(paint.rail))
        board = [raster.solid(side)]
    out.mkdir(parents=True, exist_ok=True)
    part = out / f"{launch.stem}.part.avi"
    with Avi(part, launch) as film:
        for i, camera in enumerate(cameras):
            things, options = river.things(float(t_s[i]))
            things += board
            for rower in rowers:
                things += rower.things(i)
            film.add(raster.draw(camera, things, river.backdrop, **options))
    raster.ctx.release()
    part.replace(out / f"{launch.stem}.avi")
    write_truth(out / f"{launch.stem}.truth.json", record)
    return record


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--split", choices=("tune", "report"), required=True)
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    for index in range(args.first, args.first + args.count):
        launch = draw_launch(args.split, index)
        if (args.out / f"{launch.stem}.truth.json").exists():
            continue
        start = time.perf_counter()
        record = make(launch, args.out)
        print(f"{launch.stem}: {len(record['strokes'])} strokes at {record['rate_spm']} a minute, "
              f"{len(record['t_s'])} frames, {time.perf_counter() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
