"""Where the camera stands, and what that does to the near side in the picture.

Near joints stand out from the athlete's middle plane by different depths: shoulders further than
hips. Seen from a finite distance, not quite square-on, or from above, each is shifted away from
the point V in which the picture shows the direction "straight out of the athlete's side". To
first order a joint that stands out by d at distance Z is shifted by (d / Z) · (P − V): a joint a
depth d nearer is magnified by Z / (Z − d) about V.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import JOINTS, Setting

#: How far near joints stand out of the middle plane, trunk lengths (half the distance between
#: left and right, measured on parametric bodies aged 13 to 60; within ±15 % of these).
STANDS_OUT = {
    "ear": 0.17,
    "shoulder": 0.37,
    "elbow": 0.46,
    "wrist": 0.43,
    "hip": 0.225,
    "knee": 0.29,
    "ankle": 0.235,
    "heel": 0.245,
    "toe": 0.17,
}

#: How far knees and elbows stand out by their bend, degrees and trunk lengths: means over 15 of the
#: studio's bodies at the machine and 3 in a boat; bodies differ by about 0.03.
_KNEE_OUT = (75.0, 95.0, 135.0, 172.0), (0.337, 0.322, 0.287, 0.252)
_ELBOW_OUT = (80.0, 110.0, 140.0, 170.0), (0.66, 0.584, 0.493, 0.415)
_SCULLED_ELBOW = (80.0, 110.0, 140.0, 170.0), (0.513, 0.415, 0.332, 0.27)
_SCULLED_WRIST = (80.0, 110.0, 155.0, 170.0), (0.209, 0.152, 0.132, 0.166)

#: Length of the trunk, hip to shoulder, of a mean athlete, m (0.288 of stature: Drillis & Contini
#: 1966, as in Winter 2009 Fig. 4.1; stature 1.60 m, half of them teenagers).
_TRUNK_M = 0.46

#: Focal length of the phone in video, share of the picture's longer side, and the spread of its
#: logarithm: from 0.8 (common practice: 26–30 mm equivalent) to 1.8, at which 2.2 m of machine and
#: athlete 5 m away fill four fifths of the picture.
_FOCAL_SHARE, _FOCAL_LOG_SE = 1.2, 0.4

#: Filming distance, m, and the spread of its logarithm: the README asks for four to six metres.
_DISTANCE_M, _DISTANCE_LOG_SE = 5.0, 0.2

#: How far from square-on coaches stand who try to stand square-on, degrees (common practice).
_YAW_SE_DEG = 6.0

#: Height of the camera above the athlete's hip, trunk lengths: held at chest height by somebody
#: who stands or kneels (common practice).
_CAMERA_ABOVE_HIP, _CAMERA_ABOVE_HIP_SE = 1.4, 0.6

#: Of the looks, so many at least must have seen near and far joint of a pair.
LEAST_SHARE = 0.3

#: Share of a pair's error that is common to all pairs of a clip.
_PAIRS_ERR_TOGETHER = 1.0


@dataclass(frozen=True)
class Yaw:
    """How square-on the camera stands: 0 square on, + towards the feet; with its error."""

    deg: float
    se_deg: float


#: Nothing tells.
UNSEEN_YAW = Yaw(0.0, math.inf)


@dataclass(frozen=True)
class View:
    """The camera's place, as far as it matters for one athlete.

    Attributes
    ----------
    side_px : array [shape=(2,)]
        V: where the picture shows the direction out of the athlete's side, px.
    distance_trunks : float
        Distance of the middle plane, trunk lengths.
    focal_px : float
    yaw_deg : float
        0 square on; + the camera stands towards the feet.
    camera_rise : float
        Height of the camera above the hip ÷ its distance.
    """

    side_px: FloatArray
    distance_trunks: float
    focal_px: float
    yaw_deg: float
    camera_rise: float = 0.0


def stands_out(elbow_deg: FloatArray, knee_deg: FloatArray, setting: Setting) -> FloatArray:
    """Return how far every near joint stands out [shape=(T, J), trunk lengths].

    Parameters
    ----------
    elbow_deg, knee_deg : array [shape=(T,)]
        Elbows flare and knees part as they bend; NaN counts as straight.
    setting : "erg" or "boat"
        A sculler's hands pass close to each other.
    """
    out = np.tile([STANDS_OUT[name] for name in JOINTS], (len(elbow_deg), 1))
    parts = [("knee", knee_deg, _KNEE_OUT), ("elbow", elbow_deg, _ELBOW_OUT)]
    if setting == "boat":
        parts = [
            parts[0],
            ("elbow", elbow_deg, _SCULLED_ELBOW),
            ("wrist", elbow_deg, _SCULLED_WRIST),
        ]
    for joint, bend, (at_deg, amount) in parts:
        straight = np.nan_to_num(bend, nan=180.0)
        out[:, JOINTS.index(joint)] = np.interp(straight, at_deg, amount)
    return np.asarray(out)


def distance_and_focal(trunk_px: float, longer_side_px: float) -> tuple[float, float]:
    """Return the likeliest distance (trunk lengths) and focal length (px).

    Distance ÷ focal length follows from the athlete's size in the picture; the two prior beliefs
    share what is left in proportion to their variances.
    """
    wanted = math.log(_DISTANCE_M / _TRUNK_M)  # trunk lengths
    given = math.log(_FOCAL_SHARE * longer_side_px / trunk_px)
    share = _DISTANCE_LOG_SE**2 / (_DISTANCE_LOG_SE**2 + _FOCAL_LOG_SE**2)
    distance = math.exp(wanted + share * (given - wanted))
    return distance, distance * trunk_px


def to_middle_plane(xy_px: FloatArray, out: FloatArray, view: View) -> FloatArray:
    """Shift near-side points to where the middle plane would show them.

    Parameters
    ----------
    xy_px : array [shape=(..., T, J, 2)]
        Near joints in the picture, px.
    out : array [shape=(T, J)]
        How far each stands out, trunk lengths.
    view : View

    Returns
    -------
    array [shape=(..., T, J, 2)]
    """
    share = (out / view.distance_trunks)[..., None]
    # The magnified place is P = V + (M − V) / (1 − share), so M = P − share · (P − V).
    return np.asarray(xy_px - share * (xy_px - view.side_px))


def from_middle_plane(xy_px: FloatArray, out: FloatArray, view: View) -> FloatArray:
    """Shift points of the middle plane to where the near side shows; inverse of the above."""
    share = (out / view.distance_trunks)[..., None]
    return np.asarray((xy_px - share * view.side_px) / (1.0 - share))


@dataclass(frozen=True)
class DepthCue:
    """How one model's left–right pair of a joint speaks for the camera's place.

    ``bias`` [shape=(2,), trunk lengths, x to the feet, y up] is what near minus far shows of a
    camera square-on and level; ``spread`` its scatter from clip to clip, one coordinate.
    """

    bias: FloatArray
    spread: float


def find_view(
    near_px: FloatArray,
    far_px: FloatArray,
    cues: Mapping[tuple[int, int], DepthCue],
    *,
    trunk_px: float,
    size_px: tuple[int, int],
    facing: str,
    turn: FloatArray,
    yaw: Yaw = UNSEEN_YAW,
) -> View:
    """Estimate where the camera stands from how near and far joints are shifted.

    Parameters
    ----------
    near_px, far_px : array [shape=(W, T, J, 2)]
        Near and far joints of each witness in the picture, px; NaN where not seen.
    cues : mapping of (witness, joint) to DepthCue
        Which pairs speak, and how well.
    trunk_px : float
        Length of the trunk in the picture, px.
    size_px : (width, height)
    facing : "left" or "right"
    turn : array [shape=(2, 2)]
        Picture → athlete's axes (`analysis.motion.plane.turn_matrix`).
    yaw : Yaw
        What else tells how square-on the camera stands.

    Returns
    -------
    View
        Without any usable pair: the prior belief (square on, camera a little above the shoulder).
    """
    distance, focal = distance_and_focal(trunk_px, max(size_px))
    hip = near_px[:, :, JOINTS.index("hip")]
    middle = (np.array(size_px) - 1.0) / 2.0
    hip_place = np.nanmedian(hip.reshape(-1, 2), axis=0)
    # All in the athlete's axes about the hip, trunk lengths.
    centre = turn @ (middle - hip_place) / trunk_px
    wanted = np.array([centre[0], _CAMERA_ABOVE_HIP])
    spread = np.array([distance * math.tan(math.radians(_YAW_SE_DEG)), _CAMERA_ABOVE_HIP_SE])
    weight = 1.0 / spread**2
    total = weight * wanted
    trust = (distance * math.radians(yaw.se_deg)) ** -2
    weight[0] += trust
    total[0] += trust * (centre[0] + distance * math.tan(math.radians(yaw.deg)))
    for (witness, joint), cue in cues.items():
        gap = near_px[witness, :, joint] - far_px[witness, :, joint]
        known = np.isfinite(gap).all(axis=1)
        looked = np.isfinite(near_px[witness]).any(axis=(1, 2))
        if known.sum() < max(LEAST_SHARE * looked.sum(), 1):
            continue
        seen = turn @ np.nanmedian(gap, axis=0) / trunk_px - cue.bias
        place = turn @ (np.nanmedian(near_px[witness, :, joint], axis=0) - hip_place) / trunk_px
        lever = distance / (2.0 * STANDS_OUT[JOINTS[joint]])
        # Pairs of one clip err together: they count as fewer than they are.
        trust = 1.0 / (len(cues) * _PAIRS_ERR_TOGETHER * (cue.spread * lever) ** 2)
        total = total + trust * (place - lever * seen)
        weight = weight + trust
    side = total / weight
    yaw_deg = math.degrees(math.atan2(side[0] - centre[0], distance))
    return View(
        side_px=hip_place + turn.T @ side * trunk_px,
        distance_trunks=distance,
        focal_px=focal,
        yaw_deg=yaw_deg,
        camera_rise=float(side[1] / distance),
    )
