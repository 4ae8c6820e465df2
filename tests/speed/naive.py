"""The loop that somebody writes first: one frame after the other, every model with its defaults.

It is what a review is compared with, so it is written as an able user would write it, and no
slower: frames are decoded by OpenCV's own threads, ONNX Runtime keeps its default threads.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from analysis.pose.model_files import ModelFiles

#: Pairs of Thunder's points that are joined in the picture.
BONES = ((5, 7), (7, 9), (6, 8), (8, 10), (5, 11), (6, 12), (11, 13), (13, 15), (12, 14), (14, 16))


def naive_loop(clip: Path, out: Path, threads: int = 0) -> int:
    """Read, run both landmark models with silhouettes, draw, write; return how many frames.

    `threads` is ONNX Runtime's number of threads; 0 is its default, all cores.
    """
    import cv2
    import mediapipe as mp
    import onnxruntime
    from mediapipe.tasks.python import BaseOptions, vision

    models = ModelFiles().checked()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    thunder = onnxruntime.InferenceSession(
        str(models.thunder.path), options, providers=["CPUExecutionProvider"]
    )
    entry = thunder.get_inputs()[0].name
    landmarker = vision.PoseLandmarker.create_from_options(
        vision.PoseLandmarkerOptions(
            base_options=BaseOptions(model_asset_path=str(models.landmarker.path)),
            running_mode=vision.RunningMode.VIDEO,
            output_segmentation_masks=True,
        )
    )
    reader: Any = cv2.VideoCapture(str(clip))
    fps = reader.get(cv2.CAP_PROP_FPS)
    size = (
        int(reader.get(cv2.CAP_PROP_FRAME_WIDTH)),
        int(reader.get(cv2.CAP_PROP_FRAME_HEIGHT)),
    )
    writer = cv2.VideoWriter(str(out), cv2.VideoWriter.fourcc(*"mp4v"), fps, size)
    count = 0
    while True:
        there, bgr = reader.read()
        if not there:
            break
        rgb = cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB)
        found = landmarker.detect_for_video(
            mp.Image(image_format=mp.ImageFormat.SRGB, data=rgb), round(count * 1000 / fps)
        )
        small = cv2.resize(rgb, (256, 256), interpolation=cv2.INTER_AREA)
        points = thunder.run(None, {entry: small[None]})[0][0, 0]
        _draw(cv2, bgr, found, points, size)
        writer.write(bgr)
        count += 1
    reader.release()
    writer.release()
    landmarker.close()
    return count


def _draw(cv2: Any, bgr: Any, found: Any, points: Any, size: tuple[int, int]) -> None:
    width, height = size
    if found.segmentation_masks:
        body = np.squeeze(found.segmentation_masks[0].numpy_view()) > 0.5
        lines, _ = cv2.findContours(
            body.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE
        )
        cv2.drawContours(bgr, lines, -1, (0, 200, 0), 2)
    for people in found.pose_landmarks:
        for point in people:
            cv2.circle(bgr, (int(point.x * width), int(point.y * height)), 3, (0, 0, 255), -1)
    places = [(int(x * width), int(y * height)) for y, x, _ in points]
    for a, b in BONES:
        cv2.line(bgr, places[a], places[b], (255, 0, 0), 2)
