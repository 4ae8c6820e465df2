"""What is kept of two models of which one sees somebody else."""

from __future__ import annotations

import numpy as np

from analysis.pose.filling import Filling, leave_out_others
from analysis.pose.landmarkers import Landmarker, Landmarks, Thunder
from analysis.pose.people import COCO_NAMES, SHOULDERS, TORSO
from analysis.pose.place import Place
from tests.pose import made_people as made

T_S = np.arange(0.0, 3.0, 0.1)
PEOPLE = [made.person(made.rowing(t), stature_px=300.0) for t in T_S]
PLACE = Place.of(made.track(T_S, PEOPLE))


def filled(source: type[Thunder] | type[Landmarker]) -> Filling:
    """A model that saw the rower in every frame."""
    filling = Filling(source, np.ones(len(T_S), bool))
    at = [source.names.index(name) for name in COCO_NAMES]
    for index, person in enumerate(PEOPLE):
        xy = np.full((len(source.names), 2), 0.5)
        xy[at] = person.xy_px + 0.5  # a crop of 1 px: its shares are px
        filling.put(index, Landmarks(xy, np.full(len(xy), 0.9), None), (0.0, 0.0, 1.0))
    return filling


def seen(filling: Filling) -> np.ndarray:
    return np.isfinite(filling.track().xy_px[:, 0, 0])


def test_both_on_the_rower_are_kept_whole() -> None:
    one, two = filled(Thunder), filled(Landmarker)
    leave_out_others((one, two), T_S, PLACE)
    assert seen(one).all() and seen(two).all()
    assert np.allclose(two.held_coco_px(T_S)[:, TORSO], one.held_coco_px(T_S)[:, TORSO])


def test_a_torso_put_together_from_two_people_is_left_out_of_that_model_alone() -> None:
    one, two = filled(Thunder), filled(Landmarker)
    # Two thirds of a trunk away: within what a single model may be off, but the other is not.
    one.xy_px[7][SHOULDERS] += [0.67 * PLACE.trunk_px, 0.0]
    leave_out_others((one, two), T_S, PLACE)
    assert np.flatnonzero(~seen(one)).tolist() == [7]
    assert one.track().score[7].max() == 0.0
    assert seen(two).all()


def test_off_by_as_much_with_nothing_better_the_points_stay() -> None:
    one, two = filled(Thunder), filled(Landmarker)
    two.leave_out(np.ones(len(T_S), bool))
    one.xy_px[7][SHOULDERS] += [0.67 * PLACE.trunk_px, 0.0]
    one.xy_px[9] += [1.5 * PLACE.trunk_px, 0.0]  # somebody else altogether
    leave_out_others((one, two), T_S, PLACE)
    assert np.flatnonzero(~seen(one)).tolist() == [9]
