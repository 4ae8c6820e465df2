"""The models alone, on frames that are decoded and cut out already: nothing can be faster.

Both landmark models run on every frame and the finder of people four times a second, one after
the other on one thread; the finder mostly on small pictures, as in a review of somebody alone. A
review has the landmark models take turns, and looks less at bent legs: what it runs costs half of
theirs at most, and all of the finder's.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

from analysis.clip import Clip
from analysis.pose.landmarkers import CROP_PX, Landmarker, Thunder
from analysis.pose.model_files import ModelFiles, onnx_model
from analysis.pose.people import LARGE_AREA, PeopleFinder, finder_size
from analysis.pose.survey import FINE_EVERY, LOOK_EVERY_S

#: Frames held in memory at once.
BATCH = 300


@dataclass(frozen=True)
class Floor:
    """How long the models run on a clip, s: on every frame, and in turns at every frame."""

    every_frame_s: float
    in_turns_s: float


def floor_seconds(path: Path) -> Floor:
    """Run the models alone on a clip."""
    models = ModelFiles().checked()
    finder, thunder = PeopleFinder(models.multipose), Thunder(onnx_model(models.thunder))
    finding_s, landmarks_s, looked_s = 0.0, 0.0, -1.0
    with Clip(path, thinned=True) as clip, Landmarker(models.landmarker) as landmarker:
        header = clip.header()
        fine = finder_size(header.width_px, header.height_px)
        coarse = finder_size(header.width_px, header.height_px, LARGE_AREA)
        side = min(header.width_px, header.height_px)
        middle = slice((header.width_px - side) // 2, (header.width_px + side) // 2)
        looks = 0
        frames = iter(clip)
        ended = False
        while not ended:
            batch = []
            for frame in frames:
                look = frame.t_s >= looked_s + LOOK_EVERY_S - 1e-6
                looked_s = frame.t_s if look else looked_s
                picture = _small(frame.rgb[:side, middle])
                width, height, scale = coarse if looks % FINE_EVERY else fine
                looks += look
                whole = (frame.scaled(width, height), scale) if look else None
                batch.append((frame.t_s, picture, whole))
                if len(batch) == BATCH:
                    break
            else:
                ended = True
            if landmarks_s == 0.0:  # loading and starting is not counted
                landmarker.run(batch[0][1], 0.0)
                thunder.run(batch[0][1], 0.0)
            start = time.perf_counter()
            for _, _, whole in batch:
                if whole is not None:
                    finder.run(*whole)
            between = time.perf_counter()
            for t_s, picture, _ in batch:
                landmarker.run(picture, t_s + 0.001)
                thunder.run(picture, t_s)
            finding_s += between - start
            landmarks_s += time.perf_counter() - between
    return Floor(finding_s + landmarks_s, finding_s + landmarks_s / 2)


def _small(picture):  # type: ignore[no-untyped-def]
    import cv2

    return cv2.resize(picture, (CROP_PX, CROP_PX), interpolation=cv2.INTER_AREA)
