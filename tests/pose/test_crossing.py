"""A seated rower stays sure while somebody on their feet crosses."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.crossing import plainly_the_rower
from tests.pose import made_people as made

T_S = np.arange(0.0, 8.0, 0.1)


def of(movement, **how):
    return made.track(T_S, [made.person(movement(t), **how) for t in T_S])


def test_rower_is_told_from_a_passer_by() -> None:
    rower, walker = of(made.rowing), of(made.walking)
    mine = plainly_the_rower(T_S, rower.xy_px, "right", rower, [rower, walker])
    assert mine.all()
    # The points of the passer-by are never taken for the rower's, not even in their place.
    theirs = walker.xy_px - walker.xy_px[:, [11]] + rower.xy_px[:, [11]]
    assert not plainly_the_rower(T_S, theirs, "right", rower, [rower, walker]).any()


def test_points_elsewhere_or_turned_round_are_not_the_rowers() -> None:
    rower, walker = of(made.rowing), of(made.walking)
    away = rower.xy_px + np.array([100.0, 0.0])
    assert not plainly_the_rower(T_S, away, "right", rower, [rower, walker]).any()
    assert not plainly_the_rower(T_S, rower.xy_px, "left", rower, [rower, walker]).any()


def beside(other, at_px, unsure=slice(0)):
    """Frames that are plainly the rower's, with somebody seated whose hips are `at_px` away."""
    rower, second = of(made.rowing), of(other, at_px=(480.0 + at_px, 395.0))
    for track in (rower, second):
        track.unsure[unsure] = True
    return rower, plainly_the_rower(T_S, rower.xy_px, "right", rower, [rower, second])


def test_where_two_row_in_one_place_nothing_is_plain() -> None:
    assert not beside(made.rowing, 0.0)[1].any()


@pytest.mark.parametrize("other", [made.rowing, made.sitting])
def test_beside_somebody_seated_a_trunk_away_the_rower_is_plain(other) -> None:
    rower, plain = beside(other, 120.0, unsure=slice(30, 34))
    assert plain.all()
    # Their points are not.
    second = of(made.rowing, at_px=(600.0, 395.0))
    theirs = plainly_the_rower(T_S, second.xy_px, "right", rower, [rower, second])
    assert not theirs.any()


def test_without_a_sure_frame_nothing_is_plain_beside_somebody_seated() -> None:
    assert not beside(made.rowing, 120.0, unsure=slice(None))[1].any()
