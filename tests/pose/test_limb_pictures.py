"""Pictures cut along limbs: made pictures whose brightness tells the place it was taken from."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.limb_pictures import limb_pictures, pictured_frames
from analysis.pose.track import LIMB_JOINTS, LIMBS, PICTURED_ACROSS, PICTURED_ALONG

FOREARM = list(LIMBS).index("forearm")
ELBOW, WRIST = np.array([120.0, 150.0]), np.array([180.0, 110.0])


def joints(**known: np.ndarray) -> np.ndarray:
    """Only the given joints are seen."""
    return np.array([known.get(name, np.full(2, np.nan)) for name in LIMB_JOINTS])


def slope(size: tuple[int, int] = (320, 240), scale: float = 1.0) -> np.ndarray:
    """Brightness that rises evenly to the right and down: 0.4 and 0.3 a px of the clip's frame."""
    x, y = np.meshgrid(*(np.arange(round(n * scale)) / scale for n in size))
    return np.uint8(np.rint(0.4 * x + 0.3 * y))


def expected() -> np.ndarray:
    """Brightness at the samples' places: along the way, and across it, clockwise."""
    way = WRIST - ELBOW
    across = np.array([-way[1], way[0]])
    places = ELBOW + PICTURED_ALONG[None, :, None] * way + PICTURED_ACROSS[:, None, None] * across
    return places @ np.array([0.4, 0.3])


@pytest.mark.parametrize("scale", [1.0, 0.75])
def test_a_limb_is_cut_along_its_landmarks(scale: float) -> None:
    grey, ends_px = limb_pictures(slope(scale=scale), joints(elbow=ELBOW, wrist=WRIST), scale)
    # Brightness is in whole steps, which blur and sampling do not take away.
    assert grey[FOREARM] == pytest.approx(expected(), abs=1.5)
    assert ends_px[FOREARM] == pytest.approx(np.array([ELBOW, WRIST]))


def test_what_was_not_seen_is_not_cut() -> None:
    grey, ends_px = limb_pictures(slope(), joints(elbow=ELBOW, wrist=WRIST), 1.0)
    others = [k for k in range(len(LIMBS)) if k != FOREARM]
    assert np.isnan(ends_px[others]).all()
    assert not grey[others].any()


def test_a_limb_too_short_has_no_edges() -> None:
    grey, ends_px = limb_pictures(slope(), joints(elbow=ELBOW, wrist=ELBOW + 5.0), 1.0)
    assert np.isnan(ends_px).all()
    assert not grey.any()


def test_beyond_the_picture_its_edge_goes_on() -> None:
    outside = joints(elbow=np.array([-40.0, 100.0]), wrist=np.array([-100.0, 100.0]))
    grey, _ = limb_pictures(slope(), outside, 1.0)
    assert np.isfinite(grey[FOREARM]).all()
    # All of it lies left of the picture: brightness no longer depends on how far.
    assert np.ptp(grey[FOREARM].astype(int), axis=1).max() <= 1


@pytest.mark.parametrize("fps", [12.0, 25.0, 30.0, 60.0])
def test_a_dozen_pictures_a_second_at_most(fps: float) -> None:
    frames = pictured_frames(np.arange(240) / fps)
    # 0.08 s for each, by exact division.
    assert len(frames) == pytest.approx(min(240.0, 240 / fps / 0.08), abs=1)
    assert frames[0] == 0


def test_of_a_long_clip_no_more_than_of_a_short_one() -> None:
    # 600 of them: memory stays flat.
    frames = pictured_frames(np.arange(18_000) / 30.0)
    assert 590 <= len(frames) <= 601
    assert np.diff(frames).max() <= 31
