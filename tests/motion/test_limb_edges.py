"""Which way limbs lie by their edges: made limbs off their landmarks by known degrees."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.bends import GROUPS
from analysis.motion.learned import shipped
from analysis.motion.limb_edges import TOLD, bend_deg, edges_told, off_edges_deg
from analysis.pose.track import LIMBS, Facing
from tests.motion.made_limbs import MadeLimbs, made_limbs

FOREARM, SHANK = (list(LIMBS).index(name) for name in ("forearm", "shank"))
#: Where the pair's slope stands in what is told, after the constant in the weights.
PAIR = 4


def trusting(limb: str, share: float = 1.0) -> dict[str, np.ndarray]:
    """Weights that turn a limb by what its two edges, as a pair, tell."""
    weights = np.zeros((GROUPS, 1 + TOLD))
    weights[:, 1 + PAIR] = share
    return {limb: weights}


def off_of(made: MadeLimbs, weights: dict[str, np.ndarray]) -> np.ndarray:
    return off_edges_deg(made.pose, made.ends, made.ends_px, weights)


@pytest.mark.parametrize("facing", ["right", "left"])
@pytest.mark.parametrize("off_deg", [-3.0, 0.0, 2.0])
@pytest.mark.parametrize("light", [30.0, 220.0])
def test_edges_tell_how_far_a_limb_lies_off(facing: Facing, off_deg: float, light: float) -> None:
    made = made_limbs(off_deg=off_deg, facing=facing, light=light)
    off = off_of(made, trusting("forearm"))
    # Clockwise in the picture: of who faces left the other way round.
    sense = 1.0 if facing == "right" else -1.0
    # The pair's slope is drawn a little towards none, as a limb is seldom far off.
    assert off[:, FOREARM] == pytest.approx(sense * off_deg, abs=0.7)
    assert np.ptp(off[:, FOREARM]) == pytest.approx(0.0)


def test_only_limbs_with_weights_are_turned() -> None:
    off = off_of(made_limbs(off_deg=3.0), trusting("shank"))
    others = [k for k in range(len(LIMBS)) if k != SHANK]
    assert not off[:, others].any()
    assert off[:, SHANK] == pytest.approx(3.0, abs=0.7)


def test_an_upper_arm_is_never_turned() -> None:
    # Shirt and trunk hide it: weights or not.
    assert not off_of(made_limbs(off_deg=3.0), trusting("upper_arm")).any()


def test_too_few_pictures_tell_nothing() -> None:
    assert not off_of(made_limbs(off_deg=3.0, frames=5), trusting("forearm")).any()


def test_without_pictures_nothing_is_told() -> None:
    made = made_limbs(off_deg=3.0)
    made.pose.pictured_ends_px[:] = np.nan
    assert not off_of(made, trusting("forearm")).any()


def test_no_limb_is_turned_by_more_than_four_degrees() -> None:
    off = off_of(made_limbs(off_deg=5.0), trusting("forearm", share=10.0))
    assert off[:, FOREARM] == pytest.approx(4.0)


def test_bent_limbs_are_looked_at_by_themselves() -> None:
    made = made_limbs(off_deg=2.0, frames=40, bends=(80.0, 175.0))
    weights = trusting("forearm")
    weights["forearm"][0] = 0.0  # nothing is believed of bent arms
    off = off_of(made, weights)[:, FOREARM]
    assert off[0::2] == pytest.approx(0.0)
    assert off[1::2] == pytest.approx(2.0, abs=0.7)


def test_weights_of_another_shape_are_refused() -> None:
    with pytest.raises(ValueError, match="weights of forearm"):
        off_of(made_limbs(), {"forearm": np.zeros((2, 1 + TOLD))})


def test_width_and_place_are_told_in_hundredths_of_the_length() -> None:
    made = made_limbs()
    (each,) = edges_told(made.pose, made.ends, made.ends_px, FOREARM)
    assert each.group.frames.all()
    assert each.group.bend_deg == pytest.approx(170.0)
    upper_slope, upper, lower_slope, lower, slope, off, half = each.told
    # The bar is drawn 0.15 lengths to each side, a third narrower at its second end than its first:
    # each edge runs inwards by 0.4 of 0.15 in 1.2 lengths, 2.9°.
    assert (upper, lower) == pytest.approx((-15.0, 15.0), abs=2.0)
    assert (upper_slope, lower_slope) == pytest.approx((2.9, -2.9), abs=1.5)
    assert (slope, off, half) == pytest.approx((0.0, 0.0, 15.0), abs=1.0)


def test_bends_are_those_of_elbow_and_knee() -> None:
    made = made_limbs(frames=6, bends=(120.0,))
    bends = bend_deg(made.ends)
    assert bends["arm"] == pytest.approx(120.0)
    assert bends["leg"] == pytest.approx(120.0)


def test_what_ships_tells_of_forearm_thigh_and_shank() -> None:
    edges = shipped().edges
    assert sorted(edges) == ["forearm", "shank", "thigh"]
    for weights in edges.values():
        assert weights.shape == (GROUPS, 1 + TOLD)
    # A pair of edges that slopes clockwise never speaks for a limb that lies the other way.
    assert (np.array([weights[:, 1 + PAIR] for weights in edges.values()]) > -0.2).all()
