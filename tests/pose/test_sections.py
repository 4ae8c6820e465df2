"""A clip cut into sections: where, and that nobody can tell from the result."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.clip import ClipFacts
from analysis.pose import follow
from analysis.pose.estimate import estimate_pose
from analysis.pose.sections import LEAST_S, LONGEST_S, WARM_UP_S, Section, sections
from analysis.pose.track import PoseTrack
from tests.pose.test_estimate import CLIP, needs_clip

SOUND = ClipFacts("ann.mp4", "0" * 64, 300, 30.0, 640, 360, 10.0)


@given(
    seconds=st.floats(1.0, 700.0),
    fps=st.sampled_from([15.0, 29.97, 60.0]),
    uneven=st.floats(0.0, 0.4),
)
def test_every_frame_is_in_one_section(seconds: float, fps: float, uneven: float) -> None:
    rng = np.random.default_rng(1)
    count = max(2, int(seconds * fps))
    t_s = (np.arange(count) + uneven * rng.uniform(-1, 1, count)) / fps
    parts = sections(t_s, SOUND)
    assert parts[0].warm == parts[0].start == 0 and parts[-1].end == count
    assert all(a.end == b.start for a, b in pairwise(parts))
    assert len(parts) == 1 or len(parts) % 2 == 0
    assert (len(parts) == 1) == (t_s[-1] - t_s[0] < 2 * LEAST_S)
    for part in parts[1:]:
        assert t_s[part.end - 1] - t_s[part.start] <= LONGEST_S
        assert t_s[part.start] - t_s[part.warm] <= WARM_UP_S + 1e-6
        assert t_s[part.start] - t_s[part.warm - 1] > WARM_UP_S - 1e-6


@pytest.mark.parametrize("what", ["damaged_packets", "dropped_frames", "guessed_times"])
def test_a_clip_that_cannot_be_entered_in_the_middle_is_left_whole(what: str) -> None:
    facts = ClipFacts("ann.mp4", "0" * 64, 300, 30.0, 640, 360, 10.0, **{what: 1})
    assert sections(np.arange(300) / 30, facts) == [Section(0, 0, 300)]


@pytest.fixture(scope="module")
def runs() -> dict[str, PoseTrack]:
    """The same 5 s on all cores, on one, and in one piece."""

    def run() -> PoseTrack:
        return estimate_pose(CLIP, to_s=5.0)

    with pytest.MonkeyPatch.context() as patch:
        many = run()
        patch.setenv("SIDEON_CORES", "1")
        one_core = run()
        patch.setattr(follow, "sections", lambda t_s, facts: [Section(0, 0, len(t_s))])
        return {"many": many, "one core": one_core, "whole": run()}


@needs_clip
def test_the_number_of_cores_changes_nothing(runs: dict[str, PoseTrack]) -> None:
    one, two = runs["many"], runs["one core"]
    assert len(sections(one.t_s, one.clip)) == 2
    for model in one.landmarks:
        a, b = one.landmarks[model], two.landmarks[model]
        assert np.array_equal(a.xy_px, b.xy_px, equal_nan=True)
        assert np.array_equal(a.score, b.score)
    assert np.array_equal(one.outline_px, two.outline_px, equal_nan=True)


@needs_clip
def test_the_seam_does_not_show(runs: dict[str, PoseTrack]) -> None:
    """What the cut changes is no more than the landmarks' own noise, and no step at the cut.

    The landmarker looks where it last saw the person, so that once started elsewhere it never
    gives quite the same again. Its noise: how far a point lies off the middle of the frames
    before and after.
    """
    cut, whole = runs["many"], runs["whole"]
    assert np.array_equal(
        cut.landmarks["thunder"].xy_px, whole.landmarks["thunder"].xy_px, equal_nan=True
    )
    # Of the landmarker's own frames: the models take turns.
    asked = cut.landmarks["mediapipe"].looked_at
    seam = int(asked[: sections(cut.t_s, cut.clip)[1].start].sum())
    a = cut.landmarks["mediapipe"].xy_px[asked]
    b = whole.landmarks["mediapipe"].xy_px[asked]
    assert np.array_equal(a[:seam], b[:seam], equal_nan=True)
    # The near side's shoulder, elbow, wrist, hip, knee, ankle, toe: what is measured.
    names = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "foot_index")
    at = [cut.landmarks["mediapipe"].names.index(f"{cut.near}_{name}") for name in names]
    changed = np.linalg.norm(a - b, axis=2)[seam:, at]
    off_px = np.linalg.norm(a[1:-1] - (a[:-2] + a[2:]) / 2, axis=2)[:, at]
    noise = float(np.nanmean(off_px))
    step = float(np.nanmean(off_px[seam - 2 : seam + 1]))
    print(f"changed {np.nanmean(changed):.2f}, noise {noise:.2f}, at the cut {step:.2f} px")
    assert np.nanmean(changed) < noise
    assert step < 2 * noise
