"""Looking for people: a whole crew, beyond the six that the finder names at once."""

from __future__ import annotations

import av
import cv2
import numpy as np
import pytest

from analysis.clip import Clip, Frame
from analysis.frame import Upright
from analysis.pose.model_files import ModelFiles
from analysis.pose.people import HIPS, MOST_AT_ONCE, PeopleFinder, finder_size
from analysis.pose.survey import look
from tests.pose.test_estimate import CLIP, needs_clip


def crew_of(count: int) -> Frame:
    """A picture of the sample clip's rower, `count` times in a row, 180 px apart."""
    with Clip(CLIP) as clip:
        picture = next(iter(clip)).rgb
    body = cv2.resize(picture[60:470, 300:660], None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    crew = np.full((720, 1600, 3), 120, np.uint8)
    for seat in range(count):
        crew[250 : 250 + len(body), 20 + 180 * seat : 200 + 180 * seat] = body
    return Frame(0, 0.0, av.VideoFrame.from_ndarray(crew, format="rgb24"), Upright(1600, 720))


@needs_clip
@pytest.mark.parametrize("count", [1, 8])
def test_everybody_is_found_once(count: int) -> None:
    finder, frame = PeopleFinder(ModelFiles().checked().multipose), crew_of(count)
    people = look(finder, frame)
    assert len(people) == count
    hips = sorted(person.xy_px[HIPS, 0].mean() for person in people)
    assert np.diff(hips) == pytest.approx(180, abs=8)
    width, height, scale = finder_size(1600, 720)
    assert len(finder.run(frame.scaled(width, height), scale)) == min(count, MOST_AT_ONCE)


@pytest.mark.parametrize(
    ("size", "shape"),
    [((960, 540), (288, 512)), ((1920, 1080), (288, 512)), ((1080, 1920), (512, 288))],
)
def test_finder_size_keeps_the_aspect(size: tuple[int, int], shape: tuple[int, int]) -> None:
    width, height, scale = finder_size(*size)
    assert (height, width) == shape
    assert scale == pytest.approx(size[0] / width)
    assert width / height == pytest.approx(size[0] / size[1], rel=0.01)
