"""A small athlete in a boat, filmed by hand: strokes and rate are right, angles are not told."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from analysis.filming import what_can_be_told
from analysis.motion.reconstruct import reconstruct_motion
from analysis.pose.estimate import estimate_pose
from analysis.pose.track import PoseTrack
from analysis.stroke.analyse import analyse_strokes
from tests.made_clips import make_clip
from tests.rendered_truth import read_truth

CLIP = Path(__file__).parents[1] / "sample_clips" / "freya_2026-05-23_boat_sound.mp4"


@pytest.fixture(scope="module")
def pose(tmp_path_factory: pytest.TempPathFactory) -> PoseTrack:
    """The sample boat at 320×240 and 25 pictures a second, shaken: the athlete is 75 px tall."""
    path = tmp_path_factory.mktemp("small") / "boat.mp4"
    rng = np.random.default_rng(5)
    pictures, times = [], []
    with av.open(str(CLIP)) as file:
        for frame in file.decode(video=0):
            t_s = float(frame.pts * frame.time_base)
            if t_s + 1e-6 < len(times) / 25:
                continue
            small = cv2.resize(
                frame.to_ndarray(format="rgb24"), (320, 180), interpolation=cv2.INTER_AREA
            )
            x, y = 5 * np.sin(9.7 * t_s) + 3 * np.sin(17.0 * t_s), 4 * np.sin(11.3 * t_s)
            moved = cv2.warpAffine(
                small,
                np.array([[1.0, 0.0, x], [0.0, 1.0, 30.0 + y]]),
                (320, 240),
                borderMode=cv2.BORDER_REPLICATE,
            )
            noisy = moved + rng.normal(0, 4, moved.shape)
            pictures.append(np.clip(noisy, 0, 255).astype(np.uint8))
            times.append(len(times) / 25)
    make_clip(
        path,
        times_s=times,
        pictures=pictures,
        size=(320, 240),
        codec="mpeg4",
        time_base=Fraction(1, 25_000),
    )
    return estimate_pose(path)


def test_strokes_and_rate_are_right(pose: PoseTrack) -> None:
    truth = read_truth(CLIP.with_suffix(".truth.json"))
    motion = what_can_be_told(reconstruct_motion(pose, setting="boat"))
    strokes = analyse_strokes(motion)
    assert strokes.count == len(truth.strokes)
    # Single catches of an athlete this small are some tenths of a second off; the rate over all
    # strokes is what can be told.
    true_spm = 60.0 / np.mean(np.diff(truth.catches_s))
    told_spm = 60.0 * strokes.count / (strokes.next_catch_s[-1] - strokes.catch_s[0])
    assert told_spm == pytest.approx(true_spm, abs=1.0)
    off_s = np.abs(truth.catches_s[:, None] - strokes.catch_s).min(axis=0)
    assert np.median(off_s) < 0.15


def test_no_angle_of_a_small_athlete_is_told(pose: PoseTrack) -> None:
    motion = what_can_be_told(reconstruct_motion(pose, setting="boat"))
    assert motion.segments_px["trunk"] < 45
    assert np.isnan(motion.angles_deg).all()
