"""One clip from its description: body, clothes, technique, place, camera."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from . import gym
from .body import Figure, load_body
from .camera import Camera
from .dress import Look, dress
from .film import Film, Sensor
from .motion import BOAT_SEAT_M, SEAT_TOP_M, Rowing, machine_for
from .raster import Light, Raster
from .technique import Technique, plan_strokes
from .truth import stroke_truth, truth_record, write_truth


@dataclass(frozen=True)
class Athlete:
    """Somebody who rows: body, clothes, technique."""

    figure: Figure = field(default_factory=Figure)
    look: Look = field(default_factory=Look)
    technique: Technique = field(default_factory=Technique)
    first_s: float = 0.5


@dataclass(frozen=True)
class Shot:
    """Everything that defines a clip."""

    stem: str
    athlete: Athlete
    camera: Camera
    planted: tuple[str, ...] = ()
    setting: str = "erg"
    duration_s: float = 9.0
    fps: Fraction = Fraction(30)
    room: gym.Room = field(default_factory=gym.Room)
    light: Light = field(default_factory=Light)
    paint: gym.Paint = field(default_factory=gym.Paint)
    sensor: Sensor = field(default_factory=Sensor)
    beside: tuple[tuple[Athlete, tuple[float, float]], ...] = ()
    walker: tuple[Figure, Look, float, float] | None = None
    shake: float = 0.0
    seed: int = 0
    about: dict[str, object] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The athlete's first name, as the file has it."""
        return self.stem.split("_")[0]


class Rower:
    """An athlete on a machine, ready to be drawn at any time."""

    def __init__(self, athlete: Athlete, duration_s: float, seed: int,
                 paint: gym.Paint, shift=(0.0, 0.0), boat: bool = False):
        rng = np.random.default_rng(seed)
        self.body = load_body(athlete.figure)
        self.machine = machine_for(self.body, BOAT_SEAT_M if boat else SEAT_TOP_M, boat)
        strokes = plan_strokes(athlete.technique, duration_s, rng, athlete.first_s)
        self.rowing = Rowing.prepare(self.body, self.machine, strokes, boat)
        self.paint = paint
        self.shift = np.array([*shift, 0.0])
        self.dressed = dress(self.body, athlete.look, seed)
        self.front_x = 0.0

    def load(self, raster: Raster, t_s: np.ndarray) -> None:
        """Pose all frames and put the shapes on the graphics side."""
        self.pose, self.posture, _ = self.rowing.pose(t_s)
        self.grip = gym.grip_m(self.pose)
        self.front_x = max(0.16, float(self.grip[:, 0].max()) + 0.03)
        rear = float(self.rowing.rear_table[1][-1])
        self.person = raster.figure(self.dressed)
        frame = gym.machine_frame(self.machine, SEAT_TOP_M, rear, self.front_x, self.paint)
        self.frame = raster.solid(frame.moved(shift=self.shift))
        self.seat = raster.solid(gym.seat_mesh(SEAT_TOP_M, self.paint))
        self.handle = raster.solid(gym.handle_mesh(self.paint, self.machine.hand_y_m + 0.05))
        self.port = np.array([self.front_x + 0.05, 0, 0.56])
        self.chain = raster.solid(gym.chain_mesh(self.port, self.grip[0]))

    def things(self, i: int) -> list:
        """What is to be drawn of frame i."""
        transforms = self.pose.skin_transforms(i)
        transforms[:, :, 3] += self.shift.astype("f4")
        self.person.pose(transforms)
        self.seat.place(self.shift + np.array([self.posture.hip_x_m[i], 0, 0]))
        self.handle.place(self.shift + self.grip[i])
        self.chain.replace(gym.chain_mesh(self.port + self.shift, self.grip[i] + self.shift))
        return [self.frame, self.seat, self.handle, self.chain, self.person]


class Hall:
    """A room on land: walls that stay, and a floor that takes shadows."""

    def __init__(self, raster: Raster, shot: Shot, away: float):
        busy = bool(shot.beside) or shot.walker is not None
        deep = shot.room.wall_m if busy else 0.8
        self.floor = raster.solid(gym.floor_mesh(shot.room, away, deep))
        self.backdrop = [raster.solid(gym.room_mesh(shot.room, away))]
        self.floor.casts = False

    def things(self, now_s: float) -> tuple[list, dict]:
        """What is drawn afresh, and how."""
        return [self.floor], {}


def frame_times(shot: Shot) -> np.ndarray:
    """Time of every frame, (T,) s."""
    return np.arange(round(shot.duration_s * float(shot.fps))) / float(shot.fps)


def cameras_of(shot: Shot, t_s: np.ndarray) -> list[Camera]:
    """One camera for the clip, or one a frame if it is held in the hand."""
    if shot.shake <= 0:
        return [shot.camera]
    rng = np.random.default_rng(shot.seed + 77)

    def wander(scale: float) -> np.ndarray:
        total = np.zeros(len(t_s))
        for hz, part in ((0.13, 1.0), (0.37, 0.5), (1.1, 0.16), (2.9, 0.05)):
            total += part * np.sin(2 * np.pi * (hz * t_s + rng.uniform()))
        return scale * shot.shake * total

    x, z, yaw, tilt = wander(0.035), wander(0.02), wander(0.5), wander(0.45)
    return [replace(shot.camera, aim_m=(shot.camera.aim_m[0] + x[i], shot.camera.aim_m[1] + z[i]),
                    yaw_deg=shot.camera.yaw_deg + yaw[i], tilt_deg=shot.camera.tilt_deg + tilt[i])
            for i in range(len(t_s))]


def plan(shot: Shot) -> tuple[Rower, np.ndarray, list[Camera], dict[str, object]]:
    """The rower, frame times, cameras and truth of a clip, before anything is drawn."""
    from .river import Sculler

    t_s = frame_times(shot)
    kind = Sculler if shot.setting == "boat" else Rower
    rower = kind(shot.athlete, shot.duration_s, shot.seed, shot.paint,
                 boat=shot.setting == "boat")
    cameras = cameras_of(shot, t_s)
    strokes = stroke_truth(rower.rowing, float(t_s[-1]), shot.camera.near)
    fps = float(shot.fps)
    record = truth_record(rower.rowing, cameras, t_s, strokes, {
        "clip": shot.stem + ".mp4", "athlete": shot.name, "setting": shot.setting,
        "stage": shot.athlete.technique.stage, "planted": list(shot.planted),
        "fps": int(fps) if fps == int(fps) else round(fps, 3), **shot.about,
    })
    return rower, t_s, cameras, record


def make(shot: Shot, out: Path, every: int = 1) -> dict[str, object]:
    """Render a clip and its truth file into a directory; gives the truth."""
    from .river import River
    from .walker import Walker

    rower, t_s, cameras, record = plan(shot)
    away = 1.0 if shot.camera.near == "R" else -1.0
    key = np.array(shot.light.key_dir)
    light = replace(shot.light, key_dir=(key[0], -away * abs(key[1]), key[2]))
    raster = Raster(shot.camera.size_px, light)
    place = River(raster, shot, away) if shot.setting == "boat" else Hall(raster, shot, away)
    actors = [rower]
    for k, (athlete, (dx, dy)) in enumerate(shot.beside):
        actors.append(Rower(athlete, shot.duration_s, shot.seed + 11 + k, shot.paint,
                            (dx, away * dy)))
    if shot.walker is not None:
        figure, look, depth_m, speed = shot.walker
        actors.append(Walker(figure, look, away * depth_m, speed, shot.seed))
    for actor in actors:
        actor.load(raster, t_s)
    out.mkdir(parents=True, exist_ok=True)
    with Film(out / f"{shot.stem}.mp4", shot.camera.size_px, shot.fps, shot.sensor,
              shot.seed) as film:
        for i in range(0, len(t_s), every):
            things, options = place.things(float(t_s[i]))
            for actor in actors:
                things += actor.things(i)
            camera = cameras[i if len(cameras) > 1 else 0]
            film.add(raster.draw(camera, things, place.backdrop, **options))
    raster.ctx.release()
    write_truth(out / f"{shot.stem}.truth.json", record)
    return record
