"""Pictures of made limbs, cut along given ends: bars of known lie before a room that changes."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from analysis.clip import ClipFacts
from analysis.pose.limb_pictures import limb_pictures
from analysis.pose.track import LIMB_ENDS, LIMB_JOINTS, LIMBS, OUTLINE_POINTS, Facing, PoseTrack

SIZE = 480, 360
LENGTH = 80.0


@dataclass(frozen=True)
class MadeLimbs:
    """A pose track of pictures alone, and both ends of limbs that lie along the landmarks.

    `ends` [shape=(T, N, 2, 2)] in the athlete's frame, `ends_px` in the picture.
    """

    pose: PoseTrack
    ends: np.ndarray
    ends_px: np.ndarray


def directions(elbow_deg: float, knee_deg: float) -> dict[str, float]:
    """Which way limbs point for who faces right, degrees, + above the horizontal."""
    own = {"upper_arm": -20.0, "thigh": 30.0}
    own["forearm"] = own["upper_arm"] + (180.0 - elbow_deg)
    own["shank"] = own["thigh"] - (180.0 - knee_deg)
    return own


def at_px(elbow_deg: float, knee_deg: float, facing: Facing) -> np.ndarray:
    """The near ``LIMB_JOINTS`` [shape=(J, 2), px]."""
    way = {
        name: LENGTH * np.array([np.cos(np.radians(a)), -np.sin(np.radians(a))])
        for name, a in directions(elbow_deg, knee_deg).items()
    }
    at = {"shoulder": np.array([150.0, 110.0]), "hip": np.array([150.0, 250.0])}
    for name, (first, second) in LIMBS.items():
        at[second] = at[first] + way[name]
    joints = np.array([at[name] for name in LIMB_JOINTS])
    if facing == "left":
        joints[:, 0] = SIZE[0] - joints[:, 0]
    return joints


def bar(grey: np.ndarray, ends: np.ndarray, brightness: float, half: float) -> None:
    """Draw a limb with straight edges that narrows to its second end, finer than by whole px."""
    way = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    across = np.array([-way[1], way[0]])
    corners = [
        ends[0] - 0.1 * LENGTH * way - 1.2 * half * across,
        ends[1] + 0.1 * LENGTH * way - 0.8 * half * across,
        ends[1] + 0.1 * LENGTH * way + 0.8 * half * across,
        ends[0] - 0.1 * LENGTH * way + 1.2 * half * across,
    ]
    points = np.int32(np.rint(np.array(corners) * 16))
    cv2.fillPoly(grey, [points], brightness, cv2.LINE_AA, 4)


def made_limbs(
    *,
    off_deg: float = 0.0,
    facing: Facing = "right",
    frames: int = 24,
    bends: tuple[float, ...] = (170.0,),
    light: float = 200.0,
) -> MadeLimbs:
    """Make a clip whose limbs lie `off_deg` from their landmarks, + clockwise of who faces right.

    About their middles; elbow and knee are bent by each of `bends` in turn. Behind them the room
    is another one in every frame.
    """
    rng = np.random.default_rng(7)
    own = off_deg if facing == "right" else -off_deg
    cut, joints = [], []
    for frame in range(frames):
        bend = bends[frame % len(bends)]
        at = at_px(bend, bend, facing)
        grey = cv2.GaussianBlur(rng.uniform(20, 235, SIZE[::-1]), (0, 0), 6.0)
        grey = np.uint8(np.clip(100 + 4 * (grey - grey.mean()), 0, 255))
        for joint in LIMBS.values():
            ends = np.array([at[LIMB_JOINTS.index(j)] for j in joint])
            turn = cv2.getRotationMatrix2D(ends.mean(axis=0).tolist(), -own, 1.0)
            bar(grey, ends @ turn[:, :2].T + turn[:, 2], light, 0.15 * LENGTH)
        cut.append(limb_pictures(cv2.GaussianBlur(grey, (0, 0), 1.0), at, 1.0))
        joints.append(at)
    px = np.array(joints)[:, LIMB_ENDS]
    place = px * np.array([1.0 if facing == "right" else -1.0, -1.0])
    pose = PoseTrack(
        clip=ClipFacts("made.mp4", "0" * 64, frames, 10.0, *SIZE, frames / 10),
        t_s=np.arange(frames) / 10.0,
        landmarks={},
        outline_px=np.full((frames, OUTLINE_POINTS, 2), np.nan),
        facing=facing,
        people_seen=1,
        identity_uncertain=np.zeros(frames, bool),
        camera_shift_px=np.zeros((frames, 2)),
        pictured_frames=np.arange(frames),
        pictured_ends_px=np.array([ends for _, ends in cut]),
        pictured_grey=np.array([grey for grey, _ in cut]),
    )
    return MadeLimbs(pose, place, px)
