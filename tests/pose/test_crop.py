"""The square crop: holds the athlete, moves slowly, and maps points truly."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose import crop
from tests.pose import made_people as made

TIMES = np.arange(0, 12, 0.25)


def test_holds_the_whole_stroke() -> None:
    track = made.track(TIMES, [made.person(made.rowing(t)) for t in TIMES])
    plan = crop.plan(track)
    for t in np.arange(0, 12, 0.04):
        left, top, side = plan.at(t)
        one = made.person(made.rowing(t))
        assert (one.xy_px >= (left, top)).all() and (one.xy_px <= (left + side, top + side)).all()
    # Still camera: the square hardly moves while the hands go 0.6 statures to and fro.
    assert np.ptp(plan.centre_px[4:-4], axis=0).max() < 0.04 * plan.side_px.max()


def test_follows_across_gaps_and_movement() -> None:
    people = [made.person(made.rowing(t), at_px=(300 + 60 * t, 400)) for t in TIMES]
    track = made.track(
        TIMES, [None if 3 < t < 5 else p for t, p in zip(TIMES, people, strict=True)]
    )
    plan = crop.plan(track)
    for t, one in zip(TIMES, people, strict=True):
        left, top, side = plan.at(float(t))
        inside = (one.xy_px > (left, top)) & (one.xy_px < (left + side, top + side))
        assert inside.mean() > 0.95


def test_holds_whom_somebody_covers_where_they_were_before_and_after() -> None:
    # Covered from just before one release to just after the next: seen there is only the catch,
    # and all along the other one's box, a trunk further on.
    people = [made.person(made.rowing(t)) for t in TIMES]
    track = made.track(TIMES, people)
    covered = (TIMES > 2.2) & (TIMES < 5.3)
    track.unsure[covered] = True
    for at in np.flatnonzero(covered):
        track.box_px[at] = people[5].box_px + np.array([100, 0, 100, 0])
        track.xy_px[at] = people[5].xy_px + np.array([100, 0])
    missed = {}
    for held in (True, False):
        plan = crop.plan(track, held=held)
        squares = [plan.at(float(t)) for t in TIMES[covered]]
        inside = [
            (one.xy_px >= (left, top)).all() and (one.xy_px <= (left + side, top + side)).all()
            for (left, top, side), one in zip(squares, np.array(people)[covered], strict=True)
        ]
        missed[held] = int(np.sum(~np.array(inside)))
    assert missed[True] == 0 < missed[False]


def test_one_stray_box_does_not_blow_it_up() -> None:
    people = [made.person(made.rowing(t)) for t in TIMES]
    usual = crop.plan(made.track(TIMES, people)).side_px.max()
    track = made.track(TIMES, people)
    track.box_px[20] += (-600, -300, 600, 300)
    assert crop.plan(track).side_px.max() < 1.3 * usual


def test_close_crop_goes_along_with_a_jerked_camera() -> None:
    frames = np.arange(0, 11.75, 0.04)
    jerk = np.stack([-20 * frames + 9 * np.sin(9 * frames), 7 * np.sin(7 * frames)], axis=1)
    at = [tuple(np.interp(t, frames, jerk[:, k]) + (600, 400)[k] for k in (0, 1)) for t in TIMES]
    people = [made.person(made.rowing(t), at_px=a) for t, a in zip(TIMES, at, strict=True)]
    track = made.track(TIMES, people)
    close, wide = crop.plan_close(track, frames, jerk), crop.plan(track)
    for t, by in zip(frames, jerk, strict=True):
        left, top, side = close.at(float(t))
        one = made.person(made.rowing(t), at_px=(600 + by[0], 400 + by[1]))
        assert (one.xy_px >= (left, top)).all() and (one.xy_px <= (left + side, top + side)).all()
    assert np.median(close.side_px) < 0.8 * np.median(wide.side_px)


def test_close_crop_does_not_believe_every_jump_of_the_background() -> None:
    frames = np.arange(0, 11.75, 0.04)
    track = made.track(TIMES, [made.person(made.rowing(t)) for t in TIMES])
    lost = np.zeros((len(frames), 2))
    lost[np.isin(np.arange(len(frames)) % 25, (3, 4))] = 500.0
    calm = crop.plan_close(track, frames, np.zeros_like(lost))
    fooled = crop.plan_close(track, frames, lost)
    trunk = made.TRUNK * 300.0  # statures × px per stature
    assert np.abs(fooled.centre_px - calm.centre_px).max() <= crop.JERK * trunk + 1e-6


@pytest.mark.parametrize("out_px", [384, 96])
def test_cut_maps_places_truly(out_px: int) -> None:
    # A bright dot; its centre of mass in the crop must be where the square says.
    picture = np.zeros((600, 800, 3), np.uint8)
    y, x = np.mgrid[:600, :800]
    spot = np.exp(-((x - 412.0) ** 2 + (y - 233.0) ** 2) / (2 * 6.0**2))
    picture[:] = (255 * spot).astype(np.uint8)[..., None]
    square = (200.3, 100.7, 391.0)
    cut = crop.cut(picture, square, out_px)[..., 0].astype(float)
    assert cut.shape == (out_px, out_px)
    rows, columns = np.mgrid[:out_px, :out_px]
    share = np.array([(columns * cut).sum(), (rows * cut).sum()]) / cut.sum()
    # Pixel centres lie half a pixel in; back to the full picture as the stage does it.
    found = (share + 0.5) / out_px * square[2] + square[:2] - 0.5
    assert found == pytest.approx([412, 233], abs=0.15)


def test_beyond_the_edge_is_black() -> None:
    cut = crop.cut(np.full((100, 100, 3), 200, np.uint8), (-50.0, -50.0, 200.0), 200)
    assert cut[:45].max() == 0 and cut[60:140, 60:140].min() == 200


def test_never_seen() -> None:
    with pytest.raises(ValueError, match="at least once"):
        crop.plan(made.track(TIMES, [None] * len(TIMES)))


def test_nearest_times_are_those_of_a_full_table() -> None:
    rng = np.random.default_rng(5)
    for count in (1, 2, 3, 40):
        known = np.cumsum(rng.uniform(0.1, 0.4, count))
        t_s = np.concatenate([known, rng.uniform(-1, known[-1] + 1, 200)])
        table = np.abs(t_s[:, None] - known[None]).argmin(axis=1)
        assert np.array_equal(crop.nearest_times(known, t_s), table)
