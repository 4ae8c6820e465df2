from itertools import pairwise

import numpy as np

from analysis.stroke.phases import phase_of_frames
from tests.made_motion import Technique, made_motion
from tests.stroke_helpers import read_motion


def test_every_frame_of_a_whole_stroke_has_its_phase_in_order():
    made = made_motion(Technique(front_hold_s=0.1, back_hold_s=0.1), strokes=4, fps=60)
    events, _ = read_motion(made.motion)
    t = made.motion.t_s
    phase, stroke = phase_of_frames(t, events)
    inside = (t >= events.catch_s[0]) & (t < events.next_catch_s[-1])
    assert np.array_equal(phase != "", inside)
    assert np.array_equal(stroke > 0, inside)
    assert stroke.max() == 4 and np.all(np.diff(stroke[inside]) >= 0)
    for k in range(4):
        mine = phase[stroke == k + 1]
        changes = [str(mine[0]), *(str(b) for a, b in pairwise(mine) if a != b)]
        assert changes == ["drive", "release", "recovery", "catch"]


def test_phases_agree_with_the_truth_but_for_frames_at_the_edges():
    made = made_motion(Technique(), strokes=4, fps=60)
    events, _ = read_motion(made.motion)
    phase, _ = phase_of_frames(made.motion.t_s, events)
    for catch, release in zip(made.truth.catch_s, made.truth.release_s, strict=True):
        inner = (made.motion.t_s > catch + 0.01) & (made.motion.t_s < release - 0.01)
        assert np.all(phase[inner] == "drive")
