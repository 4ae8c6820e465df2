"""What a build tells. Bodies are made here: expected values follow from how they are made."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.bends import FINER, PART_OF
from analysis.motion.build import (
    TOLD,
    BuildWeights,
    build_told,
    off_build_deg,
    standing_out,
)
from analysis.motion.edges import Silhouette
from analysis.motion.learned import shipped
from analysis.motion.motion import SEGMENTS
from analysis.motion.rules import FITTED
from analysis.pose.track import Facing
from tests.motion.made_rower import FOREARM, SHANK, THIGH, TRUNK, UPPER_ARM, planar_rower

LENGTHS = {
    "upper_arm": UPPER_ARM,
    "forearm": FOREARM,
    "trunk": TRUNK,
    "thigh": THIGH,
    "shank": SHANK,
}
#: Where outline distances at the trunk begin in what is told: after four proportions.
AT_TRUNK = 4
TRUNK_AT = list(SEGMENTS).index("trunk")


def sitting(frames: int = 8) -> np.ndarray:
    """Somebody upright with legs and arms straight ahead [shape=(T, 6, 2)]: all at rest."""
    at = {
        "hip": (0.0, 0.0),
        "shoulder": (0.0, TRUNK),
        "elbow": (UPPER_ARM, TRUNK),
        "wrist": (UPPER_ARM + FOREARM, TRUNK),
        "knee": (THIGH, 0.0),
        "ankle": (THIGH + SHANK, 0.0),
    }
    return np.tile(np.array([at[joint] for joint in FITTED]), (frames, 1, 1))


def column(rear: float, front: float, frames: int = 8, nearer: float = 0.0) -> Silhouette:
    """An outline that stands so far behind and before the trunk, px, all the way up."""
    low, high = -30.0, 1.2 * TRUNK
    corners = np.array([[-rear, low], [front, low], [front, high], [-rear, high]])
    return Silhouette(
        np.arange(frames),
        np.tile(corners, (frames, 1, 1)) / (1.0 - nearer),
        np.full((frames, len(FITTED)), nearer),
        np.zeros((frames, 2)),
    )


def weights(by: dict[str, tuple[float, float]]) -> BuildWeights:
    """Segment → (turn whatever the build, turn per scatter of what is told first)."""
    turn = {}
    for name, (always, first) in by.items():
        turn[name] = np.zeros((len(FINER[PART_OF[name]]), 1 + TOLD))
        turn[name][:, 0], turn[name][:, 1] = always, first
    return BuildWeights(np.zeros(TOLD), np.ones(TOLD), turn)


def test_proportions_are_shares_of_the_trunk() -> None:
    told = build_told(sitting(), LENGTHS, column(20.0, 30.0))
    assert told.shape == (TOLD,)
    assert told[:AT_TRUNK] == pytest.approx(
        [UPPER_ARM / TRUNK, FOREARM / TRUNK, THIGH / TRUNK, SHANK / TRUNK]
    )


@pytest.mark.parametrize("nearer", [0.0, 0.1])
def test_outline_is_told_on_either_side_of_the_trunk(nearer: float) -> None:
    # Whoever sits nearer than the middle plane is seen larger, and is told the same.
    told = build_told(sitting(), LENGTHS, column(22.0, 33.0, nearer=nearer))
    # Left of the way from hip to shoulder is the rear, at both heights.
    assert told[AT_TRUNK : AT_TRUNK + 4] == pytest.approx(
        [22.0 / TRUNK, 33.0 / TRUNK, 22.0 / TRUNK, 33.0 / TRUNK]
    )


def test_what_the_outline_does_not_show_is_not_told() -> None:
    told = build_told(sitting(), LENGTHS, column(22.0, 33.0))
    # Nobody's legs are folded here, so that the last places of thigh and shank are unknown.
    assert np.isnan(told[-4:]).all()
    few = build_told(sitting(3), LENGTHS, column(22.0, 33.0, frames=3))
    assert np.isfinite(few[:AT_TRUNK]).all() and np.isnan(few[AT_TRUNK:]).all()


def test_bent_arms_hide_the_trunk() -> None:
    place = sitting()
    wrist, elbow = FITTED.index("wrist"), FITTED.index("elbow")
    place[:, wrist] = place[:, elbow] - (0.0, FOREARM)
    told = build_told(place, LENGTHS, column(22.0, 33.0))
    assert np.isnan(told[AT_TRUNK : AT_TRUNK + 4]).all()


def test_unusual_is_told_in_scatters_and_three_at_most() -> None:
    told = np.array([1.2, 0.0, 9.0, -9.0, np.nan])
    found = standing_out(told, np.full(5, 1.0), np.full(5, 0.1))
    assert found == pytest.approx([2.0, -3.0, 3.0, -3.0, 0.0])


@pytest.mark.parametrize(("facing", "sense"), [("right", 1.0), ("left", -1.0)])
def test_segments_are_turned_by_weighed_departures(facing: Facing, sense: float) -> None:
    told = np.full(TOLD, np.nan)
    told[0] = 2.0
    off = off_build_deg(sitting(), told, weights({"trunk": (0.5, 0.6)}), facing)
    assert off.shape == (8, len(SEGMENTS))
    assert off[:, TRUNK_AT] == pytest.approx(sense * (0.5 + 2 * 0.6))
    # Nothing is said of segments without weights.
    assert np.isnan(np.delete(off, TRUNK_AT, axis=1)).all()


def test_a_few_frames_are_not_turned() -> None:
    off = off_build_deg(sitting(5), np.zeros(TOLD), weights({"trunk": (1.0, 0.0)}), "right")
    assert np.isnan(off).all()


def test_weights_of_another_shape_are_refused() -> None:
    wrong = BuildWeights(np.zeros(TOLD), np.ones(TOLD), {"trunk": np.zeros((2, 1 + TOLD))})
    with pytest.raises(ValueError, match="weights of trunk"):
        off_build_deg(sitting(), np.zeros(TOLD), wrong, "right")


def test_what_ships_turns_every_segment_and_a_usual_build_by_little() -> None:
    build = shipped().build
    assert set(build.turn) == set(SEGMENTS)
    assert (build.scatter > 0).all()
    off = off_build_deg(planar_rower(np.arange(0, 5, 0.04)), build.usual, build, "right")
    # What is left of a usual build is what all fits are off by: learned without builds, it is less
    # than the 1.6° that segments are off on the mean (printed by learn_build.py).
    assert np.abs(off).max() < 1.6
