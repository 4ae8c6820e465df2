"""Hand and limbs followed through frames at which no model looks: made pictures."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.between_looks import Followed, Followers
from analysis.pose.track import HAND_POINTS, LIMB_JOINTS, LIMBS
from tests.pose.test_hand import ELBOW, WRIST, picture

#: px a frame, as the hand of somebody 300 px tall moves at the catch.
WAY = np.array([-1.5, 0.5])
FRAMES = 9


def joints(frame: float) -> np.ndarray:
    """Wrist and elbow of the arm in the picture, the other joints not seen."""
    out = np.full((len(LIMB_JOINTS), 2), np.nan)
    out[LIMB_JOINTS.index("wrist")] = WRIST + frame * WAY
    out[LIMB_JOINTS.index("elbow")] = ELBOW + frame * WAY
    return out


def followed(looks: set[int]) -> list[list[Followed]]:
    """What is given with each frame, and at the end, with looks at some frames only."""
    followers = Followers(1.0)
    given = [
        followers.go_on(n, picture(n * WAY), joints(n) if n in looks else None)
        for n in range(FRAMES)
    ]
    return [*given, followers.rest()]


def test_with_a_look_at_every_frame_nothing_waits() -> None:
    given = followed(set(range(FRAMES)))
    assert [[each.index for each in part] for part in given] == [[n] for n in range(9)] + [[]]


def test_frames_wait_for_the_next_look_and_the_last_ones_for_the_end() -> None:
    given = followed({1, 3, 6})
    told = [[each.index for each in part] for part in given]
    assert told == [[], [0, 1], [], [2, 3], [], [], [4, 5, 6], [], [], [7, 8]]


@pytest.mark.parametrize("looks", [{0, 2, 4, 6, 8}, {0, 3, 6, 8}, {0, 8}])
def test_what_moves_evenly_is_followed_as_with_every_look(looks: set[int]) -> None:
    every = [each for part in followed(set(range(FRAMES))) for each in part]
    some = [each for part in followed(looks) for each in part]
    forearm = list(LIMBS).index("forearm")
    for one, other in zip(every, some, strict=True):
        assert other.joints == pytest.approx(one.joints, abs=1e-9, nan_ok=True)
        assert np.array_equal(other.luma, one.luma)
        if one.index:
            # A tenth of a pixel is what pose/hand.py says of itself.
            assert np.nanmedian(other.hand_moved_px, axis=0) == pytest.approx(WAY, abs=0.1)
            assert abs(other.limb_turned_deg[forearm]) < 0.1  # it moves and does not turn


def test_before_the_first_look_joints_are_where_that_finds_them() -> None:
    given = [each for part in followed({2, 4}) for each in part]
    for each in given[:3]:
        assert each.joints == pytest.approx(joints(2), nan_ok=True)
    for each in given[5:]:
        assert each.joints == pytest.approx(joints(4), nan_ok=True)


def test_without_any_look_nothing_is_told() -> None:
    given = followed(set())[-1]
    assert [each.index for each in given] == list(range(FRAMES))
    for each in given:
        assert np.isnan(each.joints).all() and np.isnan(each.limb_turned_deg).all()
        assert each.hand_moved_px.shape == (HAND_POINTS, 2) and np.isnan(each.hand_moved_px).all()
