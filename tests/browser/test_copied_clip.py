"""The page steps in an undrawn clip that was copied from a phone's file, not encoded again."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from pages import Watched, open_page
from test_player import frame_of, settle, shown

from analysis.clip import Clip
from analysis.output.timing import timing
from analysis.output.write import write_review
from analysis.result import Review


def filmed(review: Review, path: Path, turn_deg: int) -> Review:
    """Return the review of the same pictures as a phone files them: turned, late, reordered.

    `turn_deg` is counter-clockwise, as in the display matrix.
    """
    with Clip(review.source) as clip, av.open(str(path), "w") as out:
        stream: Any = out.add_stream("libx264", rate=30, options={"g": "25", "bf": "3"})
        width, height = review.pose.clip.width_px, review.pose.clip.height_px
        stream.width, stream.height = (height, width) if turn_deg % 180 else (width, height)
        stream.pix_fmt = "yuv420p"
        stream.codec_context.time_base = stream.time_base = Fraction(1, 50_000)
        stream.set_display_rotation(turn_deg)
        for frame in clip:
            # Turned the other way, so that it is upright when turned back.
            turned = np.ascontiguousarray(np.rot90(frame.rgb, -turn_deg // 90))
            picture = av.VideoFrame.from_ndarray(turned, format="rgb24")
            picture.pts = round((frame.t_s + 1.25) / stream.time_base)
            picture.time_base = stream.time_base
            out.mux(stream.encode(picture))
        out.mux(stream.encode(None))
    return replace(review, source=str(path))


@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
def test_every_step_shows_the_same_picture_undrawn(
    watched: Watched, made: Review, tmp_path: Path, turn_deg: int
) -> None:
    review = filmed(made, tmp_path / "phone.mp4", turn_deg)
    folder = write_review(review, tmp_path / "out")
    with av.open(str(folder / "plain.mp4")) as container:
        pts = [packet.pts for packet in container.demux(video=0) if packet.size]
    assert pts != sorted(pts), "it was encoded again: our own clips have no reordered pictures"
    with Clip(folder / "plain.mp4") as clip:
        seen = [(frame.luma(160, 90).astype(float), frame.t_s) for frame in clip]
    np.testing.assert_allclose([t_s for _, t_s in seen], timing(review).shown_s, atol=1e-4)
    upright = [picture for picture, _ in seen]
    page = open_page(watched, folder / "report.html")
    page.get_by_role("button", name="Drawing").click()
    page.wait_for_selector("#plain", state="visible")
    settle(page)
    for stop in ("Release 1", "Catch 2", "Release 3"):
        page.get_by_role("button", name=stop, exact=True).click()
        settle(page)
        assert shown(page, upright, frame_of(page), "#plain") == frame_of(page)
        for way in ("One picture on", "One picture on", "One picture back"):
            page.get_by_role("button", name=way).click()
            settle(page)
            assert shown(page, upright, frame_of(page), "#plain") == frame_of(page)
    assert not watched.complaints
