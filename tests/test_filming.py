import math
from dataclasses import replace

import numpy as np
import pytest
from made_motion import Technique, made_motion

from analysis.filming import filming_quality, what_can_be_told, yaw_effects_deg
from analysis.motion.motion import Motion
from analysis.pose.people import COCO_NAMES
from analysis.pose.track import OUTLINE_POINTS, ClipFacts, LandmarkTrack, PoseTrack
from analysis.result import QualityPoint
from analysis.stroke.analyse import analyse_strokes


@pytest.fixture(scope="module")
def motion() -> Motion:
    made = made_motion(Technique()).motion
    scale = 150.0 / made.segments_px["trunk"]
    segments = {name: px * scale for name, px in made.segments_px.items()}
    return replace(made, segments_px=segments, yaw_deg=2.0, tilt_se_deg=0.4)


def pose(frames: int = 20, fps: float = 30.0, **changes) -> PoseTrack:
    """A well filmed clip, unless changed."""
    facts = ClipFacts("a.mp4", "0", frames, fps, 960, 540, frames / fps)
    turn = np.linspace(0, 2 * np.pi, OUTLINE_POINTS, endpoint=False)
    outline = np.array([480.0, 270.0]) + 200 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    values = {
        "clip": facts,
        "t_s": np.arange(frames) / fps,
        "landmarks": {},
        "outline_px": np.tile(outline, (frames, 1, 1)),
        "facing": "right",
        "people_seen": 1,
        "identity_uncertain": np.zeros(frames, dtype=bool),
        "camera_shift_px": np.zeros((frames, 2)),
        "light": 120.0,
    }
    return PoseTrack(**(values | changes))


def found(key: str, pose: PoseTrack, motion: Motion, strokes: int = 8) -> QualityPoint:
    return next(p for p in filming_quality(pose, motion, strokes) if p.key == key)


def test_a_well_filmed_clip_has_nothing_to_say(motion: Motion) -> None:
    points = filming_quality(pose(), motion, 8)
    assert {point.level for point in points} == {"good"}
    assert not any(point.costs or point.remedy for point in points)


def test_oblique_view_says_what_a_45_degree_line_reads(motion: Motion) -> None:
    point = found("side_on", pose(), replace(motion, yaw_deg=20.0))
    # 45° from horizontal reads 46.78° at a yaw of 20° (tan θ′ = tan θ / cos ψ, exact derivation).
    assert point.level == "poor"
    assert "reads 47°" in point.costs


def test_unknown_yaw_is_not_held_against_the_clip(motion: Motion) -> None:
    assert found("side_on", pose(), replace(motion, yaw_deg=math.nan)).level == "good"


@pytest.mark.parametrize(
    ("key", "pose_changes", "motion_changes", "strokes"),
    [
        ("level", {}, {"tilt_se_deg": 2.0}, 8),
        ("in_frame", {"outline_px": np.zeros((20, OUTLINE_POINTS, 2))}, {}, 8),
        ("light", {"light": 20.0}, {}, 8),
        ("alone", {"identity_uncertain": np.ones(20, dtype=bool)}, {}, 8),
        ("strokes", {}, {}, 2),
        ("strokes", {}, {}, 1),
        ("sharp", {"blur_px": 5.0}, {}, 8),
        (
            "steady",
            {"camera_shift_px": 30.0 * np.random.default_rng(1).normal(size=(20, 2))},
            {},
            8,
        ),
    ],
)
def test_each_failing_says_what_it_costs_and_how_to_film_better(
    motion: Motion, key: str, pose_changes: dict, motion_changes: dict, strokes: int
) -> None:
    point = found(key, pose(**pose_changes), replace(motion, **motion_changes), strokes)
    assert point.level != "good"
    assert point.costs.endswith(".") and point.remedy.endswith(".")


def test_small_athlete_and_few_pictures(motion: Motion) -> None:
    small = replace(motion, segments_px=motion.segments_px | {"trunk": 40.0})
    # √2 / 40 rad = 2.0° (exact for small errors).
    assert "one pixel is 2.0°" in found("size", pose(), small).costs
    assert found("frame_rate", pose(fps=8.0), motion).level == "poor"


def test_angles_of_a_tiny_or_oblique_athlete_are_not_told(motion: Motion) -> None:
    tiny = replace(motion, segments_px=motion.segments_px | {"trunk": 30.0})
    for badly in (tiny, replace(motion, yaw_deg=-30.0)):
        told = what_can_be_told(badly)
        assert np.isnan(told.angles_deg).all()
        assert np.array_equal(told.place_px[..., 0], badly.place_px[..., 0], equal_nan=True)
        assert told.notes
    assert what_can_be_told(motion) is motion


def test_models_that_see_two_bodies_are_told(motion: Motion) -> None:
    """A fifth of the clip in which one model has the shoulder half a trunk away."""
    trunk = motion.segments_px["trunk"]
    right = np.array([300.0 if name.startswith("right") else 600.0 for name in COCO_NAMES])
    down = np.linspace(100.0, 100.0 + 3.0 * trunk, len(COCO_NAMES))
    seen = np.tile(np.stack([right, down], axis=1), (20, 1, 1))
    gone_over = seen.copy()
    gone_over[8:12, COCO_NAMES.index("right_shoulder"), 1] -= 0.5 * trunk
    sure = np.full((20, len(COCO_NAMES)), 0.9)
    tracks = {
        "thunder": LandmarkTrack("thunder", COCO_NAMES, seen, sure),
        "mediapipe": LandmarkTrack("mediapipe", COCO_NAMES, gone_over, sure),
    }
    point = found("alone", pose(landmarks=tracks), motion)
    assert point.level == "fair" and point.value == pytest.approx(0.2)
    assert "20 %" in point.costs
    tracks["mediapipe"] = replace(tracks["mediapipe"], xy_px=seen)
    assert found("alone", pose(landmarks=tracks), motion).level == "good"


def test_slow_panning_is_no_shaking(motion: Motion) -> None:
    pan = np.stack([np.linspace(0, 400, 300), np.zeros(300)], axis=1)
    # At the ends half a window is one-sided: a quarter of a second's pan, 10 px.
    assert found("steady", pose(300, camera_shift_px=pan), motion).level == "good"


def test_oblique_view_makes_angles_against_the_vertical_smaller() -> None:
    effects = yaw_effects_deg(60.0)
    # cos 60° = ½: atan(½ tan 25°) = 13.1°, 11.9° less (exact for a far camera).
    assert effects["trunk at the catch"] == pytest.approx(-11.87, abs=0.01)
    assert list(yaw_effects_deg(0.0).values()) == pytest.approx([0.0, 0.0, 0.0])


def test_small_athlete_keeps_strokes_over_a_lost_catch() -> None:
    made = made_motion(Technique(), strokes=4).motion
    small = replace(made, segments_px=made.segments_px | {"trunk": 34.0})
    whole = analyse_strokes(what_can_be_told(small))
    handle = small.handle_px.copy()
    lost = np.abs(small.t_s - whole.catch_s[1]) < 0.13
    handle[lost] = np.nan
    told = analyse_strokes(what_can_be_told(replace(small, handle_px=handle)))
    assert told.count == whole.count
    assert told.catch_s[1] == pytest.approx(whole.catch_s[1], abs=0.1)
    # The hands' height is not told, and nothing is made up for a longer gap.
    assert np.isnan(told.measures["handle_level_share"].values).all()
    handle[np.abs(small.t_s - whole.catch_s[1]) < 0.4] = np.nan
    assert analyse_strokes(what_can_be_told(replace(small, handle_px=handle))).count < whole.count
