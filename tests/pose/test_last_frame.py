"""The frame before, and how far points were from here in it."""

from __future__ import annotations

import numpy as np

from analysis.pose.last_frame import LastFrame

PICTURES = [np.full((2, 3), level, np.uint8) for level in range(4)]


def test_before_the_first_frame_there_is_nothing() -> None:
    before, back = LastFrame().passed(PICTURES[0], np.ones((2, 2)))
    assert before is None and not back.any()


def test_models_that_take_turns_are_each_compared_with_themselves() -> None:
    last, backs = LastFrame(), []
    for index, picture in enumerate(PICTURES):
        # Points go 2 px on in every frame; every other model sees them 5 px further up.
        before, back = last.passed(picture, np.full((3, 2), 2.0 * index + 5.0 * (index % 2)))
        assert index == 0 or before is PICTURES[index - 1]
        backs.append(back)
    # Of the second frame only the other model's is known.
    assert (backs[1] == -7.0).all()
    assert (backs[2] == -2.0).all() and (backs[3] == -2.0).all()


def test_a_point_not_seen_is_taken_to_stay() -> None:
    last = LastFrame()
    last.passed(PICTURES[0], np.array([[np.nan, np.nan], [4.0, 4.0]]))
    _, back = last.passed(PICTURES[1], np.array([[1.0, 1.0], [3.0, 5.0]]))
    assert back.tolist() == [[0.0, 0.0], [1.0, -1.0]]
