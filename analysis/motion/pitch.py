"""A camera that looks down, or up, put level: uprights no longer converge.

Seen by a phone held at chest height and tipped down onto a machine, uprights lean one way at the
feet and the other way behind the back, by a degree and more. No single tilt takes that out; it is
taken out by turning the camera level before anything is measured. How far they converge is seen in
the room itself where it has uprights; else it is reckoned from where the horizon seems to be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray

#: The lens is only guessed, and how far uprights converge falls with the square of its focal
#: length: a lens this much longer than guessed is reckoned with, which takes out 70 % of what the
#: guess says and does less harm where somebody zoomed in.
_LONGER_LENS = 1.2

#: How far off that is, degrees of lean from one side of the picture to the other: on 44 rendered
#: clips of known camera.
_RECKONED_SE_DEG = 2.6


@dataclass(frozen=True)
class Level:
    """How pictures of a pitched camera become those of a level one in the same place.

    Attributes
    ----------
    pitch_rad : float
        + the camera looks down.
    focal_px : float
    centre_px : array [shape=(2,)]
        Middle of the picture.
    """

    pitch_rad: float
    focal_px: float
    centre_px: FloatArray

    def put(self, xy_px: FloatArray) -> FloatArray:
        """Return picture points [shape=(..., 2), px, y down] as a level camera shows them."""
        return self._turned(xy_px, self.pitch_rad)

    def back(self, xy_px: FloatArray) -> FloatArray:
        """Return points of the level picture as the camera shows them; inverse of `put`."""
        return self._turned(xy_px, -self.pitch_rad)

    def _turned(self, xy_px: FloatArray, by_rad: float) -> FloatArray:
        ray = (xy_px - self.centre_px) / self.focal_px
        across, down = ray[..., 0], ray[..., 1]
        ahead = math.cos(by_rad) - down * math.sin(by_rad)
        seen = np.stack([across, down * math.cos(by_rad) + math.sin(by_rad)], axis=-1)
        return np.asarray(self.centre_px + self.focal_px * seen / ahead[..., None])

    def lean_deg(self, lean_deg: float, at_px: FloatArray) -> float:
        """Return how an upright leans in the level picture.

        Parameters
        ----------
        lean_deg : float
            Its lean in the picture, degrees, + clockwise; NaN stays NaN.
        at_px : array [shape=(2,)]
            Where.
        """
        lean = math.radians(lean_deg)
        run = np.array([math.sin(lean), -math.cos(lean)])
        below, above = self.put(at_px - 0.5 * run), self.put(at_px + 0.5 * run)
        across, down = above - below
        return math.degrees(math.atan2(across, -down))


def level_by(
    side_px: FloatArray,
    focal_px: float,
    size_px: tuple[int, int],
    converge_deg: float = math.nan,
    converge_se_deg: float = math.nan,
) -> Level:
    """Return what puts a camera level.

    Parameters
    ----------
    side_px : array [shape=(2,)]
        Where the picture shows the direction straight out of the athlete's side: a level one.
    focal_px : float
        As guessed.
    size_px : (width, height)
    converge_deg, converge_se_deg : float
        How much more uprights lean to the right at the picture's right edge than at its left, as
        seen, degrees; NaN where none were seen.
    """
    centre = (np.array(size_px) - 1.0) / 2.0
    focal_px = _LONGER_LENS * focal_px
    # An upright at x px from the middle leans by x · tan(pitch) ÷ focal length.
    each_px = float(centre[1] - side_px[1]) / focal_px**2
    if math.isfinite(converge_deg):
        seen, reckoned = converge_se_deg**-2, _RECKONED_SE_DEG**-2
        seen_each_px = math.radians(converge_deg) / size_px[0]
        each_px = (seen * seen_each_px + reckoned * each_px) / (seen + reckoned)
    return Level(math.atan(each_px * focal_px), focal_px, centre)
