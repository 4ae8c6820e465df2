"""Standard errors must be honest: 1.96 of them hold the truth in 90 to 99 % of the strokes."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.motion.motion import TurnError
from analysis.stroke.analyse import analyse_strokes
from analysis.stroke.measures import MEASURES
from analysis.stroke.reading import find_rowing, measures_that_read, read_measures
from analysis.stroke.strokes import Strokes
from analysis.stroke.view import body_of
from tests.made_motion import NEUTRAL_RAW_DEG, MadeMotion, Technique, made_motion

#: Read by the checks, one from each kind: times, angles at an instant, shares of a movement.
MAIN = (
    "rate_spm", "drive_s", "ratio", "slide_time_share", "stroke_length_share", "catch_trunk_deg",
    "lunge_deg", "shin_catch_deg", "knee_catch_deg", "elbow_catch_deg", "rounding_catch_deg",
    "rounding_release_deg", "legs_at_back_open", "legs_at_arm_bend", "knee_release_deg",
    "layback_deg", "hand_height_share", "forearm_release_deg", "hand_gap_share",
)  # fmt: skip

#: A stroke with every share somewhere between its bounds, so that noise can move it both ways.
BLEND = Technique(
    body_end=0.55,
    arms_away_end=0.4,
    lunge_deg=5.0,
    back_start=0.15,
    arms_start=0.4,
    slip_share=0.08,
)

NOISES = {
    "white": {"noise_px": 1.0},
    "correlated": {"noise_px": 0.8, "noise_tau_s": 0.05},
    "smooth": {"noise_px": 1.0, "noise_smooth_s": 0.06},
    "white at 60 frames/s": {"noise_px": 1.5, "fps": 60.0},
}  # fmt: skip


@cache
def clips(kind: str) -> tuple[tuple[Strokes, MadeMotion], ...]:
    out = []
    for seed in range(6):
        noise = NOISES[kind]
        made = made_motion(
            BLEND, strokes=5, seed=seed, rounding_noise_deg=noise["noise_px"], **noise
        )
        out.append((analyse_strokes(made.motion, neutral_raw_deg=NEUTRAL_RAW_DEG), made))
    return tuple(out)


def z_values(kind: str, name: str) -> np.ndarray:
    out = []
    for strokes, made in clips(kind):
        column = strokes.measures[name]
        out.append((column.values - made.truth.measures[name]) / column.se)
    return np.concatenate(out)


@pytest.mark.parametrize("kind", NOISES)
def test_standard_errors_hold_the_truth_as_often_as_they_say(kind):
    covered = {name: np.mean(np.abs(z_values(kind, name)) <= 1.96) for name in MAIN}
    # Each from 30 strokes, some of whose errors go together: one measure may stray, not the lot.
    assert 0.90 <= np.mean(list(covered.values())) <= 0.99, covered
    assert min(covered.values()) >= 0.73, covered


@pytest.mark.parametrize("kind", NOISES)
def test_values_are_hardly_biased_by_noise(kind):
    offset = {name: float(np.mean(z_values(kind, name))) for name in MAIN}
    assert max(np.abs(list(offset.values()))) < 0.9, offset


def test_event_noise_is_part_of_what_is_read_at_events():
    # The knee turns quickly before the release when the legs finish late: the same noise of the
    # handle then costs more than the knee's own noise.
    noise = {"noise_px": 1.5, "noise_smooth_s": 0.06, "seed": 1}
    late = analyse_strokes(made_motion(Technique(legs_start=0.2, legs_end=1.1), **noise).motion)
    early = analyse_strokes(made_motion(Technique(legs_end=0.7), **noise).motion)
    assert np.median(late.measures["knee_release_deg"].se) > 1.15 * np.median(
        early.measures["knee_release_deg"].se
    )


def test_more_noise_means_a_larger_error_and_none_next_to_none():
    def se(noise_px):
        found = analyse_strokes(made_motion(BLEND, noise_px=noise_px, seed=3).motion)
        return {
            name: float(np.median(found.measures[name].se)) for name in ("ratio", "layback_deg")
        }

    none, little, much = se(0.0), se(0.5), se(2.0)
    for name in none:
        assert none[name] < 0.2 * little[name]
        assert little[name] < 0.6 * much[name]


def test_lasting_errors_do_not_hide_in_the_noise_and_cover_the_truth():
    shifts, claims = [], []
    names = ("catch_trunk_deg", "shin_catch_deg", "knee_release_deg", "layback_deg")
    for seed in range(14):
        made = made_motion(Technique(), strokes=2, fps=25, bias_px=3.0, seed=seed)
        found = analyse_strokes(made.motion)
        for name in names:
            column = found.measures[name]
            shifts.append(np.median(column.values - made.truth.measures[name]))
            claims.append(column.bias_se)
            assert np.max(column.se) < 0.2 * column.bias_se
    z = np.abs(shifts) / claims
    assert np.mean(z <= 1.96) >= 0.88
    assert np.sqrt(np.mean(z**2)) > 0.6  # not just a wide claim


def test_a_lasting_error_of_the_whole_frame_does_not_touch_travel_or_time():
    made = made_motion(Technique(), strokes=2, bias_px=3.0, seed=1)
    found = analyse_strokes(made.motion)
    assert found.measures["rate_spm"].bias_se < 0.02
    assert found.measures["stroke_length_share"].bias_se < 0.03


def test_the_same_clip_gives_the_same_errors():
    made = made_motion(Technique(), strokes=2, noise_px=1.0)
    one, two = analyse_strokes(made.motion), analyse_strokes(made.motion)
    for name in one.measures:
        np.testing.assert_array_equal(one.measures[name].se, two.measures[name].se)


def _with_turns(turns: TurnError) -> Strokes:
    motion = made_motion(Technique(), strokes=2).motion
    return analyse_strokes(replace(motion, turns=turns))


def test_what_turns_are_late_by_is_taken_out():
    read, mended = _with_turns(TurnError()), _with_turns(TurnError(0.006, -0.011))
    np.testing.assert_allclose(mended.catch_s, read.catch_s - 0.006, atol=1e-12)
    np.testing.assert_allclose(mended.release_s, read.release_s + 0.011, atol=1e-12)
    np.testing.assert_allclose(
        mended.measures["drive_s"].values - read.measures["drive_s"].values, 0.017, atol=1e-9
    )
    np.testing.assert_allclose(
        mended.measures["rate_spm"].values, read.measures["rate_spm"].values, atol=1e-9
    )


def test_the_lasting_error_of_turns_counts_in_times():
    sure, unsure = _with_turns(TurnError()), _with_turns(TurnError(0.0, 0.0, 0.009, 0.012))
    assert sure.measures["drive_s"].bias_se == 0.0
    # Two instants, each off by its own error; the next catch goes along with the catch.
    assert unsure.measures["drive_s"].bias_se == pytest.approx(np.hypot(0.009, 0.012), rel=0.1)
    assert unsure.measures["rate_spm"].bias_se < 0.02
    assert unsure.measures["ratio"].bias_se > 0.01


@pytest.mark.parametrize("noise_px", [15.0, 60.0])
def test_however_unsure_the_places_are_strokes_are_told_or_refused(noise_px: float) -> None:
    motion = replace(made_motion(Technique(), strokes=4).motion, place_se_px=noise_px)
    found = analyse_strokes(motion)
    sure = analyse_strokes(made_motion(Technique(), strokes=4).motion)
    assert found.count == sure.count
    assert found.measures["drive_s"].se.min() > sure.measures["drive_s"].se.max()


def test_a_changed_signal_reaches_only_the_measures_that_look_at_it():
    made = made_motion(BLEND, strokes=3, noise_px=1.0)
    signals, rowing = find_rowing(made.motion, body_of(made.motion, NEUTRAL_RAW_DEG, 1.8))
    readers = measures_that_read(signals.curves, rowing)
    before = read_measures(signals.curves, rowing)[1]
    every = set(range(len(MEASURES)))
    reached = {}
    for name, readers_of_it in readers.items():
        curves = signals.curves
        bent = replace(curves, values=curves.values | {name: curves.values[name] * 1.05 + 2.0})
        after = read_measures(bent, rowing)[1]
        same = np.all((after == before) | (np.isnan(after) & np.isnan(before)), axis=0)
        reached[name] = set(np.flatnonzero(~same).tolist())
        assert reached[name] <= readers_of_it, name
        some = read_measures(bent, rowing, only=readers_of_it)[1]
        kept = sorted(readers_of_it)
        np.testing.assert_array_equal(some[:, kept], after[:, kept])
        assert np.isnan(some[:, sorted(every - readers_of_it)]).all()
    assert readers["handle_x"] == every and readers["shin_deg"] < every
    trunk = next(i for i, m in enumerate(MEASURES) if m.name == "layback_deg")
    assert trunk in reached["trunk_deg"] and trunk not in readers["elbow_deg"]
