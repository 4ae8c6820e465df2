"""The two landmark models, each behind the same call: ``run(square crop, time)``."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from threading import Lock
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray
from analysis.errors import SettingsError
from analysis.pose.model_files import CheckedModel, CheckedModels, PictureModel, onnx_model
from analysis.pose.outline import outline
from analysis.pose.people import COCO_NAMES
from analysis.pose.track import OUTLINE_POINTS

#: Landmarks of the pose landmarker, in its own order.
MEDIAPIPE_NAMES = (
    "nose",
    "left_eye_inner",
    "left_eye",
    "left_eye_outer",
    "right_eye_inner",
    "right_eye",
    "right_eye_outer",
    "left_ear",
    "right_ear",
    "mouth_left",
    "mouth_right",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_pinky",
    "right_pinky",
    "left_index",
    "right_index",
    "left_thumb",
    "right_thumb",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
    "left_heel",
    "right_heel",
    "left_foot_index",
    "right_foot_index",
)

_LIMBS = (
    (11, 13), (13, 15), (15, 19), (11, 23), (23, 25), (25, 27), (27, 29), (27, 31), (29, 31)
)  # fmt: skip
#: Bones by landmark number, both sides: right is one more than left.
_BONES = (
    *((7, 11), (8, 12), (7, 8), (0, 7), (11, 12), (23, 24)),
    *((a + side, b + side) for side in (0, 1) for a, b in _LIMBS),
)
#: How far flesh and hair reach from them, in trunk lengths: 0.5 at the crown on rendered rowers.
_REACH = 0.58
#: The landmarker smooths over time by itself, which delays fast joints by about 12 ms, and more
#: the slower they seem to move. Told that each frame comes so many times later, it smooths nothing:
#: smoothing is the fit's work, which knows the rower.
_SLOWED = 1000.0
#: Side of the square crop that both models get, px.
CROP_PX = 384
_THUNDER_PX = 256
#: Where each of the COCO keypoints is found when left and right are exchanged.
_MIRRORED = [0, *(n + 1 if n % 2 else n - 1 for n in range(1, len(COCO_NAMES)))]


@dataclass(frozen=True)
class Landmarks:
    """One model's answer for one crop, in shares of the crop's side.

    Attributes
    ----------
    xy : array [shape=(K, 2)]
        0…1 from the crop's left and top edge; NaN where the model found nobody.
    score : array [shape=(K,)]
    outline : array [shape=(OUTLINE_POINTS, 2)] or None
        Likewise; None from a model without silhouettes.
    """

    xy: FloatArray
    score: FloatArray
    outline: FloatArray | None = None


@dataclass(frozen=True)
class LandmarkModels:
    """What both models are made from, and the version of every model file by its name."""

    thunder: PictureModel
    landmarker: CheckedModel
    versions: dict[str, str]


def load(models: CheckedModels) -> LandmarkModels:
    """Load both models, as far as it can be done before the clip is looked at."""
    import mediapipe.tasks.python.vision  # noqa: F401

    return LandmarkModels(onnx_model(models.thunder), models.landmarker, models.versions())


class Thunder:
    """MoveNet Thunder: seventeen points of the one person in the crop."""

    name = "thunder"
    names = COCO_NAMES

    def __init__(self, model: PictureModel, *, twice: bool = False) -> None:
        """Make one; with `twice` it looks at the mirrored crop too and takes the mean by score."""
        self._model = model
        self._twice = twice

    def run(self, rgb_crop: NDArray[np.uint8], t_s: float) -> Landmarks:
        """Find the points in a square crop [shape=(N, N, 3), uint8]; `t_s` does not matter."""
        import cv2

        small = cv2.resize(rgb_crop, (_THUNDER_PX, _THUNDER_PX), interpolation=cv2.INTER_AREA)
        points = self._points(small)
        if self._twice:
            other = self._points(small[:, ::-1])[_MIRRORED]
            other[:, 1] = 1.0 - other[:, 1]
            score = np.stack([points[:, 2], other[:, 2]])
            weight = score[0] / np.maximum(score.sum(axis=0), 1e-9)
            points = other + weight[:, None] * (points - other)
            points[:, 2] = score.mean(axis=0)
        return Landmarks(points[:, 1::-1], points[:, 2])

    def _points(self, rgb: NDArray[Any]) -> FloatArray:
        """Y, x and score of all points [shape=(17, 3)]."""
        return np.asarray(self._model.run(rgb)[0, 0], np.float64)


class Landmarker:
    """MediaPipe Pose Landmarker with silhouette; one per clip, fed in order of time.

    Its native code writes to the process's standard error while it starts. That is silenced by
    pointing file descriptor 2 elsewhere until it has found somebody, for the whole process.
    Several may be at work in as many threads.
    """

    name = "mediapipe"
    names = MEDIAPIPE_NAMES

    def __init__(self, model: CheckedModel) -> None:
        self._model = model
        self._native: Any = None
        self._last_ms = -1
        self._settled = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Free the native landmarker."""
        if self._native is not None:
            with _silent_native_code:
                self._native.close()
            self._native = None
            self._settled = False

    def restart(self) -> None:
        """Forget the person followed so far."""
        self.close()

    def run(self, rgb_crop: NDArray[np.uint8], t_s: float) -> Landmarks:
        """Find the points and the outline in a square crop.

        Parameters
        ----------
        rgb_crop : array [shape=(N, N, 3), uint8]
        t_s : float
            Time of the frame, s; must not run back.
        """
        found = self._detect(rgb_crop, t_s)
        if not found.pose_landmarks:
            count = len(self.names)
            return Landmarks(
                np.full((count, 2), np.nan), np.zeros(count), np.full((OUTLINE_POINTS, 2), np.nan)
            )
        points = found.pose_landmarks[0]
        xy = np.array([(p.x, p.y) for p in points], np.float64)
        score = np.array([min(p.visibility, p.presence) for p in points], np.float64)
        mask = found.segmentation_masks[0].numpy_view()
        side = rgb_crop.shape[0]
        near = np.squeeze(mask) * near_skeleton(xy * side - 0.5, side)
        line = (outline(near, xy[[11, 12, 23, 24]] * side - 0.5) + 0.5) / side
        return Landmarks(xy, score, line)

    def _detect(self, rgb_crop: NDArray[np.uint8], t_s: float) -> Any:
        import mediapipe as mp

        image = mp.Image(image_format=mp.ImageFormat.SRGB, data=rgb_crop)
        ms = max(self._last_ms + 1, round(t_s * 1000.0 * _SLOWED))
        self._last_ms = ms
        if self._settled:
            return self._native.detect_for_video(image, ms)
        with _silent_native_code:
            self._native = self._native or self._start()
            found = self._native.detect_for_video(image, ms)
        self._settled = bool(found.pose_landmarks)
        return found

    def _start(self) -> Any:
        from mediapipe.tasks.python import BaseOptions, vision

        options = vision.PoseLandmarkerOptions(
            base_options=BaseOptions(model_asset_path=str(self._model.path)),
            running_mode=vision.RunningMode.VIDEO,
            num_poses=1,
            output_segmentation_masks=True,
        )
        try:
            return vision.PoseLandmarker.create_from_options(options)
        except (RuntimeError, ValueError) as error:
            raise SettingsError(
                f"The model file {self._model.path.name} cannot be loaded; install sideon again."
            ) from error


def near_skeleton(xy: FloatArray, side: int) -> NDArray[np.float32]:
    """Mask [shape=(side, side)] that is 1 within reach of a body's bones, else 0.

    A silhouette that runs on into a rail, a seat or somebody behind is cut off there.

    Parameters
    ----------
    xy : array [shape=(33, 2)]
        Landmarks, px.
    side : int
        Of the crop, px.
    """
    import cv2

    trunk = float(np.linalg.norm(xy[[11, 12]].mean(axis=0) - xy[[23, 24]].mean(axis=0)))
    reach = np.zeros((side, side), np.uint8)
    ends = np.clip(np.rint(xy), -side, 2 * side).astype(int).tolist()
    for a, b in _BONES:
        cv2.line(reach, ends[a], ends[b], 1, max(2 * round(_REACH * trunk), 1))
    return reach.astype(np.float32)


class _Silence:
    """Sends what native code writes to file descriptor 2 nowhere, for as long as anybody asks."""

    def __init__(self) -> None:
        self._lock, self._asking, self._kept = Lock(), 0, -1

    def __enter__(self) -> None:
        with self._lock:
            self._asking += 1
            if self._asking > 1:
                return
            sys.stderr.flush()
            try:
                self._kept = os.dup(2)
            except OSError:  # no standard error at all: nothing to silence
                return
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 2)
            os.close(nowhere)

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._asking -= 1
            if self._asking == 0 and self._kept >= 0:
                os.dup2(self._kept, 2)
                os.close(self._kept)
                self._kept = -1


_silent_native_code = _Silence()
