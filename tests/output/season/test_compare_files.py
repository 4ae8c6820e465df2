"""Two strokes in step: times, places, curves, and the clip that is written."""

import csv
import json
import re

import av
import made_season as made
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.clip import Clip
from analysis.errors import SettingsError
from analysis.motion.motion import JOINTS
from analysis.output.season import compare_clip, compare_figures
from analysis.output.season.compare_clip import (
    PANE_H,
    PANE_W,
    Side,
    View,
    joints_at,
    overlay,
    pane_body_px,
    pictures,
    steps,
    time_of,
    write_comparison,
)
from analysis.output.season.compare_figures import stroke_curves
from analysis.output.season.compare_page import _without_face, write_compare
from analysis.output.season.measured import (
    POINTS,
    Measured,
    over_the_stroke,
    read_measured,
    usual_stroke,
)
from analysis.output.tables import ANGLE_COLUMNS
from analysis.output.video import VideoWriter
from analysis.season import read
from analysis.season.compare import compare_sides
from analysis.season.forget import traces
from analysis.season.store import Season

WIDE, HIGH = 320, 240
ANKLE = (230.0, 200.0)


def rower(t_s, catch_s, release_s, next_s, *, facing="right", size=1.0):
    """Joints of a stick figure whose hip goes back and forth between the events, px."""
    knots = sorted([*catch_s, *release_s, next_s[-1]])
    phase = np.interp(t_s, knots, [k % 2 for k in range(len(knots))])
    hip_x = ANKLE[0] - size * (60 + 60 * phase)
    places = {
        "ankle": (np.full_like(t_s, ANKLE[0]), np.full_like(t_s, ANKLE[1])),
        "heel": (np.full_like(t_s, ANKLE[0] - 5), np.full_like(t_s, ANKLE[1] + 5)),
        "toe": (np.full_like(t_s, ANKLE[0] + 15), np.full_like(t_s, ANKLE[1])),
        "knee": ((hip_x + ANKLE[0]) / 2, np.full_like(t_s, ANKLE[1] - size * 50)),
        "hip": (hip_x, np.full_like(t_s, ANKLE[1] - size * 10)),
        "shoulder": (hip_x + size * 20, np.full_like(t_s, ANKLE[1] - size * 80)),
        "ear": (hip_x + size * 22, np.full_like(t_s, ANKLE[1] - size * 105)),
        "elbow": (hip_x + size * 45, np.full_like(t_s, ANKLE[1] - size * 55)),
        "wrist": (hip_x + size * 70, np.full_like(t_s, ANKLE[1] - size * 45)),
    }
    joints = np.stack([np.stack(places[name], axis=1) for name in JOINTS], axis=1)
    if facing == "left":
        joints[..., 0] = WIDE - joints[..., 0]
    return joints


def measured(*, start=0.4, drive=1.0, recovery=2.0, strokes=3, facing="right", size=1.0):
    catch = start + (drive + recovery) * np.arange(strokes)
    release, following = catch + drive, catch + drive + recovery
    # Frames unevenly spaced, as phones film.
    rng = np.random.default_rng(3)
    t_s = np.cumsum(rng.uniform(0.03, 0.05, round((following[-1] + 0.5) / 0.04)))
    t_s -= t_s[0]
    knots = sorted([*catch, *release, following[-1]])
    lean = np.interp(t_s, knots, [25.0 if k % 2 == 0 else -12.0 for k in range(len(knots))])
    return Measured(
        t_s=t_s,
        joints_px=rower(t_s, catch, release, following, facing=facing, size=size),
        filled=np.zeros((len(t_s), len(JOINTS)), dtype=bool),
        angles_deg={name: lean + 10 * i for i, name in enumerate(ANGLE_COLUMNS)},
        catch_s=catch,
        release_s=release,
        next_catch_s=following,
        values={"drive_s": release - catch},
        facing=facing,
        size_px=(WIDE, HIGH),
    )


def film(path, clip):
    """Film the stick figure: a white square on its hip, everything else dark."""
    with VideoWriter(path, WIDE, HIGH) as video:
        for i, t_s in enumerate(clip.t_s):
            picture = np.full((HIGH, WIDE, 3), 30, dtype=np.uint8)
            x, y = clip.joints_px[i, JOINTS.index("hip")].astype(int)
            picture[y - 4 : y + 5, x - 4 : x + 5] = 255
            video.write(picture, float(t_s), 0.04)
    return path


def test_catch_with_catch_and_release_with_release():
    quick = Side("", measured(drive=0.8, recovery=1.0), 1, "Before")
    slow = Side("", measured(drive=1.0, recovery=2.6), 0, "After")
    shown = steps(quick, slow)
    for side in (quick, slow):
        catch, release, following = side.events
        assert time_of(side, 0.0) == catch
        assert time_of(side, 1.0) == release
        assert time_of(side, 2.0) == following
        times = [time_of(side, step.along) for step in shown]
        assert times == sorted(times)
        assert times[0] == catch and times[-1] < following
    words = [step.word for step in shown]
    assert [w for i, w in enumerate(words) if i == 0 or words[i - 1] != w] == [
        "Catch", "Drive", "Release", "Recovery",
    ]  # fmt: skip
    # Drive and recovery last their mean, slowed, besides the two rests.
    lasts = len(shown) / compare_clip.RATE
    expected = (0.9 + 1.8) * compare_clip.SLOWER + 2 * compare_clip.REST_S
    assert lasts == pytest.approx(expected, abs=0.1)


@given(st.floats(0.3, 3.0), st.floats(0.5, 2.0), st.sampled_from(["left", "right"]))
def test_the_same_body_lies_on_itself_whatever_the_camera(zoom, body, facing):
    one = measured()
    other = measured(facing=facing, size=body)
    other = Measured(**{**vars(other), "joints_px": other.joints_px * zoom})
    size = (round(WIDE * zoom), HIGH)
    other = Measured(**{**vars(other), "size_px": size})
    if facing == "left":
        turned = other.joints_px.copy()
        turned[..., 0] += size[0] - WIDE * zoom
        other = Measured(**{**vars(other), "joints_px": turned})
    before, after = Side("", one, 1, ""), Side("", other, 1, "")
    body_px = pane_body_px(before, after)
    placed = [
        View(side, body_px).place(joints_at(side.measured, time_of(side, 0.5))[0])
        for side in (before, after)
    ]
    laid = overlay(placed[0], placed[1], 1.0)
    # The feet are of one size in both figures; everything else scales with the body.
    moving = [JOINTS.index(j) for j in ("knee", "hip", "shoulder", "elbow", "wrist", "ear")]
    np.testing.assert_allclose(laid[moving], placed[1][moving], atol=2.0)
    for joints in placed:
        assert (joints >= 0).all() and (joints <= [PANE_W, PANE_H]).all()


def test_joints_between_frames_and_gaps():
    clip = measured()
    middle = float(clip.t_s[10:12].mean())
    joints, bridged = joints_at(clip, middle)
    np.testing.assert_allclose(joints, clip.joints_px[10:12].mean(axis=0))
    assert not bridged.any()
    np.testing.assert_allclose(joints_at(clip, -5.0)[0], clip.joints_px[0])
    np.testing.assert_allclose(joints_at(clip, 1e6)[0], clip.joints_px[-1])


@pytest.mark.parametrize("facing", ["right", "left"])
def test_the_picture_shows_what_the_joints_say(tmp_path, facing):
    """The square that was filmed on the hip is where the pane's hip joint is, at every step."""
    before = Side(film(tmp_path / "b.mp4", measured()), measured(), 1, "Before")
    clip = measured(drive=0.8, recovery=1.5, facing=facing)
    after = Side(film(tmp_path / "a.mp4", clip), clip, 0, "After")
    body_px = pane_body_px(before, after)
    for n, picture in enumerate(pictures(before, after)):
        if n % 10:
            continue
        along = steps(before, after)[n].along
        for i, side in enumerate((before, after)):
            pane = picture[:, i * PANE_W : (i + 1) * PANE_W]
            joints, _ = joints_at(side.measured, time_of(side, along))
            x, y = View(side, body_px).place(joints)[JOINTS.index("hip")].astype(int)
            near = pane[y - 30 : y + 30, x - 30 : x + 30].astype(int)
            # A frame's time away at most: 0.05 s of 60 px a second, drawn over in the middle.
            assert (near.min(axis=2) > 200).sum() > 100


def test_the_clip_plays(tmp_path):
    sides = [
        Side(film(tmp_path / f"{i}.mp4", clip), clip, i, f"Side {i}")
        for i, clip in enumerate([measured(recovery=1.0, strokes=2)] * 2)
    ]
    target = tmp_path / "in_step.mp4"
    write_comparison(target, *sides)
    with av.open(str(target)) as container:
        shown = sum(1 for _ in container.decode(video=0))
        assert (container.streams.video[0].width, container.streams.video[0].height) == (
            2 * PANE_W, PANE_H,
        )  # fmt: skip
    assert shown == len(steps(*sides))


def test_strokes_of_any_length_fall_onto_each_other():
    clips = [measured(drive=d, recovery=r) for d, r in ((0.8, 1.0), (1.0, 3.0))]
    for clip in clips:
        rows = over_the_stroke(clip, clip.angles_deg["trunk_deg"], 0.4)
        assert rows.shape == (3, POINTS)
        np.testing.assert_allclose(rows[:, 0], 25.0, atol=1.5)
        np.testing.assert_allclose(rows[:, 40], -12.0, atol=1.5)
        np.testing.assert_allclose(rows[:, 20], 6.5, atol=1.5)


def test_a_gap_stays_a_gap():
    clip = measured()
    values = clip.angles_deg["trunk_deg"].copy()
    values[(clip.t_s > clip.catch_s[1]) & (clip.t_s < clip.release_s[1])] = np.nan
    rows = over_the_stroke(clip, values, 1 / 3)
    assert np.isnan(rows[1, 5:28]).all()
    assert np.isfinite(rows[0]).all()
    assert np.isnan(over_the_stroke(clip, np.full(len(clip.t_s), np.nan), 0.4)).all()


def test_curves_say_where_they_differ():
    one, other = measured(), measured()
    lean = other.angles_deg["trunk_deg"]
    shifted = np.where(lean < 0, lean - 15.0, lean)
    other = Measured(**{**vars(other), "angles_deg": {**other.angles_deg, "trunk_deg": shifted}})
    found = {p.key: p for p in stroke_curves([one], [other])}
    assert "15° less after" in found["change-trunk_deg"].alt
    assert "0° " in found["change-knee_deg"].alt
    assert stroke_curves([], [other]) == []


@pytest.mark.parametrize(
    "low, high",
    [(-16.6, -5.3), (-31.0, 27.9), (-4.4, 61.2), (60.3, 174.8), (-17.8, -11.2), (-0.4, 1.3)],
)
def test_every_label_of_a_curve_stands_inside_it(low, high):
    """Below zero too: −5.3 leaves no room for a label at −5."""
    parts = "".join(compare_figures._frame(low, high, 0.4))
    labels = [float(v.replace("−", "-")) for v in re.findall(r">([−0-9]+)°<", parts)]
    assert len(labels) >= 2
    assert all(low <= label <= high for label in labels)


def test_the_usual_stroke():
    clip = measured(strokes=5)
    values = {"a": np.array([1.0, 5.0, 2.0, 2.1, 1.9]), "b": np.array([9.0, 3.0, 3.1, 3.0, np.nan])}
    assert usual_stroke(Measured(**{**vars(clip), "values": values})) in (2, 3)
    nothing = Measured(**{**vars(clip), "catch_s": np.zeros(0), "values": {}})
    with pytest.raises(ValueError, match="none"):
        usual_stroke(nothing)


def test_reading_back_what_a_review_wrote(tmp_path):
    from analysis.output.tables import motion_columns

    clip = measured()
    columns = motion_columns()
    with (tmp_path / "motion.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        for i, t_s in enumerate(clip.t_s):
            cells = {f"{j}_x_px": clip.joints_px[i, k, 0] for k, j in enumerate(JOINTS)}
            cells |= {f"{j}_y_px": clip.joints_px[i, k, 1] for k, j in enumerate(JOINTS)}
            cells |= {name: clip.angles_deg[name][i] for name in ANGLE_COLUMNS}
            cells |= {"time_s": t_s, "filled": "hip wrist" if i == 4 else "", "knee_deg": ""}
            writer.writerow([cells.get(name, "") for name in columns])
    with (tmp_path / "strokes.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["stroke", "catch_s", "release_s", "next_catch_s", "layback_deg", "stage"])
        for i in range(3):
            row = [
                i + 1,
                clip.catch_s[i],
                clip.release_s[i],
                clip.next_catch_s[i],
                "",
                "full_slide",
            ]
            writer.writerow(row)
    (tmp_path / "review.json").write_text(
        json.dumps({"clip": {"facing": "left", "size_px": [WIDE, HIGH]}})
    )
    found = read_measured(tmp_path)
    np.testing.assert_allclose(found.joints_px, clip.joints_px)
    np.testing.assert_allclose(found.angles_deg["trunk_deg"], clip.angles_deg["trunk_deg"])
    assert np.isnan(found.angles_deg["knee_deg"]).all()
    assert [JOINTS[k] for k in np.flatnonzero(found.filled[4])] == ["wrist", "hip"]
    assert (found.strokes, found.facing, found.size_px) == (3, "left", (WIDE, HIGH))
    assert np.isnan(found.values["layback_deg"]).all()
    (tmp_path / "motion.csv").write_text("nothing\n")
    with pytest.raises(SettingsError, match="review the clip again"):
        read_measured(tmp_path)


def test_to_be_shared_the_head_is_gone_from_both_strokes(tmp_path):
    clip = measured(recovery=1.0, strokes=2)
    source = tmp_path / "a.mp4"
    rng = np.random.default_rng(2)
    texture = rng.integers(0, 255, (HIGH, WIDE, 3), dtype=np.uint8)
    with VideoWriter(source, WIDE, HIGH) as video:
        for t_s in clip.t_s:
            video.write(texture, float(t_s), 0.04)
    side = Side(source, clip, 1, "Before")
    shown = _without_face(side, tmp_path / "b.mp4")
    start, _, end = side.events
    ear = clip.joints_px[:, JOINTS.index("ear")]
    checked = 0
    with Clip(source, from_s=start, to_s=end) as one, Clip(shown.path, from_s=start) as other:
        for a, b in zip(one, other, strict=False):
            assert b.t_s == pytest.approx(a.t_s, abs=1e-4)
            x, y = ear[int(np.argmin(np.abs(clip.t_s - a.t_s)))].astype(int)
            around = [
                f.rgb[y - 10 : y + 11, x - 10 : x + 11].astype(float).mean(axis=2) for f in (a, b)
            ]
            assert around[1].std() < 0.25 * around[0].std()
            checked += 1
    assert checked > 40


def test_a_comparison_to_be_shared_is_remembered_and_names_nobody(tmp_path):
    with Season(tmp_path / "season") as season:
        for seed, day in enumerate(("2026-01-12", "2026-03-09")):
            season.save(made.place("Ann", day, f"ann_{day}.mp4"), made.record(seed), made.STANDARD)
        clips = read.clips(season)
        found = compare_sides(season, clips[:1], clips[1:])
        page, problem = write_compare(season, found, out=tmp_path / "out", share=True)
        assert "not where it was" in problem
        text = page.read_text()
        assert "An athlete" in text and "Ann" not in text.replace("An athlete", "")
        assert season.shared() == sorted(("../out", clip.sha256) for clip in clips)
        (page.parent / "in_step.mp4").touch()
        assert [path.name for path in traces(season, "Ann").shared] == ["out"]
