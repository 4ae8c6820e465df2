"""Which way limbs lie by their looks: made limbs off their landmarks by known degrees."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.motion.bends import limbs_bend_deg
from analysis.motion.learned import shipped
from analysis.motion.limb_looks import LimbNets, agreed_deg, off_looks_deg
from analysis.motion.small_net import SmallNet
from analysis.pose.track import LIMBS, Facing
from tests.motion.made_limbs import MadeLimbs, made_limbs
from tests.motion.made_net import any_net

FOREARM, SHANK = (list(LIMBS).index(name) for name in ("forearm", "shank"))


def saying(deg: float, by_bend: float = 0.0) -> SmallNet:
    """A network that tells so many degrees, and more for every 40° that a joint opens past 120."""
    net = any_net()
    told = np.zeros_like(net.told)
    told[-1] = by_bend
    return replace(net, told=told, told_bias=np.float32(deg))


def off_of(made: MadeLimbs, nets: LimbNets) -> np.ndarray:
    return off_looks_deg(made.pose, made.ends, made.ends_px, nets)


@pytest.mark.parametrize("facing", ["right", "left"])
@pytest.mark.parametrize(
    ("limb", "least_deg"), [("forearm", 0.8), ("shank", 0.8), ("thigh", 0.2), ("upper_arm", 0.2)]
)
def test_what_ships_tells_which_way_a_made_limb_lies_off(
    facing: Facing, limb: str, least_deg: float
) -> None:
    # Bars with straight edges are no limbs, of which alone was learned: told is which way of two
    # that are 2.5° apart, and roughly how far of those that do not go into trunk and shirt.
    at = list(LIMBS).index(limb)
    # Clockwise in the picture: of who faces left the other way round.
    sense = 1.0 if facing == "right" else -1.0
    off = [
        sense * off_of(made_limbs(off_deg=deg, facing=facing), shipped().looks)[0, at]
        for deg in (-2.5, 0.0, 2.5)
    ]
    assert (np.diff(off) > least_deg).all() and (np.diff(off) < 4.0).all()


def test_who_faces_left_is_seen_as_if_facing_right() -> None:
    by_facing = [
        off_of(made_limbs(off_deg=1.0, facing=facing), shipped().looks)
        for facing in ("right", "left")
    ]
    # The room behind is another one.
    assert by_facing[0] == pytest.approx(-by_facing[1], abs=1.0)


def test_the_mean_of_networks_that_agree_counts() -> None:
    off = off_of(made_limbs(), {"forearm": [saying(1.9), saying(2.1)]})
    assert off[:, FOREARM] == pytest.approx(2.0, abs=0.02)


def test_networks_that_contradict_each_other_are_believed_less() -> None:
    # They scatter by 1.5° about 2°: half is believed.
    off = off_of(made_limbs(), {"forearm": [saying(0.5), saying(3.5)]})
    assert off[:, FOREARM] == pytest.approx(1.0)
    assert agreed_deg([-4.0, 4.0]) == 0.0
    assert agreed_deg([3.0]) == 3.0


def test_only_limbs_with_networks_are_turned() -> None:
    off = off_of(made_limbs(), {"shank": [saying(3.0)], "thigh": []})
    assert off[:, SHANK] == pytest.approx(3.0)
    assert not np.delete(off, SHANK, axis=1).any()


def test_too_few_pictures_tell_nothing() -> None:
    assert not off_of(made_limbs(frames=5), {"forearm": [saying(2.0)]}).any()


def test_without_pictures_nothing_is_told() -> None:
    made = made_limbs()
    made.pose.pictured_ends_px[:] = np.nan
    assert not off_of(made, {"forearm": [saying(2.0)]}).any()


def test_a_limb_smaller_than_any_learned_from_is_not_looked_at() -> None:
    made = made_limbs()  # 80 px long
    small = replace(made, ends_px=made.ends_px * 0.3)
    assert not off_of(small, {"forearm": [saying(2.0)]}).any()
    assert off_of(replace(made, ends_px=made.ends_px * 0.5), {"forearm": [saying(2.0)]}).any()


def test_no_limb_is_turned_by_more_than_four_degrees() -> None:
    off = off_of(made_limbs(), {"forearm": [saying(9.0)]})
    assert off[:, FOREARM] == pytest.approx(4.0)


def test_bent_limbs_are_looked_at_by_themselves() -> None:
    made = made_limbs(frames=40, bends=(80.0, 160.0))
    off = off_of(made, {"forearm": [saying(0.0, by_bend=1.0)]})[:, FOREARM]
    assert off[0::2] == pytest.approx(-1.0, abs=1e-4)
    assert off[1::2] == pytest.approx(1.0, abs=1e-4)


def test_of_many_pictures_some_are_looked_at_evenly(monkeypatch: pytest.MonkeyPatch) -> None:
    looked = list[int]()
    seen = SmallNet.seen
    monkeypatch.setattr(
        SmallNet, "seen", lambda net, laid: (looked.append(len(laid)), seen(net, laid))[1]
    )
    off = off_of(made_limbs(frames=150), {"forearm": [saying(2.0)]})
    assert looked == [50]
    assert off[:, FOREARM] == pytest.approx(2.0)


def test_bends_are_those_of_elbow_and_knee() -> None:
    bends = limbs_bend_deg(made_limbs(frames=6, bends=(120.0,)).ends)
    assert bends["arm"] == pytest.approx(120.0)
    assert bends["leg"] == pytest.approx(120.0)


def test_what_ships_tells_of_every_limb() -> None:
    looks = shipped().looks
    assert sorted(looks) == sorted(LIMBS)
    for nets in looks.values():
        assert len(nets) == 3
