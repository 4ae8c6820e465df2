"""Faint edges: a bank in haze, which only shows when dark and bright are drawn apart."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from analysis.pose.shoreline import shore_lean
from analysis.pose.straight_edges import straight_edges, stretched

SIZE = 960, 540


def hazy_bank(tilt_deg: float, step: float, seed: int = 0) -> np.ndarray:
    """A bank that falls to the right by `tilt_deg`, water below it, all of it in haze."""
    width, height = SIZE
    y, x = np.mgrid[:height, :width].astype(float)
    above = y < 0.25 * height + math.tan(math.radians(tilt_deg)) * (x - width / 2)
    picture = np.where(above, 120.0 + step, 120.0)
    picture = cv2.GaussianBlur(picture, (0, 0), 0.7)
    noise = np.random.default_rng(seed).normal(0.0, 0.4, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("tilt_deg", [-3.4, 1.5])
def test_a_bank_in_haze_is_found_when_looked_for(tilt_deg: float) -> None:
    pictures = [hazy_bank(tilt_deg, 5.0, seed) for seed in range(3)]
    assert math.isnan(shore_lean(straight_edges(pictures), 0.5)[0])
    found, _ = shore_lean(straight_edges(pictures, faint=True), 0.5)
    assert found == pytest.approx(tilt_deg, abs=0.3)


def test_stretching_is_bounded_and_leaves_clear_pictures_as_they_are() -> None:
    clear = np.tile(np.arange(256, dtype=np.uint8), (4, 1))
    # A hundredth of 256 values at either end is 2 or 3.
    assert np.abs(stretched(clear).astype(int) - clear).max() <= 3
    flat = np.full((20, 30), 90, np.uint8)
    flat[:10] += 4
    assert np.ptp(stretched(flat)) == 12  # three times four
