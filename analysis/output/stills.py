"""The catch and release pictures, drawn like the annotated clip but without its band."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2

from analysis.errors import SideonError
from analysis.output.angle_arcs import AngleArcs
from analysis.output.moment import Moments, front_of, nearest_frame, stroke_to_show
from analysis.output.skeleton import Skeleton
from analysis.output.text import Picture
from analysis.result import Review

_QUALITY = 90


def still_frames(review: Review) -> dict[str, int]:
    """Return the frame of each still by file name.

    The stroke is the one that shows the first finding best; its catch picture is taken at full
    compression, where posture at the front is read.
    """
    strokes = review.strokes
    if not strokes.count:
        return {}
    i = stroke_to_show(review)
    front = float(strokes.full_compression_s[i])
    front = front if front == front else front_of(strokes, i)[0]
    return {
        "catch.jpg": nearest_frame(review.motion, front),
        "release.jpg": nearest_frame(review.motion, float(strokes.release_s[i])),
    }


def write_still(path: Path, picture: Picture, index: int, name: str, moments: Moments) -> None:
    """Write one still [shape=(H, W, 3), uint8] with its angles drawn.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    show = ("trunk_deg", "shin_deg") if name == "catch.jpg" else ("trunk_deg", "knee_deg")
    moment = replace(moments.at(index), show=show)
    drawn = picture.copy()
    for layer in (Skeleton(), AngleArcs()):
        layer.draw(drawn, moment)
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(drawn, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, _QUALITY]
    )
    if not done:
        raise SideonError(f"The picture {name} could not be made: try the clip in a smaller size.")
    path.write_bytes(data.tobytes())
