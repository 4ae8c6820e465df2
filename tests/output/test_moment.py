"""What is shown when: angles, notes, the stroke to look at, the room for notes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.motion.motion import JOINTS
from analysis.output import moment
from analysis.output.moment import Moments
from analysis.result import Review


@pytest.fixture(scope="module")
def moments(review: Review) -> Moments:
    return Moments(review, 2.0)


def test_angles_of_the_moment(review: Review, moments: Moments) -> None:
    strokes = review.strokes
    front = moments.at(moments.nearest(strokes.full_compression_s[1]))
    assert front.show == ("trunk_deg", "shin_deg")
    release = moments.at(moments.nearest(strokes.release_s[1]))
    assert release.show == ("trunk_deg", "knee_deg")
    bent = strokes.catch_s[1] + 0.7 * (strokes.release_s[1] - strokes.catch_s[1])
    assert moments.at(moments.nearest(bent)).show == ("trunk_deg", "elbow_deg")
    middle = 0.5 * (strokes.release_s[1] + strokes.next_catch_s[1])
    assert moments.at(moments.nearest(middle)).show == ("trunk_deg",)
    before = moments.at(0)
    assert before.show == () and before.stroke == 0 and np.isnan(before.along)


def test_front_window_follows_full_compression(review: Review) -> None:
    """With the seat foremost before the next catch, the shin is shown there already."""
    early = replace(review.strokes, full_compression_s=review.strokes.full_compression_s - 0.25)
    at_s = float(early.catch_s[2] - 0.3)
    assert moment.angles_to_show(early, 1, at_s, 180.0) == ("trunk_deg", "shin_deg")
    assert moment.angles_to_show(review.strokes, 1, at_s, 180.0) == ("trunk_deg",)


def test_joints_are_scaled_and_stroke_goes_from_0_to_1(review: Review, moments: Moments) -> None:
    index = moments.nearest(review.strokes.release_s[0])
    now = moments.at(index)
    np.testing.assert_allclose(now.joints_px, 2.0 * review.motion.joints_px[index])
    assert now.along == pytest.approx(now.release_along, abs=0.03)
    assert now.release_along == pytest.approx(0.4)  # as the rower is made
    assert now.unit == pytest.approx(360 / 540)


def test_notes_only_for_strokes_past_the_limit(review: Review) -> None:
    """One stroke of three is brought inside its limit: its note goes, the others stay."""
    column = review.strokes.measures["layback_deg"]
    inside = replace(column, values=np.array([26.0, 12.0, 26.0]))
    changed = replace(
        review,
        strokes=replace(review.strokes, measures={"layback_deg": inside}),
    )
    starts = [r.start_s for r in moment.remarks(changed)]
    wanted = column.moment_s[[0, 2]] - moment.NOTE_BEFORE_S
    np.testing.assert_allclose(starts, wanted)


def test_no_note_for_what_is_steady(review: Review) -> None:
    rows = tuple(replace(f, level="steady") for f in review.findings.findings)
    calm = replace(review, findings=replace(review.findings, findings=rows))
    assert moment.remarks(calm) == []


def test_first_thing_is_noted_first(review: Review) -> None:
    notes = [r.note for r in moment.remarks(review)]
    assert notes[0].first and not notes[-1].first
    assert notes[0].text == "The body comes over late"
    assert notes[0].joint == "shoulder"


def test_stroke_to_show(review: Review) -> None:
    assert moment.stroke_to_show(review) == 1
    calm = replace(review, findings=replace(review.findings, first_check=None))
    assert moment.stroke_to_show(calm) == 0  # the findings' own typical stroke
    bare = replace(review, findings=replace(calm.findings, findings=()))
    assert moment.stroke_to_show(bare) == 1  # the middle one


def test_unsure_where_bridged_or_identity_is_open(review: Review) -> None:
    uncertain = review.pose.identity_uncertain.copy()
    uncertain[30] = True
    changed = replace(review, pose=replace(review.pose, identity_uncertain=uncertain))
    made = Moments(changed, 1.0)
    elbow = JOINTS.index("elbow")
    assert not made.at(12).sure[elbow] and made.at(12).sure.sum() == len(JOINTS) - 1
    assert not made.at(30).sure.any() and made.at(31).sure.all()


def test_up_follows_the_camera_tilt(review: Review) -> None:
    # + clockwise: an upright edge's top leans right.
    tilted = replace(review, motion=replace(review.motion, tilt_deg=10.0))
    up = Moments(tilted, 1.0).at(0).up
    assert up == pytest.approx((np.sin(np.radians(10)), -np.cos(np.radians(10))))
    unknown = replace(review, motion=replace(review.motion, tilt_deg=float("nan")))
    assert Moments(unknown, 1.0).at(0).up == (0.0, -1.0)


def test_notes_go_above_or_below_by_room(review: Review) -> None:
    joints = review.motion.joints_px.copy()
    low = Moments(review, 1.0).at(0)
    joints[..., 1] -= 75  # the rower higher in the picture
    high = Moments(replace(review, motion=replace(review.motion, joints_px=joints)), 1.0).at(0)
    assert low.notes_on_top and not high.notes_on_top


def test_unit_by_height_and_upright_by_width() -> None:
    assert moment.unit_of(960, 540) == 1.0
    assert moment.unit_of(1280, 720) == pytest.approx(4 / 3)
    assert moment.unit_of(720, 1280) == pytest.approx(720 / 640)
