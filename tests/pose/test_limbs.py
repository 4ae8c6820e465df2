"""Limbs followed from frame to frame: made pictures, turned by known parts of a degree."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.pose.limbs import LimbFollower
from analysis.pose.track import LIMB_JOINTS, LIMBS

SIZE = 480, 360
#: Joints of somebody who faces right, in the order of ``LIMB_JOINTS``, px: an arm and a leg apart.
AT = {
    "wrist": (300.0, 130.0),
    "elbow": (220.0, 130.0),
    "shoulder": (140.0, 100.0),
    "hip": (140.0, 260.0),
    "knee": (250.0, 200.0),
    "ankle": (330.0, 290.0),
}
JOINTS = np.array([AT[name] for name in LIMB_JOINTS])
FOREARM = list(LIMBS).index("forearm")
REST = [k for k in range(len(LIMBS)) if k != FOREARM]


def texture(seed: int) -> np.ndarray:
    """Something that differs everywhere, as skin and cloth do, blurred as a lens does."""
    rough = np.random.default_rng(seed).uniform(40, 215, SIZE[::-1])
    return cv2.GaussianBlur(rough, (0, 0), 2.0)


ROOM, BODY = texture(1), texture(2)


def turned_about_elbow(angle_deg: float, way: np.ndarray) -> np.ndarray:
    """The affine map that turns clockwise in the picture, then shifts [shape=(2, 3)]."""
    turn = cv2.getRotationMatrix2D(AT["elbow"], -angle_deg, 1.0)
    turn[:, 2] += way
    return turn


def picture(angle_deg: float, way: np.ndarray, size: float = 1.0) -> np.ndarray:
    """A still body in a still room; only the forearm is turned and goes along `way`, px."""
    grey = ROOM.copy()
    for name, (a, b) in LIMBS.items():
        own = np.zeros(SIZE[::-1])
        reach = np.array(AT[b]) + np.array([20.0 if name == "forearm" else 0.0, 0.0])
        cv2.line(own, np.int32(AT[a]).tolist(), np.int32(reach).tolist(), 1.0, 24)
        skin = BODY
        if name == "forearm":
            moved = turned_about_elbow(angle_deg, way)
            own, skin = (cv2.warpAffine(x, moved, SIZE, flags=cv2.INTER_CUBIC) for x in (own, BODY))
        grey = own * skin + (1 - own) * grey
    if size != 1.0:
        grey = cv2.resize(grey, None, fx=size, fy=size, interpolation=cv2.INTER_AREA)
    return np.clip(grey, 0, 255).astype(np.uint8)


def joints(angle_deg: float, way: np.ndarray, off: float = 0.0) -> np.ndarray:
    found = JOINTS.copy()
    hand = [LIMB_JOINTS.index("wrist"), LIMB_JOINTS.index("elbow")]
    found[hand] = (
        found[hand] @ turned_about_elbow(angle_deg, way)[:, :2].T
        + turned_about_elbow(angle_deg, way)[:, 2]
    )
    return found + off


def followed(angles_deg: list[float], size: float = 1.0, off: float = 0.0) -> np.ndarray:
    """Turns told of frames in which the forearm has turned so far, 3 px further on in each."""
    limbs, told = LimbFollower(size), []
    for index, angle in enumerate(angles_deg):
        way = np.array([3.0 * index, 1.0 * index])
        seen = joints(angle, way, off * (index % 2))
        told.append(limbs.turned_deg(picture(angle, way, size), seen))
    return np.array(told)


def test_nothing_is_told_of_the_first_frame() -> None:
    told = followed([0.0, 0.0])
    assert np.isnan(told[0]).all()
    assert np.isfinite(told[1]).all()


@pytest.mark.parametrize("angle_deg", [0.4, -2.0, 5.0, -9.0])
def test_parts_of_a_degree_and_quick_turns_are_told_clockwise_positive(angle_deg: float) -> None:
    told = followed([0.0, angle_deg])[1]
    assert told[FOREARM] == pytest.approx(angle_deg, abs=0.2)
    # The others did not turn, whatever passes by.
    assert told[REST] == pytest.approx(0.0, abs=0.3)


def test_a_picture_made_smaller_tells_the_same_turn() -> None:
    assert followed([0.0, 4.0], size=0.6)[1, FOREARM] == pytest.approx(4.0, abs=0.3)


def test_models_that_take_turns_and_disagree_by_some_pixels_do_no_harm() -> None:
    told = followed([1.5 * k for k in range(6)], off=4.0)
    assert told[1:, FOREARM] == pytest.approx(1.5, abs=0.3)


def test_a_limb_that_no_model_sees_is_not_told_of_and_the_others_are() -> None:
    limbs, gone = LimbFollower(1.0), JOINTS.copy()
    gone[LIMB_JOINTS.index("wrist")] = np.nan
    limbs.turned_deg(picture(0.0, np.zeros(2)), JOINTS)
    told = limbs.turned_deg(picture(0.0, np.zeros(2)), gone)
    assert np.isnan(told[FOREARM])
    assert told[REST] == pytest.approx(0.0, abs=0.1)
    # And the next frame goes on, for what the picture showed is still known.
    told = limbs.turned_deg(picture(2.0, np.zeros(2)), joints(2.0, np.zeros(2)))
    assert told[FOREARM] == pytest.approx(2.0, abs=0.3)


def test_a_limb_of_one_colour_before_a_wall_of_one_colour_is_told_by_its_edges() -> None:
    def plain(angle_deg: float) -> np.ndarray:
        wall, arm = np.full(SIZE[::-1], 180.0), np.zeros(SIZE[::-1])
        cv2.line(arm, np.int32(AT["elbow"]).tolist(), np.int32(AT["wrist"]).tolist(), 1.0, 24)
        arm = cv2.GaussianBlur(arm, (0, 0), 1.0)
        arm = cv2.warpAffine(arm, turned_about_elbow(angle_deg, np.zeros(2)), SIZE)
        return np.clip(wall - 90.0 * arm, 0, 255).astype(np.uint8)

    limbs = LimbFollower(1.0)
    limbs.turned_deg(plain(0.0), JOINTS)
    told = limbs.turned_deg(plain(3.0), joints(3.0, np.zeros(2)))
    assert told[FOREARM] == pytest.approx(3.0, abs=0.3)
    # Where there is nothing at all to be seen, nothing is told.
    assert np.isnan(told[list(LIMBS).index("shank")])


@pytest.mark.parametrize("way", [(1000.0, 0.0), (-1000.0, -50.0), (170.0, 0.0), (-145.0, 90.0)])
def test_limbs_at_or_beyond_the_pictures_edge_are_no_failure(way: tuple[float, float]) -> None:
    limbs, room = LimbFollower(1.0), ROOM.astype(np.uint8)
    for _ in range(2):
        told = limbs.turned_deg(room, JOINTS + np.array(way))
    assert told.shape == (len(LIMBS),)
    # What is told is that nothing moved, for nothing did.
    assert np.nanmax(np.abs(told), initial=0.0) < 0.1
