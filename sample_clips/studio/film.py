"""Turns rendered pictures into something a phone might have recorded."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np


@dataclass(frozen=True)
class Sensor:
    """A phone's camera: noise (of 255), softness (px), contrast, brightness (1 = as rendered)."""

    noise: float = 2.5
    soft_px: float = 0.55
    contrast: float = 1.0
    brightness: float = 1.0
    warmth: float = 0.0
    crf: int = 23


class Film:
    """Writes frames to an H.264 file; use as a context manager."""

    def __init__(self, path: Path, size_px: tuple[int, int], fps: Fraction, sensor: Sensor,
                 seed: int):
        self.path, self.size, self.fps, self.sensor = Path(path), size_px, fps, sensor
        self.rng = np.random.default_rng(seed)
        w, h = size_px
        # Drawing noise afresh for every frame is slow; shifting one large field is as good.
        fine = self.rng.normal(0, 1, (h + 64, w + 64, 3)).astype("f4")
        shared = self.rng.normal(0, 1, (h + 64, w + 64, 1)).astype("f4")
        self.field = sensor.noise * (cv2.GaussianBlur(fine, (0, 0), 0.6) + 0.8 * shared)
        yy, xx = np.mgrid[0:h, 0:w]
        r2 = ((xx - w / 2) / (w / 2)) ** 2 + ((yy - h / 2) / (h / 2)) ** 2
        tint = np.array([1 + sensor.warmth, 1.0, 1 - sensor.warmth])
        shine = sensor.brightness * (1 - 0.07 * r2)[..., None] * tint
        self.gain = (sensor.contrast * shine).astype("f4")
        self.offset = (118.0 * (1 - sensor.contrast) * shine).astype("f4")

    def __enter__(self) -> Film:
        self.scratch = self.path.with_suffix(".part.mp4")
        self.container = av.open(str(self.scratch), "w", options={"movflags": "+faststart"})
        self.stream = self.container.add_stream("libx264", rate=self.fps)
        self.stream.width, self.stream.height = self.size
        self.stream.pix_fmt = "yuv420p"
        self.stream.time_base = 1 / self.fps
        self.stream.options = {"crf": str(self.sensor.crf), "preset": "medium",
                               "threads": "1", "g": "48"}
        self.count = 0
        return self

    def add(self, picture: np.ndarray) -> None:
        """Append a picture (height, width, 3) uint8 RGB."""
        s = self.sensor
        f = picture.astype("f4")
        if s.soft_px > 0:
            f = cv2.GaussianBlur(f, (0, 0), s.soft_px)
        f = cv2.multiply(f, self.gain, dst=f)
        f += self.offset
        h, w = f.shape[:2]
        j, i = self.rng.integers(0, 64, 2)
        f += self.field[j:j + h, i:i + w] * (1.2 - f / 510.0)  # more noise in the dark
        frame = av.VideoFrame.from_ndarray(cv2.convertScaleAbs(cv2.max(f, 0.0)), "rgb24")
        frame.pts = self.count
        frame.time_base = 1 / self.fps
        self.count += 1
        for packet in self.stream.encode(frame):
            self.container.mux(packet)

    def __exit__(self, kind, value, trace) -> None:
        if kind is None:
            for packet in self.stream.encode():
                self.container.mux(packet)
        self.container.close()
        if kind is None:
            self.scratch.replace(self.path)
        else:
            self.scratch.unlink(missing_ok=True)
