"""The finer landmark model on its own, on a picture of a rendered rower."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.clip import Clip
from analysis.pose.crop import cut
from analysis.pose.landmarkers import Thunder
from analysis.pose.model_files import ModelFiles, onnx_model
from analysis.pose.people import COCO_NAMES
from tests.rendered_truth import read_truth

CLIP = Path(__file__).parents[2] / "sample_clips" / "mira_2026-05-09_sound.mp4"


@pytest.fixture(scope="module")
def crop() -> tuple[np.ndarray, np.ndarray]:
    """The rower at the first frame, and the true near joints in shares of the crop."""
    truth = read_truth(CLIP.with_suffix(".truth.json"))
    joints = np.array([truth.joints_px[name][0] for name in ("shoulder", "hip", "knee")])
    left, top, side = *(joints.mean(axis=0) - 230.0), 460.0
    with Clip(CLIP, to_s=2.0) as clip:
        picture = next(iter(clip)).rgb
    return cut(picture, (left, top, side), 384), (joints + 0.5 - (left, top)) / side


def swapped(points: np.ndarray) -> np.ndarray:
    """The same points with left and right exchanged by name."""
    other = {"left": "right", "right": "left"}
    order = []
    for name in COCO_NAMES:
        side, _, part = name.partition("_")
        order.append(COCO_NAMES.index(f"{other[side]}_{part}" if part else name))
    return points[order]


def test_twice_is_the_same_for_a_picture_and_its_mirror_image(crop) -> None:
    picture, _ = crop
    thunder = Thunder(onnx_model(ModelFiles().checked().thunder), twice=True)
    plain = thunder.run(picture, 0.0)
    mirrored = thunder.run(np.ascontiguousarray(picture[:, ::-1]), 0.0)
    xy = swapped(mirrored.xy)
    assert np.column_stack([1 - xy[:, 0], xy[:, 1]]) == pytest.approx(plain.xy, abs=1e-6)
    assert swapped(mirrored.score) == pytest.approx(plain.score, abs=1e-6)


def test_once_and_twice_find_the_rower(crop) -> None:
    picture, true = crop
    for twice in (False, True):
        found = Thunder(onnx_model(ModelFiles().checked().thunder), twice=twice).run(picture, 0.0)
        near = found.xy[[COCO_NAMES.index(f"right_{n}") for n in ("shoulder", "hip", "knee")]]
        # Within a tenth of the crop: the models err by some px (README.md), not by a limb.
        assert np.abs(near - true).max() < 0.1
