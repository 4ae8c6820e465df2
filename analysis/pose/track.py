"""What the pose stage hands on: landmarks and outline of one athlete over a clip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.checks import (
    BoolArray,
    FloatArray,
    IntArray,
    require_increasing,
    require_shape,
)
from analysis.clip import ClipFacts as ClipFacts

Facing = Literal["left", "right"]

#: Points kept of each frame's silhouette.
OUTLINE_POINTS = 256

#: Points of the hand that are followed from frame to frame.
HAND_POINTS = 24

#: Limbs that are followed from frame to frame, and the joints at their ends.
LIMBS = {
    "upper_arm": ("shoulder", "elbow"),
    "forearm": ("elbow", "wrist"),
    "thigh": ("hip", "knee"),
    "shank": ("knee", "ankle"),
}
#: Those joints, the hand's first.
LIMB_JOINTS = ("wrist", "elbow", "shoulder", "hip", "knee", "ankle")
#: Which of them are each limb's ends [shape=(N, 2)].
LIMB_ENDS = np.array([[LIMB_JOINTS.index(joint) for joint in ends] for ends in LIMBS.values()])
#: Where a limb's picture has its samples: across, + clockwise of the way along, and along it, from
#: its first end (0) to its second (1); in the limb's own length.
PICTURED_ACROSS = np.linspace(-0.6, 0.6, 81)
PICTURED_ALONG = np.linspace(-0.05, 1.05, 18)
_PICTURED = len(PICTURED_ACROSS), len(PICTURED_ALONG)


@dataclass(frozen=True)
class LandmarkTrack:
    """The points that one landmark model gave for the athlete, frame by frame.

    Attributes
    ----------
    model : str
        Short name of the model: ``"thunder"`` or ``"mediapipe"``.
    names : tuple of str
        K names such as ``"left_hip"``: the athlete's own left and right.
    xy_px : array [shape=(T, K, 2)]
        Place in the full-size upright picture, px, y down, pixel centres at whole numbers. NaN
        where the model gave none.
    score : array [shape=(T, K)]
        The model's own confidence, 0…1; 0 where it gave none.
    asked : array [shape=(T,)] of bool, optional
        Frames that the model looked at; all of them when left out.
    """

    model: str
    names: tuple[str, ...]
    xy_px: FloatArray
    score: FloatArray
    asked: BoolArray | None = None

    def __post_init__(self) -> None:
        """Check shapes."""
        require_shape(f"{self.model} xy_px", self.xy_px, (None, len(self.names), 2))
        require_shape(f"{self.model} score", self.score, (len(self.xy_px), len(self.names)))
        require_shape(f"{self.model} asked", self.looked_at, (len(self.xy_px),))

    @property
    def looked_at(self) -> BoolArray:
        """Frames that the model looked at [shape=(T,)]."""
        return np.ones(len(self.xy_px), bool) if self.asked is None else self.asked

    def point(self, name: str) -> FloatArray:
        """Return the track of one landmark [shape=(T, 2), px]; ``KeyError`` if unknown."""
        if name not in self.names:
            raise KeyError(f"{self.model} has no landmark {name!r}")
        return self.xy_px[:, self.names.index(name)]


@dataclass(frozen=True)
class PoseTrack:
    """Everything seen of one athlete in one clip.

    Attributes
    ----------
    clip : ClipFacts
    t_s : array [shape=(T,)]
        The frames' own times, s, from the first shown frame; strictly increasing.
    landmarks : mapping of str to LandmarkTrack
        By model name.
    outline_px : array [shape=(F, OUTLINE_POINTS, 2)]
        Closed outline of the athlete's silhouette (arms and all) in each of `outlined`, px of the
        full picture, evenly spaced by arc length; NaN where no silhouette was found.
    facing : "left" or "right"
        The side of the picture that the feet are on. The near side of the body is the
        athlete's own right when facing right, left when facing left.
    people_seen : int
        How many people were found (median over the frames looked at).
    identity_uncertain : array [shape=(T,)] of bool
        Frames in which it was not sure that the followed person is the rower.
    camera_shift_px : array [shape=(T, 2)]
        Estimated movement of the background since the first frame, px; zeros when still.
    camera_moves : bool
    upright_tilt_deg, upright_tilt_se_deg : float
        Lean of the room's upright edges, degrees, + clockwise in the picture (an upright
        edge's top leans right), where the athlete is; NaN when no witness was found.
    upright_converge_deg, upright_converge_se_deg : float
        How much more they lean so at the picture's right edge than at its left, degrees; NaN
        likewise.
    shore_tilt_deg, shore_tilt_se_deg : float
        Lean of what lies level above the athlete, which tells the roll where that is far off, as
        around a boat; + clockwise, NaN likewise.
    level_edges_px : array [shape=(E, 4)], optional
        Nearly level straight edges that stay in their place, of the room and machines: x0, y0,
        x1, y1, px; none where the camera is not held.
    blur_px, light : float
        Picture quality: estimated blur (px) and mean luma (0…255); NaN when not measured.
    models : mapping of str to str
        Model file name to sha256, for the report.
    outline_frames : array [shape=(F,)], optional
        Frames in which a silhouette was looked for; all of them when left out. Outlines are the
        largest of all that is known of a clip, and models take turns.
    hand_moved_px : array [shape=(T, HAND_POINTS, 2)], optional
        How far points of the near hand came since the frame before, as its picture tells, px; NaN
        where one was not followed, and throughout when left out.
    limb_turned_deg : array [shape=(T, N)], optional
        How far each of ``LIMBS`` turned in the picture since the frame before, + clockwise; NaN
        likewise.
    pictured_frames : array [shape=(F,)], optional
        Frames of which pictures of the near ``LIMBS`` were kept, rising; none when left out.
    pictured_ends_px : array [shape=(F, N, 2, 2)], optional
        The ends that each was cut along, px; NaN where there is none.
    pictured_grey : array [shape=(F, N, A, B), uint8], optional
        Its brightness at ``PICTURED_ACROSS`` × ``PICTURED_ALONG``; 0 likewise.
    """

    clip: ClipFacts
    t_s: FloatArray
    landmarks: Mapping[str, LandmarkTrack]
    outline_px: FloatArray
    facing: Facing
    people_seen: int
    identity_uncertain: BoolArray
    camera_shift_px: FloatArray
    camera_moves: bool = False
    upright_tilt_deg: float = float("nan")
    upright_tilt_se_deg: float = float("nan")
    upright_converge_deg: float = float("nan")
    upright_converge_se_deg: float = float("nan")
    shore_tilt_deg: float = float("nan")
    shore_tilt_se_deg: float = float("nan")
    level_edges_px: FloatArray = field(default_factory=lambda: np.zeros((0, 4)))
    blur_px: float = float("nan")
    light: float = float("nan")
    models: Mapping[str, str] = field(default_factory=dict)
    outline_frames: IntArray | None = None
    hand_moved_px: FloatArray | None = None
    limb_turned_deg: FloatArray | None = None
    pictured_frames: IntArray = field(default_factory=lambda: np.zeros(0, np.intp))
    pictured_ends_px: FloatArray = field(default_factory=lambda: np.zeros((0, len(LIMBS), 2, 2)))
    pictured_grey: NDArray[np.uint8] = field(
        default_factory=lambda: np.zeros((0, len(LIMBS), *_PICTURED), np.uint8)
    )

    def __post_init__(self) -> None:
        """Check that every array tells of the same frames."""
        require_increasing("t_s", self.t_s)
        frames = len(self.t_s)
        if self.outline_frames is not None:
            require_shape("outline_frames", self.outline_frames, (None,))
        require_shape("outline_px", self.outline_px, (len(self.outlined), OUTLINE_POINTS, 2))
        if self.hand_moved_px is not None:
            require_shape("hand_moved_px", self.hand_moved_px, (frames, HAND_POINTS, 2))
        if self.limb_turned_deg is not None:
            require_shape("limb_turned_deg", self.limb_turned_deg, (frames, len(LIMBS)))
        shape = (len(self.pictured_frames), len(LIMBS))
        require_shape("pictured_ends_px", self.pictured_ends_px, (*shape, 2, 2))
        require_shape("pictured_grey", self.pictured_grey, (*shape, *_PICTURED))
        require_shape("level_edges_px", self.level_edges_px, (None, 4))
        require_shape("identity_uncertain", self.identity_uncertain, (frames,))
        require_shape("camera_shift_px", self.camera_shift_px, (frames, 2))
        for track in self.landmarks.values():
            require_shape(f"{track.model} score", track.score, (frames, len(track.names)))

    @property
    def outlined(self) -> IntArray:
        """Frames in which a silhouette was looked for [shape=(F,)], rising."""
        if self.outline_frames is None:
            return np.arange(len(self.t_s))
        return self.outline_frames

    @property
    def hand_moved(self) -> FloatArray:
        """How far points of the hand came since the frame before [shape=(T, HAND_POINTS, 2)]."""
        if self.hand_moved_px is None:
            return np.full((len(self.t_s), HAND_POINTS, 2), np.nan)
        return self.hand_moved_px

    @property
    def limb_turned(self) -> FloatArray:
        """How far limbs turned since the frame before [shape=(T, N), deg, + clockwise]."""
        if self.limb_turned_deg is None:
            return np.full((len(self.t_s), len(LIMBS)), np.nan)
        return self.limb_turned_deg

    @property
    def near(self) -> Facing:
        """The athlete's own side that the camera sees: facing right shows the right side."""
        return self.facing
