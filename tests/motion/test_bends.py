"""Frames alike in how far a joint is bent. Expected values follow from the groups' own limits."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.bends import BENDS, FINER, GROUPS, PART_OF, alike, turned_between
from analysis.motion.motion import SEGMENTS


def test_every_segment_goes_with_one_part_of_as_many_groups() -> None:
    assert set(PART_OF) == set(SEGMENTS)
    assert all(len(BENDS[part]) == GROUPS for part in PART_OF.values())


def test_frames_are_grouped_by_their_bend_and_groups_overlap() -> None:
    bend = np.array([80.0] * 8 + [120.0] * 6 + [170.0] * 7)
    bent, half, straight = alike("forearm", bend)
    assert bent.frames.tolist() == [True] * 14 + [False] * 7
    assert half.frames.tolist() == [False] * 8 + [True] * 6 + [False] * 7
    assert straight.frames.tolist() == [False] * 14 + [True] * 7
    assert bent.bend_deg == pytest.approx((8 * 80 + 6 * 120) / 14)


def test_five_frames_are_too_few_and_so_are_five_known_ones() -> None:
    assert not list(alike("thigh", np.full(5, 170.0)))
    assert [each.group for each in alike("thigh", np.full(6, 170.0))] == [2]
    known = np.arange(6) > 0
    assert not list(alike("thigh", np.full(6, 170.0), known))


def test_turns_are_those_of_the_groups_and_linear_between() -> None:
    bend = np.array([80.0] * 6 + [170.0] * 6 + [125.0, 60.0])
    groups = [each for each in alike("forearm", bend[:12])]
    turn = turned_between(bend, groups, [1.0, -3.0])
    # 125° is midway between 80° and 170°; beyond them the nearest group's holds.
    assert turn == pytest.approx(np.array([1.0] * 6 + [-3.0] * 6 + [-1.0, 1.0]))


def test_no_turn_is_larger_than_four_degrees() -> None:
    bend = np.full(6, 80.0)
    assert turned_between(bend, list(alike("forearm", bend)), [9.0]) == pytest.approx(4.0)


def test_without_groups_nothing_turns() -> None:
    assert not turned_between(np.full(4, 80.0), [], []).any()


def test_finer_groups_tell_elbows_bent_furthest_apart_and_the_rest_as_before() -> None:
    bend = np.concatenate([np.full(6, 80.0), np.full(6, 120.0), np.full(6, 170.0)])
    assert [each.bend_deg for each in alike("forearm", bend)] == [100.0, 120.0, 170.0]
    finer = alike("forearm", bend, bends=FINER)
    assert [each.bend_deg for each in finer] == [80.0, 120.0, 120.0, 170.0]
    assert {part: FINER[part] for part in ("leg", "trunk")} == {
        part: BENDS[part] for part in ("leg", "trunk")
    }
