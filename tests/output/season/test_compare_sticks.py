"""Before and after as stick figures: the same body lies on itself, a change is seen."""

import re
from dataclasses import replace

import numpy as np
import pytest
from test_compare_files import measured

from analysis.motion.motion import JOINTS
from analysis.output.season.compare_sticks import joints_in_trunks, mean_sticks
from analysis.output.stick_figures import PHASES


@pytest.mark.parametrize("facing, size", [("right", 1.0), ("left", 1.0)])
def test_place_side_and_a_moving_camera_drop_out(facing, size):
    one, other = measured(), measured(facing=facing, size=size)
    sway = 30.0 * np.sin(other.t_s)[:, None, None] * np.array([1.0, 0.3])
    moved = replace(other, joints_px=other.joints_px * 2.5 + sway)
    np.testing.assert_allclose(
        joints_in_trunks(moved, 1 / 3), joints_in_trunks(one, 1 / 3), atol=1e-9
    )


def test_joints_are_read_at_the_events():
    clip = measured()
    joints = joints_in_trunks(clip, clip.drive_share)
    hip, ankle, shoulder = (
        clip.joints_px[:, JOINTS.index(n)] for n in ("hip", "ankle", "shoulder")
    )
    trunk = np.median(np.hypot(*(shoulder - hip).T))
    for p, events in (
        (PHASES.index("catch"), clip.catch_s),
        (PHASES.index("release"), clip.release_s),
    ):
        for k, at_s in enumerate(events):
            ahead = np.interp(at_s, clip.t_s, hip[:, 0] - ankle[:, 0]) / trunk
            assert joints[k, p, JOINTS.index("hip"), 0] == pytest.approx(ahead, abs=1e-9)


def test_the_page_shows_both_and_what_moved():
    before = measured()
    bent = before.joints_px.copy()
    bent[:, JOINTS.index("wrist"), 1] -= 20.0  # hands 20 px higher throughout
    picture = mean_sticks([before], [replace(before, joints_px=bent)])
    assert [look for look, _ in picture.key] == ["dashed", "full"]
    assert picture.key[0][1] == "before, mean of 3 strokes"
    ends = {}
    for look in ("dashed", "full"):
        path = re.search(rf'class="stick {look}"><path d="([^"]+)"', picture.panels[0].svg).group(1)
        body = path.split(" M")[0]
        ends[look] = [float(v) for v in body.split("L")[-1].split()]
    trunk = np.hypot(20, 70)  # of the made body: shoulder 20 px ahead of the hip and 70 px above
    assert ends["dashed"][1] - ends["full"][1] == pytest.approx(100 * 20 / trunk, abs=0.2)
    assert ends["dashed"][0] == pytest.approx(ends["full"][0], abs=0.2)


def test_nothing_without_strokes():
    empty = replace(
        measured(), **dict.fromkeys(("catch_s", "release_s", "next_catch_s"), np.array([]))
    )
    assert mean_sticks([empty], [measured()]) is None
