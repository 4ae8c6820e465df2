"""What frames are called: a catch or release is found where somebody looks for it."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.output.frame_names import frame_names
from analysis.output.language import ENGLISH
from analysis.output.moment import Moments
from analysis.output.page_data import page_data
from analysis.output.timing import timing
from analysis.result import Review


@pytest.fixture(params=[-0.4, 0.4], ids=["frame before", "frame after"])
def between(request: pytest.FixtureRequest, review: Review) -> Review:
    """The review with catch and release of each stroke a part of a frame off the frame near it."""
    t_s, strokes = review.motion.t_s, review.strokes
    step_s = float(np.median(np.diff(t_s)))

    def moved(events_s: np.ndarray) -> np.ndarray:
        nearest = np.abs(t_s[:, None] - events_s).argmin(axis=0)
        return t_s[nearest] - request.param * step_s

    catch_s, release_s = moved(strokes.catch_s), moved(strokes.release_s)
    ends_s = np.append(catch_s[1:], moved(strokes.next_catch_s[-1:]))
    stroke, phase = np.zeros_like(strokes.stroke), np.full_like(strokes.phase, "")
    for k in range(strokes.count):
        inside = (t_s >= catch_s[k]) & (t_s < ends_s[k])
        stroke[inside] = k + 1
        phase[inside] = np.where(t_s[inside] < release_s[k], "drive", "recovery")
    strokes = replace(
        strokes, catch_s=catch_s, release_s=release_s, next_catch_s=ends_s, stroke=stroke,
        phase=phase,
    )  # fmt: skip
    return replace(review, strokes=strokes)


def test_the_nearest_frame_is_called_by_catch_and_release(between: Review) -> None:
    moments = Moments(between, 1.0)
    strokes = between.strokes
    for k in range(strokes.count):
        for name, at_s in (("catch", strokes.catch_s[k]), ("release", strokes.release_s[k])):
            seen = moments.at(moments.nearest(float(at_s)))
            assert (seen.phase, seen.stroke) == (name, k + 1)
            assert 0.0 <= seen.along <= 1.0 and seen.show


def test_the_page_calls_frames_as_the_clip_does(between: Review) -> None:
    data = page_data(between, timing(between), ENGLISH)
    names = frame_names(between)
    moments = Moments(between, 1.0)
    for k, stroke in enumerate(data["strokes"], 1):
        first, end = stroke["frames"]
        assert {moments.at(i).stroke for i in range(first, end)} == {k}
        assert first == moments.nearest(float(between.strokes.catch_s[k - 1]))
    letters = {"": "-", "catch": "c", "drive": "d", "release": "r", "recovery": "v"}
    assert data["phases"] == "".join(letters[str(name)] for name in names.phase)


def test_nothing_else_is_called_otherwise(review: Review) -> None:
    names, strokes = frame_names(review), review.strokes
    other = np.flatnonzero(names.phase != strokes.phase)
    assert len(other) <= 2 * strokes.count
    assert frame_names(replace(review, strokes=strokes)).frames_of(99) == (0, 0)
