"""Every drawer: the same call, inside the frame, and nothing drawn of what is not known."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.motion.motion import ANGLES, JOINTS
from analysis.output.angle_arcs import AngleArcs, Number, free_top
from analysis.output.annotated import Drawer, drawers
from analysis.output.back_shape import BackShape, back_points
from analysis.output.labels import Labels
from analysis.output.moment import BAND_UNITS, Moment, Note
from analysis.output.notes import Notes
from analysis.output.palette import BODY
from analysis.output.phase_band import PhaseBand
from analysis.output.skeleton import Skeleton
from analysis.output.text import Picture, plate
from analysis.result import Review

PLACES = {
    "ear": (420, 150), "shoulder": (400, 200), "elbow": (470, 260), "wrist": (540, 270),
    "hip": (340, 340), "knee": (500, 300), "ankle": (560, 400), "heel": (545, 410),
    "toe": (600, 380),
}  # fmt: skip
DRAWERS = [Skeleton(), AngleArcs(), PhaseBand(), Labels("Ann · Full slide"), Notes(), BackShape()]


def moment_of() -> Moment:
    """A moment in which every drawer has something to draw."""
    joints = np.array([PLACES[name] for name in JOINTS], dtype=float)
    turn = np.linspace(0, 2 * np.pi, 256, endpoint=False)
    # The trunk's axis leans 23° forward; its outline is an ellipse along it.
    along, across = np.array([60.0, -140.0]), np.array([-28.0, -12.0])
    trunk = joints[JOINTS.index("hip")] + 0.5 * along
    outline = trunk + 0.75 * np.cos(turn)[:, None] * along + np.sin(turn)[:, None] * across
    return Moment(
        t_s=1.0,
        joints_px=joints,
        outline_px=outline,
        sure=np.ones(len(JOINTS), dtype=np.bool_),
        angles_deg=np.linspace(10, 150, len(ANGLES)),
        angle_se_deg=np.full(len(ANGLES), 2.0),
        show=("trunk_deg", "shin_deg", "knee_deg", "elbow_deg"),
        phase="drive",
        stroke=2,
        strokes=5,
        along=0.3,
        release_along=0.4,
        notes=(Note("The back rounds", "back", True),),
        slowed=4.0,
        up=(0.0, -1.0),
        feet=1,
        notes_on_top=True,
        note_room_px=200.0,
        unit=1.0,
    )


def drawn(drawer: Drawer, moment: Moment) -> Picture:
    frame = np.full((540, 960, 3), 120, dtype=np.uint8)
    drawer.draw(frame, moment)
    return frame


@pytest.mark.parametrize("drawer", DRAWERS, ids=lambda d: type(d).__name__)
def test_draws_in_place(drawer: Drawer) -> None:
    assert (drawn(drawer, moment_of()) != 120).any()


@pytest.mark.parametrize("drawer", DRAWERS, ids=lambda d: type(d).__name__)
def test_nothing_known_nothing_claimed(drawer: Drawer) -> None:
    """With no joint, angle or stroke known no limb, arc or number is made up."""
    nothing = replace(
        moment_of(),
        joints_px=np.full((len(JOINTS), 2), np.nan),
        outline_px=np.full((256, 2), np.nan),
        angles_deg=np.full(len(ANGLES), np.nan),
        phase="",
        stroke=0,
        along=np.nan,
        release_along=np.nan,
        notes=(),
    )
    frame = drawn(drawer, nothing)
    assert (frame[120:420] == 120).all()


@pytest.mark.parametrize("drawer", DRAWERS, ids=lambda d: type(d).__name__)
@pytest.mark.parametrize("unit", [0.3, 2.4])
def test_any_size(drawer: Drawer, unit: float) -> None:
    size = (round(540 * unit), round(960 * unit), 3)
    moment = moment_of()
    moment = replace(moment, unit=unit, joints_px=moment.joints_px * unit)
    frame = np.full(size, 120, dtype=np.uint8)
    drawer.draw(frame, moment)
    assert frame.shape == size


@pytest.mark.parametrize("drawer", DRAWERS, ids=lambda d: type(d).__name__)
def test_far_outside_is_harmless(drawer: Drawer) -> None:
    moment = moment_of()
    drawn(drawer, replace(moment, joints_px=moment.joints_px + 1e7))


def test_uncertain_limbs_are_dashed_and_joints_hollow() -> None:
    sure = moment_of()
    unsure = replace(sure, sure=np.zeros(len(JOINTS), dtype=np.bool_))
    whole, dashed = (drawn(Skeleton(), m).astype(int) for m in (sure, unsure))
    hip, shoulder = (np.array(PLACES[name]) for name in ("hip", "shoulder"))
    along = [hip + share * (shoulder - hip) for share in np.linspace(0.15, 0.85, 60)]
    left_free = [(f[round(y), round(x)] == 120).all() for f in (whole, dashed) for x, y in along]
    assert not any(left_free[:60]) and 10 < sum(left_free[60:]) < 50
    x, y = PLACES["hip"]
    assert abs(whole[y, x] - BODY).max() < 5 and abs(dashed[y, x] - BODY).max() > 100


def test_vertical_leans_with_the_room() -> None:
    """With an upright edge leaning 10° clockwise the reference is drawn along it."""
    tilt = np.radians(10.0)
    moment = replace(moment_of(), show=("trunk_deg",), up=(np.sin(tilt), -np.cos(tilt)))
    frame = drawn(AngleArcs(), moment)
    length = np.hypot(60, 140)
    hip = np.array(PLACES["hip"])
    along = [hip + s * length * np.array([np.sin(tilt), -np.cos(tilt)]) for s in (0.4, 0.5, 0.9)]
    assert all((frame[round(y), round(x)] != 120).any() for x, y in along)
    upright = hip + 0.5 * length * np.array([0.0, -1.0])
    assert (frame[round(upright[1]), round(upright[0])] == 120).all()


def test_rough_angles_say_about() -> None:
    sure = replace(moment_of(), show=("trunk_deg",))
    rough = replace(sure, angle_se_deg=np.full(len(ANGLES), 9.0))
    unknown = replace(sure, angle_se_deg=np.full(len(ANGLES), np.nan))
    frames = [drawn(AngleArcs(), m) for m in (sure, rough, unknown)]
    assert (frames[0] != frames[1]).any() and (frames[1] == frames[2]).all()


def test_notes_go_where_the_room_is() -> None:
    above = drawn(Notes(), replace(moment_of(), notes_on_top=True))
    below = drawn(Notes(), replace(moment_of(), notes_on_top=False))
    assert (above[:70] != 120).any() and (above[-140:] == 120).all()
    assert (below[:70] == 120).all() and (below[-140:-52] != 120).any()


def test_second_note_only_with_room() -> None:
    two = (Note("One", "hip", True), Note("Two", "knee", False))
    narrow = replace(moment_of(), notes=two, note_room_px=70.0)
    wide = replace(narrow, note_room_px=200.0)
    assert (drawn(Notes(), narrow)[75:125, :200] == 120).all()
    assert (drawn(Notes(), wide)[75:125, :200] != 120).any()


def test_a_name_that_cannot_be_set_is_left_out() -> None:
    quiet = replace(moment_of(), slowed=1.0, notes=())
    assert (drawn(Labels("美咲"), quiet) == 120).all()
    assert (drawn(Labels("Jörg"), quiet) != 120).any()


def test_band_tells_drive_from_recovery_without_colour() -> None:
    drive = replace(moment_of(), along=0.35)
    recovery = replace(moment_of(), along=0.9)
    bright = [(drawn(PhaseBand(), m)[-52:] > 200).all(axis=2).sum() for m in (drive, recovery)]
    assert bright[0] != bright[1]


def test_back_line_lies_behind_the_trunk() -> None:
    moment = moment_of()
    points = back_points(moment)
    known = points[np.isfinite(points).all(axis=1)]
    hip, shoulder = (np.array(PLACES[name], dtype=float) for name in ("hip", "shoulder"))
    axis = shoulder - hip
    sides = axis[0] * (known[:, 1] - hip[1]) - axis[1] * (known[:, 0] - hip[0])
    # Feet on the right: behind the back is left of the line hip → shoulder (y down).
    assert len(known) > 20 and (sides < 0).all()


def test_a_neighbours_legs_are_not_drawn_as_the_back() -> None:
    moment = moment_of()
    outline = moment.outline_px.copy()
    hip, shoulder = (np.array(PLACES[name], dtype=float) for name in ("hip", "shoulder"))
    axis = shoulder - hip
    along = (outline - hip) @ axis / (axis @ axis)
    behind = axis[0] * (outline[:, 1] - hip[1]) - axis[1] * (outline[:, 0] - hip[0]) < 0
    legs = behind & (along > -0.1) & (along < 0.1)
    outline[legs] += 0.8 * np.array([axis[1], -axis[0]])
    before, after = back_points(moment), back_points(replace(moment, outline_px=outline))
    gone = np.isfinite(before[:, 0]) & np.isnan(after[:, 0])
    assert gone[2:5].all() and not gone[8:].any()  # levels −0.05 to 0.05; from 0.25 on


def box_of(number: Number, top: float, size: tuple[int, int]) -> tuple[float, float, float, float]:
    what, left, _ = number
    x = min(max(0.0, left), max(0.0, size[1] - what.width))
    return x, top, x + what.width, top + what.height


@given(
    st.lists(st.tuples(st.floats(-80, 700), st.floats(-80, 400)), min_size=2, max_size=4),
    st.sampled_from([20, 31]),
)
def test_no_number_covers_another(places: list[tuple[float, float]], size_px: int) -> None:
    size, taken = (360, 640), []
    for k, (left, top) in enumerate(places):
        number = (plate(f"knee {100 + k}°", size_px), left, top)
        found = free_top(size, number, [tuple(map(round, box)) for box in taken], 5.0)
        taken.append(box_of(number, found, size))
        assert 0 <= found <= size[0] - number[0].height
    for a, b in itertools.combinations(taken, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] + 1 or b[3] <= a[1] + 1


def test_a_number_with_room_stays_where_it_belongs() -> None:
    number = (plate("knee 110°", 31), 100.0, 120.0)
    assert free_top((360, 640), number, [(400, 100, 500, 160)], 5.0) == 120.0


def test_the_knees_number_leaves_the_hands_to_be_seen() -> None:
    """Hands and forearm go by above the knee; its number stands below, and above the band."""
    for knee_y in (300, 470):
        moment = replace(moment_of(), show=("knee_deg",))
        joints = moment.joints_px.copy()
        joints[JOINTS.index("knee"), 1] = knee_y
        drawn = np.full((540, 960, 3), 128, np.uint8)
        AngleArcs().draw(drawn, replace(moment, joints_px=joints))
        if knee_y == 300:
            assert (drawn[: knee_y - 5] == 128).all()
        rows = np.flatnonzero((drawn != 128).any(axis=(1, 2)))
        assert rows.max() <= 540 - BAND_UNITS * moment.unit


def test_rings_lie_below_the_numbers(review: Review) -> None:
    layers = [type(layer) for layer in drawers(review)]
    assert layers.index(Notes) < layers.index(AngleArcs)
