import math

import numpy as np
import pytest

from analysis.motion import view
from analysis.motion.motion import JOINTS
from analysis.motion.plane import turn_matrix

TRUNK_PX, SIZE = 120.0, (960, 540)
CUES = {
    (0, JOINTS.index(name)): view.DepthCue(np.zeros(2), 0.01)
    for name in ("shoulder", "hip", "ankle")
}


def camera_at(yaw_deg: float) -> view.View:
    distance, focal = view.distance_and_focal(TRUNK_PX, SIZE[0])
    side = np.array([479.5 + focal * math.tan(math.radians(yaw_deg)), 150.0])
    return view.View(side, distance, focal, yaw_deg)


def sitting(frames: int = 30) -> np.ndarray:
    """A body in the middle plane, px [shape=(T, J, 2)] (made here)."""
    one = np.array(
        [[420, 130], [410, 190], [450, 250], [520, 260], [400, 310], [500, 270], [590, 340],
         [585, 360], [620, 340]], dtype=float,
    )  # fmt: skip
    return np.tile(one, (frames, 1, 1))


def test_there_and_back() -> None:
    out = view.stands_out(np.linspace(60, 180, 30), np.linspace(180, 50, 30), "erg")
    seen = view.from_middle_plane(sitting(), out, camera_at(7.0))
    assert view.to_middle_plane(seen, out, camera_at(7.0)) == pytest.approx(sitting(), abs=1e-9)


def test_knees_part_and_elbows_flare_as_they_bend() -> None:
    bends = np.array([175.0, 120.0, 70.0])
    for setting in ("erg", "boat"):
        out = view.stands_out(bends, bends, setting)
        for joint in ("knee", "elbow"):
            assert (np.diff(out[:, JOINTS.index(joint)]) > 0).all()


def test_a_scullers_hands_pass_close_and_the_rest_of_the_body_is_the_same() -> None:
    bends = np.array([175.0, 120.0, 70.0])
    erg, boat = (view.stands_out(bends, bends, setting) for setting in ("erg", "boat"))
    closer = [JOINTS.index(name) for name in ("wrist", "elbow")]
    assert (boat[:, closer] < erg[:, closer] - 0.05).all()
    assert np.delete(boat, closer, axis=1) == pytest.approx(np.delete(erg, closer, axis=1))


def test_an_unknown_bend_counts_as_straight() -> None:
    gone, straight = np.full(2, np.nan), np.full(2, 180.0)
    assert view.stands_out(gone, gone, "erg") == pytest.approx(
        view.stands_out(straight, straight, "erg")
    )


def test_nearer_joints_are_magnified_about_the_side_point() -> None:
    # A joint a depth d nearer is magnified by Z / (Z − d) about V (exact derivation).
    cam = camera_at(0.0)
    out = np.full((1, len(JOINTS)), 0.4)
    seen = view.from_middle_plane(sitting(1), out, cam)
    grown = cam.distance_trunks / (cam.distance_trunks - 0.4)
    assert seen - cam.side_px == pytest.approx((sitting(1) - cam.side_px) * grown)


@pytest.mark.parametrize("yaw_deg", [-10.0, 0.0, 8.0])
@pytest.mark.parametrize("facing", ["left", "right"])
def test_yaw_is_found_from_left_and_right_joints(yaw_deg: float, facing: str) -> None:
    sign = 1.0 if facing == "right" else -1.0
    cam = camera_at(sign * yaw_deg)
    out = view.stands_out(np.full(30, 180.0), np.full(30, 180.0), "erg")
    near = view.from_middle_plane(sitting(), out, cam)
    far = view.from_middle_plane(sitting(), -out, cam)
    found = view.find_view(
        near[None], far[None], CUES, trunk_px=TRUNK_PX, size_px=SIZE, facing=facing,
        turn=turn_matrix(0.0, facing),
    )  # fmt: skip
    assert found.yaw_deg == pytest.approx(yaw_deg, abs=1.0)
    assert found.side_px == pytest.approx(cam.side_px, abs=25)


def test_without_pairs_the_camera_is_taken_as_square_on() -> None:
    gone = np.full((1, 30, len(JOINTS), 2), np.nan)
    found = view.find_view(
        sitting()[None], gone, CUES, trunk_px=TRUNK_PX, size_px=SIZE, facing="right",
        turn=turn_matrix(0.0, "right"),
    )  # fmt: skip
    assert found.yaw_deg == pytest.approx(0.0)
