"""A hand followed from frame to frame: made pictures, moved by known parts of a pixel."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.pose.hand import HandFollower, points_on_hand
from analysis.pose.track import HAND_POINTS

#: A forearm of 60 px that points right, as at the catch of somebody facing right.
ELBOW, WRIST = np.array([100.0, 120.0]), np.array([160.0, 120.0])
SIZE = 320, 240


def texture(seed: int, width: int, height: int) -> np.ndarray:
    """Something that differs everywhere, as skin and cloth do, blurred as a lens does."""
    rough = np.random.default_rng(seed).uniform(40, 215, (height, width))
    return cv2.GaussianBlur(rough, (0, 0), 1.5)


ROOM = texture(1, *SIZE)
ARM = texture(2, *SIZE)


def picture(hand_at: np.ndarray, size: float = 1.0) -> np.ndarray:
    """A still room in front of which an arm is moved by `hand_at` [shape=(2,)], px."""
    moved = np.float32([[1, 0, hand_at[0]], [0, 1, hand_at[1]]])
    arm = cv2.warpAffine(ARM, moved, SIZE, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    own = np.zeros(SIZE[::-1])
    cv2.rectangle(own, (60, 104), (198, 136), 1.0, -1)
    own = cv2.warpAffine(own, moved, SIZE)
    grey = own * arm + (1 - own) * ROOM
    if size != 1.0:
        grey = cv2.resize(grey, None, fx=size, fy=size, interpolation=cv2.INTER_AREA)
    return np.clip(grey, 0, 255).astype(np.uint8)


def arm(way: np.ndarray) -> np.ndarray:
    return np.array([WRIST + way, ELBOW + way])


def followed(ways: list[tuple[float, float]], size: float = 1.0) -> list[np.ndarray]:
    hand = HandFollower(size)
    return [hand.moved(picture(np.array(way), size), arm(np.array(way))) for way in ways]


def test_nothing_is_told_of_the_first_frame() -> None:
    first, then = followed([(0.0, 0.0), (0.0, 0.0)])
    assert first.shape == (HAND_POINTS, 2) and np.isnan(first).all()
    assert np.isfinite(then).all()


@pytest.mark.parametrize("way", [(0.3, 0.0), (-1.6, 0.4), (4.7, -1.2), (-14.0, 2.0)])
def test_parts_of_a_pixel_and_long_ways_are_told(way: tuple[float, float]) -> None:
    moved = followed([(0.0, 0.0), way])[1]
    assert np.isfinite(moved).all(axis=1).mean() > 0.5
    # A tenth of a pixel is what the module says of itself.
    assert np.nanmedian(moved, axis=0) == pytest.approx(way, abs=0.1)


def test_a_picture_made_smaller_tells_the_same_way_in_the_clips_pixels() -> None:
    moved = followed([(0.0, 0.0), (3.0, 1.0)], size=0.5)[1]
    assert np.nanmedian(moved, axis=0) == pytest.approx((3.0, 1.0), abs=0.2)


def test_models_that_take_turns_and_disagree_by_some_pixels_do_no_harm() -> None:
    hand, moved = HandFollower(1.0), []
    for index in range(6):
        way = np.array([1.5 * index, 0.0])
        off = np.array([4.0, -3.0]) * (index % 2)
        moved.append(hand.moved(picture(way), arm(way + off)))
    for each in moved[1:]:
        assert np.nanmedian(each, axis=0) == pytest.approx((1.5, 0.0), abs=0.1)


def test_a_frame_in_which_no_model_sees_the_arm_tells_nothing_and_the_next_goes_on() -> None:
    hand, gone = HandFollower(1.0), np.full((2, 2), np.nan)
    hand.moved(picture(np.zeros(2)), arm(np.zeros(2)))
    assert np.isnan(hand.moved(picture(np.array([2.0, 0.0])), gone)).all()
    way = np.array([4.0, 0.0])
    moved = hand.moved(picture(way), arm(way))
    assert np.nanmedian(moved, axis=0) == pytest.approx((2.0, 0.0), abs=0.1)


@pytest.mark.parametrize("wrist", [(318.0, 120.0), (2.0, 2.0), (400.0, 300.0), (-90.0, 120.0)])
def test_a_hand_at_or_beyond_the_pictures_edge_is_no_failure(wrist: tuple[float, float]) -> None:
    hand = HandFollower(1.0)
    for _ in range(2):
        moved = hand.moved(ROOM_PICTURE, np.array([wrist, np.array(wrist) - [60.0, 0.0]]))
    assert moved.shape == (HAND_POINTS, 2)
    # What is told is that nothing moved, for nothing did.
    assert np.nanmax(np.abs(moved), initial=0.0) < 0.1


ROOM_PICTURE = ROOM.astype(np.uint8)


def test_points_lie_on_the_hand_beyond_the_wrist() -> None:
    points = points_on_hand(WRIST, WRIST - ELBOW) - WRIST
    assert len(points) == HAND_POINTS
    assert points[:, 0].min() == pytest.approx(0.0) and points[:, 0].max() == pytest.approx(30.0)
    # A hand is about half as wide as half a forearm is long: no point lies beside it.
    assert np.abs(points[:, 1]).max() < 0.15 * 60.0
