"""A coach's marks on made motion: measures are taken at the marked times, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.coach_marks import CoachMarks, Moved
from analysis.errors import SettingsError, TooFewStrokesError
from analysis.stroke.analyse import analyse_strokes
from tests.made_motion import NEUTRAL_RAW_DEG, Technique, made_motion

MADE = made_motion(Technique(), strokes=4, noise_px=0.5)
NONE = CoachMarks("made.mp4", "0f" * 32, source="made.json")


def strokes_with(**marks):
    return analyse_strokes(
        MADE.motion, neutral_raw_deg=NEUTRAL_RAW_DEG, marks=replace(NONE, **marks)
    )


@pytest.fixture(scope="module")
def plain():
    return analyse_strokes(MADE.motion, neutral_raw_deg=NEUTRAL_RAW_DEG)


def test_no_mark_changes_nothing(plain) -> None:
    same = strokes_with()
    for name, column in plain.measures.items():
        np.testing.assert_array_equal(column.values, same.measures[name].values)
        np.testing.assert_array_equal(column.se, same.measures[name].se)


def test_a_moved_release_moves_what_is_read_there(plain) -> None:
    was = float(plain.release_s[1])
    found = strokes_with(moved=(Moved("release", was + 0.05, was - 0.12),))
    assert found.release_s[1] == was - 0.12
    np.testing.assert_array_equal(found.release_s[[0, 2, 3]], plain.release_s[[0, 2, 3]])
    np.testing.assert_array_equal(found.catch_s, plain.catch_s)
    # Drive and recovery are the times between the events, so they change by what was moved.
    drive = found.measures["drive_s"].values - plain.measures["drive_s"].values
    np.testing.assert_allclose(drive, [0, -0.12, 0, 0], atol=1e-9)
    back = found.measures["recovery_s"].values - plain.measures["recovery_s"].values
    np.testing.assert_allclose(back, [0, 0.12, 0, 0], atol=1e-9)
    # Layback is minus the trunk's lean at the release: read off the motion by hand.
    lean = np.interp(was - 0.12, MADE.motion.t_s, MADE.motion.angle("trunk_deg"))
    assert found.measures["layback_deg"].values[1] == pytest.approx(-lean, abs=1.0)
    assert abs(plain.measures["layback_deg"].values[1] + lean) > 2.0  # so this says something


def test_a_moved_catch_ends_the_stroke_before_it(plain) -> None:
    was = float(plain.catch_s[2])
    found = strokes_with(moved=(Moved("catch", was, was + 0.1),))
    assert found.catch_s[2] == found.next_catch_s[1] == was + 0.1
    np.testing.assert_array_equal(found.catch_s[[0, 1, 3]], plain.catch_s[[0, 1, 3]])
    rate = 60 / (found.next_catch_s - found.catch_s)
    np.testing.assert_allclose(found.measures["rate_spm"].values, rate, atol=1e-9)
    inside = (MADE.motion.t_s > was) & (MADE.motion.t_s < was + 0.1)
    assert inside.any() and set(found.stroke[inside]) == {2}
    assert set(plain.stroke[inside]) == {3}


def test_a_stroke_left_out_is_nowhere(plain) -> None:
    found = strokes_with(left_out=(float(plain.catch_s[1]) + 0.02,))
    np.testing.assert_array_equal(found.catch_s, plain.catch_s[[0, 2, 3]])
    inside = (MADE.motion.t_s > plain.catch_s[1] + 0.01) & (
        MADE.motion.t_s < plain.next_catch_s[1] - 0.01
    )
    assert set(found.phase[inside]) == {""} and set(found.stroke[inside]) == {0}
    for name, column in found.measures.items():
        np.testing.assert_array_equal(column.values, plain.measures[name].values[[0, 2, 3]])


def test_marks_that_fit_nothing_are_told(plain) -> None:
    catch, release = float(plain.catch_s[1]), float(plain.release_s[1])
    for marks, says in (
        ({"moved": (Moved("catch", catch + 0.25, catch),)}, "none was found there"),
        ({"moved": (Moved("release", catch, catch),)}, "none was found there"),
        ({"left_out": (release,)}, "none was found there"),
        ({"moved": (Moved("catch", catch, release - 0.1),)}, "less than 0.15 s"),
        ({"moved": (Moved("release", release, float(plain.catch_s[2]) + 0.1),)}, "less than 0.15"),
    ):
        with pytest.raises(SettingsError, match=says) as caught:
            strokes_with(**marks)
        assert str(caught.value).startswith("made.json ") and str(caught.value).endswith(".")


def test_at_least_two_strokes_stay(plain) -> None:
    assert strokes_with(left_out=tuple(plain.catch_s[:2])).count == 2
    with pytest.raises(TooFewStrokesError, match="leave out so many"):
        strokes_with(left_out=tuple(plain.catch_s[:3]))
