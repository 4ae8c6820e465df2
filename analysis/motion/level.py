"""A camera that looks down, or along the machine, turned level and square on.

Seen by a phone held at chest height and tipped down onto a machine, uprights lean one way at the
feet and the other way behind the back, by a degree and more. Seen from nearer to the feet, the
floor rises and the head's height falls away from the feet: straight legs seem to lie otherwise by a
degree, bent knees are read wrong by as much. No single tilt and no single stretch takes that out;
it is taken out by turning the camera, in thought, before anything is measured. How far uprights
converge is seen in the room itself where it has any; else it is reckoned from where the horizon
seems to be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import FloatArray

#: How far off it is when reckoned from the guessed lens, degrees of lean from one side of the
#: picture to the other: on 44 rendered clips of known camera.
_RECKONED_SE_DEG = 2.6


@dataclass(frozen=True)
class Level:
    """How pictures of a camera become those of one in the same place, level and square on.

    Attributes
    ----------
    pitch_rad : float
        + the camera looks down; taken out first.
    focal_px : float
    centre_px : array [shape=(2,)]
        Middle of the picture.
    yaw_rad : float
        By how much it is then turned to the right in the picture, about an upright.
    roll_rad : float
        How that upright leans in the picture, + clockwise; the roll itself stays.
    pitch_se_rad : float
        How well the pitch is known.
    """

    pitch_rad: float
    focal_px: float
    centre_px: FloatArray
    yaw_rad: float = 0.0
    roll_rad: float = 0.0
    pitch_se_rad: float = 0.0

    def put(self, xy_px: FloatArray) -> FloatArray:
        """Return picture points [shape=(..., 2), px, y down] as the turned camera shows them."""
        return self._turned(xy_px, self._matrix())

    def back(self, xy_px: FloatArray) -> FloatArray:
        """Return points of the turned picture as the camera shows them; inverse of `put`."""
        return self._turned(xy_px, self._matrix().T)

    def square_on(self, side_px: FloatArray, tilt_deg: float) -> Level:
        """Return this, turned further until it looks straight at the athlete's side.

        Parameters
        ----------
        side_px : array [shape=(2,)]
            Where the level picture shows the direction straight out of that side.
        tilt_deg : float
            Clockwise lean of upright things in the picture.
        """
        roll = math.radians(tilt_deg)
        across = float((side_px - self.centre_px) @ [math.cos(roll), math.sin(roll)])
        return replace(self, yaw_rad=math.atan(across / self.focal_px), roll_rad=roll)

    def _matrix(self) -> FloatArray:
        """Turn of rays (right, down, ahead) [shape=(3, 3)]."""
        cos, sin = math.cos(self.pitch_rad), math.sin(self.pitch_rad)
        pitch = np.array([[1.0, 0.0, 0.0], [0.0, cos, sin], [0.0, -sin, cos]])
        right = np.array([math.cos(self.roll_rad), math.sin(self.roll_rad), 0.0])
        down = np.array([-math.sin(self.roll_rad), math.cos(self.roll_rad), 0.0])
        ahead = np.array([0.0, 0.0, 1.0])
        cos, sin = math.cos(self.yaw_rad), math.sin(self.yaw_rad)
        yaw = np.outer(down, down) + cos * (np.outer(right, right) + np.outer(ahead, ahead))
        yaw += sin * (np.outer(ahead, right) - np.outer(right, ahead))
        return np.asarray(yaw @ pitch)

    def _turned(self, xy_px: FloatArray, matrix: FloatArray) -> FloatArray:
        ray = (xy_px - self.centre_px) / self.focal_px
        seen = ray @ matrix[:2, :2].T + matrix[:2, 2]
        ahead = ray @ matrix[2, :2] + matrix[2, 2]
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
    # An upright at x px from the middle leans by x · tan(pitch) ÷ focal length.
    each_px = float(centre[1] - side_px[1]) / focal_px**2
    se_deg = _RECKONED_SE_DEG
    if math.isfinite(converge_deg):
        seen, reckoned = converge_se_deg**-2, _RECKONED_SE_DEG**-2
        seen_each_px = math.radians(converge_deg) / size_px[0]
        each_px = (seen * seen_each_px + reckoned * each_px) / (seen + reckoned)
        se_deg = (seen + reckoned) ** -0.5
    pitch_se_rad = math.radians(se_deg) * focal_px / size_px[0]
    return Level(math.atan(each_px * focal_px), focal_px, centre, pitch_se_rad=pitch_se_rad)
