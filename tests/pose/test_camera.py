"""Camera: movement found, stillness kept, blur measured on edges of known blur."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from analysis.clip import Clip
from analysis.pose.camera import BackgroundShift, blur_px, moves

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
CLIP = next(iter(sorted(SAMPLES.glob("mira_*_sound.mp4"))), SAMPLES / "missing.mp4")


def wall(seed: int = 0, size: tuple[int, int] = (400, 640)) -> np.ndarray:
    """A textured wall larger than the picture."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(40, 210, (size[0] // 8, size[1] // 8)).astype(np.float32)
    return cv2.GaussianBlur(cv2.resize(coarse, size[::-1]), (0, 0), 1.5)


def view(picture: np.ndarray, x: float, y: float) -> np.ndarray:
    """180×320 part of a picture that has moved by (x, y), sub-pixel."""
    matrix = np.array([[1.0, 0, x - 100], [0, 1, y - 80]])
    return cv2.warpAffine(picture, matrix, (320, 180), flags=cv2.INTER_CUBIC).astype(np.uint8)


def test_pan_is_followed() -> None:
    rng = np.random.default_rng(4)
    path = np.cumsum(rng.normal(0.5, 0.8, (60, 2)), axis=0) * (1, 0.3)
    path -= path[0]
    background, picture = BackgroundShift(3.0), wall()
    found = np.array([background.add(view(picture, *p), []) for p in path])
    # Small pictures are a third of the full size; 0.1 px of theirs is 0.3 px.
    assert found == pytest.approx(3.0 * path, abs=0.5)
    assert moves(found, 960)


def test_still_camera_gathers_no_drift() -> None:
    rng = np.random.default_rng(5)
    background, picture = BackgroundShift(3.0), wall()
    still = view(picture, 0, 0).astype(float)
    noisy = [np.clip(still + rng.normal(0, 4, still.shape), 0, 255) for _ in range(80)]
    found = np.array([background.add(n.astype(np.uint8), []) for n in noisy])
    assert np.abs(found).max() < 0.5
    assert not moves(found, 960)


def test_athlete_does_not_count_as_background() -> None:
    background, picture, body = BackgroundShift(1.0), wall(), wall(9)
    found = []
    for i in range(40):
        frame = view(picture, 0, 0)
        x = 60 + int(60 * np.sin(i / 6))
        frame[30:170, x : x + 120] = body[30:170, 60:180].astype(np.uint8)
        found.append(background.add(frame, [np.array([x, 30.0, x + 120, 170])]))
    assert np.abs(found).max() < 1.0


def test_largest_part_that_moves_as_one_is_followed() -> None:
    """From a launch: the bank passes by, the water goes its own way, no majority anywhere."""
    background, bank, water, hull = BackgroundShift(1.0), wall(11), wall(), wall(12)
    found, path = [], []
    for i in range(50):
        x, y = -1.5 * i + 5 * np.sin(i / 3), 3 * np.sin(i / 2)
        frame = view(bank, x, y)
        frame[110:130] = view(hull, 5 * np.sin(i / 3), y)[110:130]
        frame[130:] = view(water, 2.0 * i, y - i / 2)[130:]
        path.append((x, y))
        found.append(background.add(frame, []))
    assert np.array(found) == pytest.approx(np.array(path) - path[0], abs=1.5)


def test_plain_wall_tells_nothing() -> None:
    background = BackgroundShift(1.0)
    found = np.array([background.add(np.full((180, 320), 90, np.uint8), []) for _ in range(5)])
    assert np.array_equal(found, np.zeros((5, 2)))


@pytest.mark.parametrize("sigma", [0.8, 1.2, 2.0, 3.0])
def test_blur_of_a_known_edge(sigma: float) -> None:
    # A step at 4× size, blurred and averaged down: a step blurred by sigma at full size.
    step = np.full((480, 480), 60, np.float32)
    step[:, 240:] = 190
    soft = cv2.resize(
        cv2.GaussianBlur(step, (0, 0), 4 * sigma), (120, 120), interpolation=cv2.INTER_AREA
    )
    # Averaging over a pixel and the gradient's own smoothing add some to small blurs.
    assert blur_px(soft.astype(np.uint8)) == pytest.approx(np.hypot(sigma, 0.75), rel=0.12)


@pytest.mark.skipif(not CLIP.exists(), reason="the sample clips are not rendered")
def test_blur_does_not_depend_on_where_a_picture_lies_in_memory() -> None:
    """The same clip gives the same number again; in single precision these two frames did not."""
    with Clip(CLIP, to_s=3.6) as clip:
        pictures = [
            f.luma(960, 540) for f in clip if min(abs(f.t_s - 3.0), abs(f.t_s - 3.5)) < 0.01
        ]
    assert len(pictures) == 2
    for picture in pictures:
        seen = set()
        for shift in range(8):
            moved = np.empty(picture.size + shift, np.uint8)[shift:].reshape(picture.shape)
            moved[:] = picture
            seen.add(f"{blur_px(moved[60:500, 200:800]):.9f}")
        assert len(seen) == 1


def test_blur_of_nothing() -> None:
    assert np.isnan(blur_px(np.full((50, 50), 100, np.uint8)))
