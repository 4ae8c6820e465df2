import numpy as np
import pytest

from analysis.errors import TooFewStrokesError
from analysis.stroke.analyse import analyse_strokes
from analysis.stroke.measures import MEASURES
from tests.made_motion import NEUTRAL_RAW_DEG, STAGES, Technique, made_motion, still_motion


def test_strokes_carry_events_phases_and_measures_of_the_same_strokes():
    made = made_motion(Technique(), strokes=4, noise_px=0.5)
    found = analyse_strokes(made.motion, neutral_raw_deg=NEUTRAL_RAW_DEG, stature_m=1.75)
    assert found.count == 4
    assert found.setting == "erg"
    assert list(found.measures) == [m.name for m in MEASURES]
    assert np.array_equal(found.next_catch_s[:-1], found.catch_s[1:])
    assert np.all(found.full_compression_s < found.release_s)
    assert len(found.phase) == len(found.stroke) == len(made.motion.t_s)
    np.testing.assert_allclose(
        found.measures["drive_s"].values, found.release_s - found.catch_s, atol=1e-9
    )
    np.testing.assert_allclose(
        found.measures["rate_spm"].values, 60 / (found.next_catch_s - found.catch_s), atol=1e-9
    )


def test_moments_lie_in_their_stroke():
    made = made_motion(Technique(slip_share=0.1, lunge_deg=5.0, loop_m=0.05), noise_px=0.5)
    found = analyse_strokes(made.motion, neutral_raw_deg=NEUTRAL_RAW_DEG, stature_m=1.75)
    for name, column in found.measures.items():
        told = np.isfinite(column.values)
        assert np.array_equal(np.isfinite(column.moment_s), told), name
        start = np.minimum(found.catch_s, found.full_compression_s)
        assert np.all(column.moment_s[told] >= start[told] - 1e-9), name
        assert np.all(column.moment_s[told] <= found.next_catch_s[told] + 1e-9), name


def test_metres_only_with_a_stature_and_rounding_over_neutral_only_with_a_neutral():
    made = made_motion(Technique(), strokes=2)
    plain = analyse_strokes(made.motion)
    assert "stroke_length_m" not in plain.measures
    assert np.isnan(plain.measures["rounding_catch_deg"].values).all()
    assert np.isfinite(plain.measures["rounding_catch_raw_deg"].values).all()
    told = analyse_strokes(made.motion, neutral_raw_deg=NEUTRAL_RAW_DEG, stature_m=1.75)
    assert told.measures["stroke_length_m"].unit == "m"
    np.testing.assert_allclose(told.measures["rounding_catch_deg"].values, 4.0, atol=0.2)


def test_the_athletes_own_neutral_goes_before_the_standards():
    made = made_motion(Technique(), strokes=2, neutral_rounding_deg=2.0)
    found = analyse_strokes(made.motion, neutral_raw_deg=99.0)
    raw = found.measures["rounding_catch_raw_deg"].values
    np.testing.assert_allclose(found.measures["rounding_catch_deg"].values, raw - 2.0)


@pytest.mark.parametrize(
    "made, says, found",
    [
        (still_motion(noise_px=1.0), "No whole stroke was found", 0),
        (made_motion(Technique(), strokes=1).motion, "Only one whole stroke was found", 1),
    ],
)
def test_too_few_strokes_is_said_plainly_with_what_to_film(made, says, found):
    with pytest.raises(TooFewStrokesError) as told:
        analyse_strokes(made)
    assert str(told.value).startswith(says) and told.value.found == found
    assert "Film" in str(told.value) and "first catch" in str(told.value)


def test_a_clip_of_a_few_frames_is_too_short_and_no_crash():
    made = made_motion(Technique(), strokes=2)
    few = {k: (v[:5] if isinstance(v, np.ndarray) else v) for k, v in made.motion.__dict__.items()}
    with pytest.raises(TooFewStrokesError):
        analyse_strokes(type(made.motion)(**few))


def test_missing_errors_of_angles_do_not_stop_anything():
    made = made_motion(STAGES["half_slide"], strokes=2, noise_px=0.5)
    se = np.full_like(made.motion.angle_se_deg, np.nan)
    changed = type(made.motion)(
        **{**made.motion.__dict__, "angle_se_deg": se, "angle_bias_se_deg": se}
    )
    found = analyse_strokes(changed, stage="half_slide")
    assert np.isfinite(found.measures["shin_catch_deg"].se).all()
    assert np.all(found.measures["shin_catch_deg"].se > 0)  # its noise shows by itself
