"""People in single pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.pose.model_files import CheckedModel, onnx_model

#: The seventeen COCO keypoints, in the order in which MoveNet gives them.
COCO_NAMES = (
    "nose",
    "left_eye",
    "right_eye",
    "left_ear",
    "right_ear",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
)
SHOULDERS, ELBOWS, WRISTS = [5, 6], [7, 8], [9, 10]
HIPS, KNEES, ANKLES = [11, 12], [13, 14], [15, 16]
TORSO = SHOULDERS + HIPS

#: Size of the finder's input: 512×288 for 16:9, the same area for other shapes.
INPUT_AREA = 512 * 288
#: The same for somebody large: half the work, and points 0.05 trunk lengths away as a rule.
LARGE_AREA = 352 * 192
#: The finder names no more people in one picture.
MOST_AT_ONCE = 6
#: Detections below this are noise, also in a track.
MIN_CONFIDENCE = 0.12


@dataclass(frozen=True)
class Person:
    """One person in one picture.

    Attributes
    ----------
    box_px : array [shape=(4,)]
        Left, top, right, bottom, px.
    xy_px : array [shape=(17, 2)]
        COCO keypoints, px.
    score : array [shape=(17,)]
    confidence : float
    colour : array [shape=(3,)]
        Median red, green, blue of the trunk, 0…255: what they wear.
    """

    box_px: FloatArray
    xy_px: FloatArray
    score: FloatArray
    confidence: float
    colour: FloatArray = field(default_factory=lambda: np.full(3, np.nan))

    def moved(self, x_px: float, y_px: float) -> Person:
        """Return the same person, further right and down."""
        by = np.array([x_px, y_px])
        return replace(self, box_px=self.box_px + np.tile(by, 2), xy_px=self.xy_px + by)


class PeopleFinder:
    """MoveNet multipose: up to six people in a picture."""

    def __init__(self, model: CheckedModel) -> None:
        self._model = onnx_model(model)

    def run(self, rgb: NDArray[np.uint8], scale: float) -> list[Person]:
        """Find people.

        Parameters
        ----------
        rgb : array [shape=(h, w, 3), uint8]
            The picture at `finder_size`.
        scale : float
            Full-size px per px of `rgb`.

        Returns
        -------
        list of Person
            In full-size px, surest first, doubles removed.
        """
        height, width = rgb.shape[:2]
        padded = np.zeros((-(-height // 32) * 32, -(-width // 32) * 32, 3), np.uint8)
        padded[:height, :width] = rgb
        out = self._model.run(padded)[0].astype(np.float64)
        size = np.array([padded.shape[1], padded.shape[0]]) * scale
        people = []
        for row in sorted(out, key=lambda r: -r[55]):
            if row[55] < MIN_CONFIDENCE:
                break
            points = row[:51].reshape(17, 3)
            box = row[[52, 51, 54, 53]] * np.tile(size, 2)
            xy = points[:, 1::-1] * size
            worn = trunk_colour(rgb, xy / scale)
            people.append(Person(box, xy, points[:, 2], float(row[55]), worn))
        return without_doubles(people)


def finder_size(width_px: int, height_px: int, area: int = INPUT_AREA) -> tuple[int, int, float]:
    """Return width and height to scale a picture to for finding people, and px per px."""
    scale = float(np.sqrt(area / (width_px * height_px)))
    width = max(32, round(width_px * scale))
    height = max(32, round(height_px * scale))
    # One full row of 32 saved is worth a slightly smaller picture.
    shrink = min(
        max(32, width // 32 * 32) / width if width % 32 < 8 else 1.0,
        max(32, height // 32 * 32) / height if height % 32 < 8 else 1.0,
    )
    width, height = max(32, round(width * shrink)), max(32, round(height * shrink))
    return width, height, width_px / width


def without_doubles(people: Sequence[Person]) -> list[Person]:
    """Drop weaker detections of the same body: torso points all but coincide."""
    kept: list[Person] = []
    for person in people:
        size = max(trunk_length(person.xy_px), 1.0)
        away = [
            np.mean(np.linalg.norm(person.xy_px[TORSO] - other.xy_px[TORSO], axis=1)) / size
            for other in kept
        ]
        if not away or min(away) > 0.35:
            kept.append(person)
    return kept


def trunk_colour(rgb: NDArray[np.uint8], xy: FloatArray) -> FloatArray:
    """Median colour [shape=(3,)] of a picture along the lines from shoulders to hips.

    Parameters
    ----------
    rgb : array [shape=(h, w, 3), uint8]
    xy : array [shape=(17, 2)]
        Keypoints, px of `rgb`.
    """
    shoulders, hips = xy[SHOULDERS], xy[HIPS]
    tops = np.vstack([shoulders, shoulders.mean(axis=0)])
    ends = np.vstack([hips, hips.mean(axis=0)])
    along = np.array([0.25, 0.4, 0.55, 0.7])[:, None, None]
    points = np.rint(tops + along * (ends - tops)).astype(int).reshape(-1, 2)
    x = np.clip(points[:, 0], 0, rgb.shape[1] - 1)
    y = np.clip(points[:, 1], 0, rgb.shape[0] - 1)
    return np.asarray(np.median(rgb[y, x].astype(np.float64), axis=0))


def trunk_length(xy_px: FloatArray) -> float:
    """Distance from mid-hip to mid-shoulder of one person's keypoints [shape=(17, 2)]."""
    return float(np.linalg.norm(xy_px[SHOULDERS].mean(axis=0) - xy_px[HIPS].mean(axis=0)))


def boxes_meet(a: FloatArray, b: FloatArray) -> BoolArray:
    """Tell where two people's boxes [shape=(S, 4)] cover a part of each other [shape=(S,)].

    Nowhere where one of them is not seen (NaN).
    """
    return np.asarray(np.all((a[:, :2] < b[:, 2:]) & (a[:, 2:] > b[:, :2]), axis=1))


def overlap(a: FloatArray, b: FloatArray) -> float:
    """Share of the smaller of two boxes [shape=(4,)] that the other covers, 0…1."""
    wide = max(0.0, min(a[2], b[2]) - max(a[0], b[0]))
    high = max(0.0, min(a[3], b[3]) - max(a[1], b[1]))
    smaller = min((a[2] - a[0]) * (a[3] - a[1]), (b[2] - b[0]) * (b[3] - b[1]))
    return float(wide * high / smaller) if smaller > 0 else 0.0
