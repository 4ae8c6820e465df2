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


@pytest.mark.parametrize("other", [made.rowing, made.sitting])
def test_beside_somebody_seated_nothing_is_plain(other) -> None:
    rower, second = of(made.rowing), of(other, at_px=(520.0, 390.0))
    assert not plainly_the_rower(T_S, rower.xy_px, "right", rower, [rower, second]).any()
