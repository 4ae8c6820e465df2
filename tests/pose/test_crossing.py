"""A seated rower stays sure while somebody crosses, or rows right behind."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.crossing import Company, leave_out_others, plainly_the_rower, who_is_who
from analysis.pose.filling import Filling
from analysis.pose.landmarkers import Landmarker, Thunder
from analysis.pose.linking import PersonTrack
from analysis.pose.people import COCO_NAMES, SHOULDERS, TORSO
from analysis.pose.place import Place
from tests.pose import made_people as made

T_S = np.arange(0.0, 8.0, 0.1)
JOINTS = ("shoulder", "hip", "knee", "ankle", "elbow", "wrist")
POSTURE = [COCO_NAMES.index(f"right_{joint}") for joint in JOINTS]


#: What Thunder saw without passers-by, where none passed.
NOTHING = Filling(Thunder, np.zeros(len(T_S), bool))


def of(movement, **how) -> PersonTrack:
    return made.track(T_S, [made.person(movement(t), **how) for t in T_S])


def plain(xy: np.ndarray, chosen: PersonTrack, *others: PersonTrack, facing="right", held=True):
    among = Company(chosen, [chosen, *others], facing, held)
    return plainly_the_rower(T_S, xy[:, TORSO], xy[:, POSTURE], among)


def test_rower_is_told_from_a_passer_by() -> None:
    rower, walker = of(made.rowing), of(made.walking)
    assert plain(rower.xy_px, rower, walker).all()
    # The points of the passer-by are never taken for the rower's, not even in their place.
    theirs = walker.xy_px - walker.xy_px[:, [11]] + rower.xy_px[:, [11]]
    assert not plain(theirs, rower, walker).any()


def test_points_elsewhere_or_turned_round_are_not_the_rowers() -> None:
    rower, walker = of(made.rowing), of(made.walking)
    assert not plain(rower.xy_px + np.array([100.0, 0.0]), rower, walker).any()
    assert not plain(rower.xy_px, rower, walker, facing="left").any()


def beside(other, at_px, unsure=slice(0)):
    """Frames that are plainly the rower's, with somebody seated whose hips are `at_px` away."""
    rower, second = of(made.rowing), of(other, at_px=(480.0 + at_px, 395.0))
    for track in (rower, second):
        track.unsure[unsure] = True
    return rower, plain(rower.xy_px, rower, second)


def test_where_two_row_in_one_place_nothing_is_plain() -> None:
    assert not beside(made.rowing, 0.0)[1].any()
    assert not beside(made.rowing, 0.0, unsure=slice(30, 50))[1].any()


@pytest.mark.parametrize("other", [made.rowing, made.sitting])
def test_beside_somebody_seated_a_trunk_away_the_rower_is_plain(other) -> None:
    rower, own = beside(other, 120.0, unsure=slice(30, 34))
    assert own.all()
    # Their points are not.
    second = of(made.rowing, at_px=(600.0, 395.0))
    assert not plain(second.xy_px, rower, second).any()


def test_without_a_sure_frame_nothing_is_plain_beside_somebody_seated() -> None:
    assert not beside(made.rowing, 120.0, unsure=slice(None))[1].any()


def test_a_neighbour_who_is_never_sure_is_where_they_were_seen() -> None:
    rower, second = of(made.rowing), of(made.rowing, at_px=(600.0, 395.0))
    rower.unsure[30:34] = True
    second.unsure[:] = True
    assert plain(rower.xy_px, rower, second).all()
    # Nor are their points taken for the rower's.
    assert not plain(second.xy_px, rower, second).any()


def right_behind(held: bool) -> tuple[np.ndarray, np.ndarray]:
    """Unsure frames of a rower and of somebody who rows 0.4 trunk lengths higher in the picture."""
    rower = of(made.rowing)
    second = of(made.rowing, at_px=(490.0, 365.0))
    unsure = np.zeros(len(T_S), bool)
    unsure[20:45] = True  # a stroke, 24 a minute
    for track in (rower, second):
        track.unsure[unsure] = True
    mine, theirs = (plain(who.xy_px, rower, second, held=held) for who in (rower, second))
    return mine[unsure], theirs[unsure]


def test_postures_of_other_strokes_tell_a_rower_from_who_rows_right_behind() -> None:
    mine, theirs = right_behind(held=True)
    assert mine.all()
    assert not theirs.any()


def test_where_the_camera_moves_places_of_other_strokes_tell_nothing() -> None:
    assert right_behind(held=False)[0].mean() < 0.5


def crossed() -> tuple[Company, np.ndarray]:
    """A rower whom a walker crosses, unsure in frames 30 to 39."""
    rower, walker = of(made.rowing), of(made.walking)
    unsure = np.zeros(len(T_S), bool)
    unsure[30:40] = True
    rower.unsure[unsure] = walker.unsure[unsure] = True
    return Company(rower, [rower, walker], "right", held=True), unsure


TRUNK = [COCO_NAMES.index(f"{s}_{j}") for s in ("left", "right") for j in ("shoulder", "elbow")]
ARMS = TRUNK + [COCO_NAMES.index(f"{s}_wrist") for s in ("left", "right")]


def walked_past() -> tuple[Company, np.ndarray, np.ndarray]:
    """A rower whom somebody passes far behind, unsure in frames 30 to 39, and a mixed sight.

    Mixed are the passer-by's shoulders and arms and the rower's hips and legs.
    """
    rower = of(made.rowing)
    far = [made.walking(t, speed=0.2) for t in T_S]
    walker = made.track(
        T_S, [made.person(one, stature_px=150.0, at_px=(565.0, 375.0)) for one in far]
    )
    unsure = np.zeros(len(T_S), bool)
    unsure[30:40] = True
    rower.unsure[unsure] = walker.unsure[unsure] = True
    mixed = rower.xy_px.copy()
    mixed[np.ix_(unsure, ARMS)] = walker.xy_px[np.ix_(unsure, ARMS)]
    return Company(rower, [rower, walker], "right", held=True), unsure, mixed


def test_a_passer_bys_trunk_and_arms_on_the_rowers_legs_are_not_the_rower() -> None:
    among, unsure, mixed = walked_past()
    rower = among.chosen.xy_px
    # Shoulder, hip and legs alone would be a posture of the rower's, of another time.
    four = POSTURE[:4]
    away = np.linalg.norm(mixed[unsure][:, None, four] - rower[None, :, four], axis=-1)
    assert (away.max(axis=2).min(axis=1) < 0.5 * Place.of(among.chosen).trunk_px).any()
    told = plainly_the_rower(T_S, mixed[:, TORSO], mixed[:, POSTURE], among)
    assert not told[unsure].any()
    assert told[~unsure].all()
    # Of few sure looks nobody knows all of the rower's postures.
    few = np.flatnonzero(~unsure)[:5]
    known = rower[few][:, POSTURE]
    assert plainly_the_rower(T_S, mixed[:, TORSO], mixed[:, POSTURE], among, known)[unsure].any()


def test_what_was_seen_without_the_passer_by_is_taken_instead() -> None:
    among, unsure, mixed = walked_past()
    rower = among.chosen.xy_px
    one, two = made.filled(Thunder, mixed), made.filled(Landmarker, mixed)
    without = made.filled(Thunder, rower)
    without.asked[~unsure] = False
    without.xy_px[~unsure] = np.nan
    # A spoilt sight of them is no better.
    worse = np.flatnonzero(unsure)[:3]
    without.xy_px[worse] = one.xy_px[worse]
    uncertain = who_is_who((one, two), without, T_S, among)
    assert np.flatnonzero(uncertain).tolist() == worse.tolist()
    taken = unsure & ~uncertain
    assert np.allclose(one.held_coco_px(T_S)[taken], rower[taken])
    assert (np.isnan(two.track().xy_px).all(axis=(1, 2)) == taken).all()


def test_what_was_seen_without_the_passer_by_tells_nothing_of_later_frames() -> None:
    among, unsure, mixed = walked_past()
    one, two = made.filled(Thunder, mixed), made.filled(Landmarker, mixed)
    without = made.filled(Thunder, among.chosen.xy_px)
    first, last = np.flatnonzero(unsure)[:4], np.flatnonzero(unsure)[4:]
    without.asked[:] = False
    without.asked[first] = True
    assert np.flatnonzero(who_is_who((one, two), without, T_S, among)).tolist() == last.tolist()


def test_what_one_model_saw_of_another_is_forgotten_where_the_other_saw_the_rower() -> None:
    among, unsure = crossed()
    rower, walker = (track.xy_px for track in among.tracks)
    mixed = rower.copy()
    legs = [COCO_NAMES.index(f"{s}_{j}") for s in ("left", "right") for j in ("knee", "ankle")]
    hang = walker[:, legs] - walker[:, [11]] + rower[:, [11]]
    mixed[np.ix_(unsure, legs)] = hang[unsure]
    one, two = made.filled(Thunder, mixed), made.filled(Landmarker, rower)
    assert not who_is_who((one, two), NOTHING, T_S, among).any()
    assert (np.isnan(one.track().xy_px).all(axis=(1, 2)) == unsure).all()
    assert np.isfinite(two.track().xy_px).all()


def test_where_neither_saw_the_rower_plainly_both_are_kept_and_uncertain() -> None:
    among, unsure = crossed()
    walker = among.tracks[1].xy_px
    one, two = made.filled(Thunder, walker), made.filled(Landmarker, walker)
    assert (who_is_who((one, two), NOTHING, T_S, among) == unsure).all()
    assert np.isfinite(one.track().xy_px).all() and np.isfinite(two.track().xy_px).all()


def test_frames_in_which_neither_saw_anybody_are_uncertain() -> None:
    rower = of(made.rowing)
    one, two = made.filled(Thunder, rower.xy_px), made.filled(Landmarker, rower.xy_px)
    blind = np.zeros(len(T_S), bool)
    blind[[5, 6]] = True
    one.leave_out(blind)
    alone = Company(rower, [rower], "right", held=True)
    assert not who_is_who((one, two), NOTHING, T_S, alone).any()
    two.leave_out(blind)
    assert (who_is_who((one, two), NOTHING, T_S, alone) == blind).all()


def both() -> tuple[Filling, Filling, Place, Company]:
    """A rower alone, seen by both models, their place, and them among everybody."""
    rower = of(made.rowing)
    one, two = made.filled(Thunder, rower.xy_px), made.filled(Landmarker, rower.xy_px)
    return one, two, Place.of(rower), Company(rower, [rower], "right", held=True)


def seen(filling: Filling) -> np.ndarray:
    return np.isfinite(filling.track().xy_px[:, 0, 0])


def test_both_on_the_rower_are_kept_whole() -> None:
    one, two, place, alone = both()
    leave_out_others((one, two), T_S, place, alone)
    assert seen(one).all() and seen(two).all()
    assert np.allclose(two.held_coco_px(T_S)[:, TORSO], one.held_coco_px(T_S)[:, TORSO])


def test_a_torso_put_together_from_two_people_is_left_out_of_that_model_alone() -> None:
    one, two, place, alone = both()
    # Two thirds of a trunk away: within what a single model may be off, but the other is not.
    one.xy_px[7][SHOULDERS] += [0.67 * place.trunk_px, 0.0]
    leave_out_others((one, two), T_S, place, alone)
    assert np.flatnonzero(~seen(one)).tolist() == [7]
    assert one.track().score[7].max() == 0.0
    assert seen(two).all()


def test_off_by_as_much_with_nothing_better_the_points_stay() -> None:
    one, two, place, alone = both()
    two.leave_out(np.ones(len(T_S), bool))
    one.xy_px[7][SHOULDERS] += [0.67 * place.trunk_px, 0.0]
    one.xy_px[9] += [1.5 * place.trunk_px, 0.0]  # somebody else altogether
    leave_out_others((one, two), T_S, place, alone)
    assert np.flatnonzero(~seen(one)).tolist() == [9]


@pytest.mark.parametrize("held", [True, False])
def test_where_the_first_pass_lost_the_rower_their_own_postures_are_kept(held: bool) -> None:
    one, two, _, alone = both()
    # Not looked at from one catch to the next, 24 strokes a minute: all that while at the catch.
    known = ((T_S < 1.25) | (T_S > 3.75)) & (T_S < 5.0)
    astray = Place.of(made.track(T_S[known], [made.person(made.rowing(t)) for t in T_S[known]]))
    leave_out_others((one, two), T_S, astray, Company(alone.chosen, alone.tracks, "right", held))
    assert seen(one).all() == seen(two).all() == held
