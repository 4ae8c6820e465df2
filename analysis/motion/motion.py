"""What the motion stage hands on: the planar rower, joints and angles with their errors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from analysis.checks import BoolArray, FloatArray, require_increasing, require_shape
from analysis.pose.track import LIMBS

Setting = Literal["erg", "boat"]

#: Near-side joints, in the order of the J axis.
JOINTS = ("ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe")

#: Angles, in the order of the A axis; each is defined in :mod:`analysis.motion.angles`.
ANGLES = (
    "trunk_deg",
    "shin_deg",
    "knee_deg",
    "hip_deg",
    "elbow_deg",
    "forearm_deg",
    "head_deg",
    "back_rounding_deg",
)

#: Body segments and the joints at their ends.
SEGMENTS = {
    "upper_arm": LIMBS["upper_arm"],
    "forearm": LIMBS["forearm"],
    "trunk": ("hip", "shoulder"),
    "thigh": LIMBS["thigh"],
    "shank": LIMBS["shank"],
}


@dataclass(frozen=True)
class TurnError:
    """How wrong the handle's turns are in time: a smooth motion turns more roundly than a hand.

    Attributes
    ----------
    catch_late_s, release_late_s : float
        How much later than they are catches, releases, read on this motion, s.
    catch_se_s, release_se_s : float
        Standard error that is left when that is taken out, the same for a whole clip, s.
    """

    catch_late_s: float = 0.0
    release_late_s: float = 0.0
    catch_se_s: float = 0.0
    release_se_s: float = 0.0


@dataclass(frozen=True)
class Motion:
    """The near side of the athlete in the sagittal plane, over the clip.

    Attributes
    ----------
    t_s : array [shape=(T,)]
        Frame times, s, strictly increasing, not evenly spaced.
    joints_px : array [shape=(T, J, 2)]
        Smoothed joints in the full-size upright picture, px, y down; NaN where not known.
        For drawing.
    place_px : array [shape=(T, J, 2)]
        The same joints in the athlete's own frame, px: x along the machine or hull, + towards
        the feet, y up against gravity, origin at the ankle's mean place; camera tilt, camera
        movement and the facing side are taken out. For measuring: left- and right-facing
        clips give the same numbers.
    handle_px : array [shape=(T, 2)]
        The handle in the same frame: on the whole where the hand is fitted, from frame to frame as
        the hand's own picture moves.
    place_se_px, place_bias_se_px : float
        Standard error of one coordinate of `place_px` in one frame: the part that changes
        from frame to frame, and the part that stays through the clip.
    filled : array [shape=(T, J)] of bool
        True where a joint was bridged over a short gap instead of seen.
    angles_deg : array [shape=(T, A)]
        Angles in the order of ``ANGLES``, degrees; NaN where they cannot be told.
    angle_se_deg : array [shape=(T, A)]
        Standard error of each angle in that frame, all parts together, degrees.
    angle_bias_se_deg : array [shape=(T, A)]
        The systematic part of it, which more strokes do not shrink.
    belly_x_px : array [shape=(T,)]
        Front of the torso at the wrist's height, x of the athlete's frame; NaN where hidden.
    segments_px : mapping of str to float
        Length of each of ``SEGMENTS``, px, in the plane of the near side.
    facing : "left" or "right"
    setting : "erg" or "boat"
    tilt_deg, tilt_se_deg : float
        Camera roll that was taken out, + clockwise lean of upright edges, and its error.
    yaw_deg : float
        Estimated departure of the view from square-on; NaN when it cannot be told.
    neutral_rounding_deg : float
        Raw back angle of the athlete sitting upright, where the clip shows it; else NaN.
    turns : TurnError
    notes : tuple of str
        Plain remarks on how the numbers came to be, for the report.
    """

    t_s: FloatArray
    joints_px: FloatArray
    place_px: FloatArray
    handle_px: FloatArray
    place_se_px: float
    place_bias_se_px: float
    filled: BoolArray
    angles_deg: FloatArray
    angle_se_deg: FloatArray
    angle_bias_se_deg: FloatArray
    belly_x_px: FloatArray
    segments_px: Mapping[str, float]
    facing: Literal["left", "right"]
    setting: Setting
    tilt_deg: float = 0.0
    tilt_se_deg: float = 0.0
    yaw_deg: float = float("nan")
    neutral_rounding_deg: float = float("nan")
    turns: TurnError = TurnError()
    notes: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        """Check that every array tells of the same frames."""
        require_increasing("t_s", self.t_s)
        frames, joints, angles = len(self.t_s), len(JOINTS), len(ANGLES)
        require_shape("joints_px", self.joints_px, (frames, joints, 2))
        require_shape("place_px", self.place_px, (frames, joints, 2))
        require_shape("handle_px", self.handle_px, (frames, 2))
        require_shape("filled", self.filled, (frames, joints))
        require_shape("belly_x_px", self.belly_x_px, (frames,))
        for name in ("angles_deg", "angle_se_deg", "angle_bias_se_deg"):
            require_shape(name, getattr(self, name), (frames, angles))
        missing = set(SEGMENTS) - set(self.segments_px)
        if missing:
            raise ValueError(f"segments_px: expected {sorted(SEGMENTS)}, missing {sorted(missing)}")

    def angle(self, name: str) -> FloatArray:
        """Return one angle over time [shape=(T,), deg]."""
        return self.angles_deg[:, ANGLES.index(name)]

    def angle_se(self, name: str) -> FloatArray:
        """Return that angle's standard error [shape=(T,), deg]."""
        return self.angle_se_deg[:, ANGLES.index(name)]

    def angle_bias_se(self, name: str) -> FloatArray:
        """Return the systematic part of that standard error [shape=(T,), deg]."""
        return self.angle_bias_se_deg[:, ANGLES.index(name)]

    def joint(self, name: str) -> FloatArray:
        """Return one joint in the picture [shape=(T, 2), px, y down]."""
        return self.joints_px[:, JOINTS.index(name)]

    def place(self, name: str) -> FloatArray:
        """Return one joint in the athlete's frame [shape=(T, 2), px, x to the feet, y up]."""
        return self.place_px[:, JOINTS.index(name)]

    @property
    def seat_px(self) -> FloatArray:
        """Seat travel [shape=(T,), px]: the hip's x in the athlete's frame, + to the feet."""
        return self.place("hip")[:, 0]
