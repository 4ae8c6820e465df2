"""Who walks past the rower, and pictures without them: made people."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.linking import PersonTrack
from analysis.pose.passing import Passing
from analysis.pose.people import HIPS, SHOULDERS
from tests.pose import made_people as made

LOOKS = np.arange(0.0, 8.0, 0.25)
#: Where a passer-by is at a time, in the picture: from left to right.
SPEED_PX_S = 0.8 * 200.0


def walker(t_s: float) -> np.ndarray:
    return made.person(made.walking(t_s), stature_px=200.0).xy_px


def tracks(unseen: tuple[int, ...] = (), astray: tuple[int, ...] = ()) -> list[PersonTrack]:
    """A rower, unsure from 3 to 5 s, and a passer-by who was taken for the rower at times."""
    rower = [made.person(made.rowing(float(t))) for t in LOOKS]
    other = [made.person(made.walking(float(t)), stature_px=200.0) for t in LOOKS]
    for at in astray:
        other[at] = rower[at]
    both = [made.track(LOOKS, rower)]
    both.append(made.track(LOOKS, [None if i in unseen else p for i, p in enumerate(other)]))
    for track in both:
        track.unsure[(LOOKS >= 3.0) & (LOOKS <= 5.0)] = True
    return both


def passing(**how) -> Passing:
    rower, other = tracks(**how)
    return Passing.of(rower, [rower, other])


def blacked_out(given: Passing, t_s: float) -> np.ndarray:
    """Which pixels of a grey picture as large as the square are black."""
    grey = np.full((960, 960, 3), 90, np.uint8)
    return np.asarray((given.without(grey, t_s, (0.0, 0.0, 960.0)) == 0).all(axis=2))


def test_somebody_passes_only_where_the_rower_is_unsure() -> None:
    given = passing()
    told = [given.beside(float(t)) for t in np.arange(1.0, 7.0, 0.1)]
    when = np.arange(1.0, 7.0, 0.1)[told]
    # The nearest look decides: a quarter of a second apart.
    assert when.min() == pytest.approx(2.9, abs=0.13) and when.max() == pytest.approx(5.1, abs=0.13)
    assert np.all(np.diff(when) < 0.11)


@pytest.mark.parametrize(
    "how", [{}, {"unseen": (14, 15, 17)}, {"astray": (14, 16)}, {"unseen": (14,), "astray": (16,)}]
)
@pytest.mark.parametrize("t_s", [3.3, 3.85, 4.4])
def test_head_and_trunk_of_a_passer_by_are_blacked_out(how: dict, t_s: float) -> None:
    black = blacked_out(passing(**how), t_s)
    rows, columns = np.flatnonzero(black.any(axis=1)), np.flatnonzero(black.any(axis=0))
    xy = walker(t_s)
    shoulders, hips = xy[SHOULDERS].mean(axis=0), xy[HIPS].mean(axis=0)
    # Arms and legs swing about a body that goes on evenly, so that it is known to some pixels.
    assert columns.mean() == pytest.approx((shoulders[0] + hips[0]) / 2, abs=6)
    assert rows.max() == pytest.approx(hips[1], abs=4)
    assert rows.min() < xy[0:5, 1].min()  # nose, eyes and ears
    trunk = np.linalg.norm(shoulders - hips)
    assert 0.6 * trunk < np.ptp(columns) < 1.4 * trunk


def test_the_rest_of_the_picture_stays_and_so_does_the_original() -> None:
    given = passing()
    picture = np.random.default_rng(3).integers(1, 255, (300, 300, 3), np.uint8)
    before = picture.copy()
    out = given.without(picture, 4.0, (300.0, 100.0, 400.0))
    changed = (out != before).any(axis=2)
    assert changed.any() and (out[changed] == 0).all()
    assert np.array_equal(picture, before)


def test_who_sits_is_never_blacked_out() -> None:
    rower, _ = tracks()
    second = made.track(
        LOOKS, [made.person(made.rowing(float(t)), at_px=(600.0, 395.0)) for t in LOOKS]
    )
    given = Passing.of(rower, [rower, second])
    assert not given.beside(4.0)
    assert not blacked_out(given, 4.0).any()


@pytest.mark.parametrize("t_s", [3.3, 4.0, 4.4])
def test_a_shoulder_is_told_to_be_theirs(t_s: float) -> None:
    given, xy = passing(astray=(14, 16)), walker(t_s)
    trunk = np.linalg.norm(xy[SHOULDERS].mean(axis=0) - xy[HIPS].mean(axis=0))
    for shoulder in xy[SHOULDERS]:
        assert given.shoulder_of_theirs(t_s, shoulder)
        assert not given.shoulder_of_theirs(t_s, shoulder + np.array([0.8, 0.0]) * trunk)
    # A rower sits lower than somebody walks.
    assert not given.shoulder_of_theirs(t_s, xy[SHOULDERS[0]] + np.array([0.0, 0.8]) * trunk)


def test_who_was_not_seen_for_long_is_nowhere() -> None:
    given = passing(unseen=tuple(range(12, 21)))
    assert given.beside(3.1) and not given.beside(4.0)
