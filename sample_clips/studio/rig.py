"""Places a body on a machine: seat, feet and hands where they are told to be."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from . import rotations as rot
from .body import SIDES, Body

# Share of the spine's flexion taken by each bone, from the lowest up.
SPINE = ("spine05", "spine04", "spine03", "spine02", "spine01")
SPINE_SHARE = (0.18, 0.24, 0.24, 0.22, 0.12)
NECK = ("neck01", "neck02", "neck03", "head")
CURL_DEG = {"1": (62.0, 72.0, 48.0), "thumb": (12.0, 25.0, 30.0)}
LATERAL = {"L": 1.0, "R": -1.0}


@dataclass(frozen=True)
class Machine:
    """Where the machine, or the boat, holds the athlete.

    Attributes
    ----------
    hip_z_m : height of the hips' centres over the floor (or water)
    ball_m : (x, z) of the ball of the foot, m
    board_deg : footboard against the horizontal
    foot_y_m, hand_y_m : distance of foot and wrist from the middle plane, m
    """

    hip_z_m: float
    ball_m: tuple[float, float] = (0.0, 0.31)
    board_deg: float = 42.0
    foot_y_m: float = 0.115
    hand_y_m: float = 0.19


@dataclass
class Posture:
    """What the athlete is told to do; every field is (T,).

    hip_x_m, trunk_deg (hip → shoulder against vertical, + forward), flex_deg (spine),
    elbow_deg (rotation centres), handle_z_m, head_pitch_deg, heel_lift_deg, protract_deg
    (shoulder blades), elbow_out_deg (how far the elbow points outwards), hand_y_m.
    """

    hip_x_m: np.ndarray
    trunk_deg: np.ndarray
    flex_deg: np.ndarray
    elbow_deg: np.ndarray
    handle_z_m: np.ndarray
    head_pitch_deg: np.ndarray
    heel_lift_deg: np.ndarray
    protract_deg: np.ndarray
    elbow_out_deg: np.ndarray
    hand_y_m: np.ndarray


@dataclass
class Pose:
    """World rotation (B, T, 3, 3) and centre (B, T, 3) m of every bone."""

    body: Body
    rotation: np.ndarray
    centre: np.ndarray
    done: set[int] = field(default_factory=set)

    @classmethod
    def start(cls, body: Body, root_rotation: np.ndarray, root_m: np.ndarray) -> Pose:
        """A pose in which only the root is placed."""
        count, length = len(body.names), len(root_m)
        pose = cls(body, np.zeros((count, length, 3, 3)), np.zeros((count, length, 3)))
        pose.rotation[0], pose.centre[0] = root_rotation, root_m
        pose.done.add(0)
        return pose

    def turn(self, name: str, rotation: np.ndarray | None = None,
             local: np.ndarray | None = None) -> int:
        """Place a bone under its parent: world rotation, or local, or moving with the parent."""
        i = self.body.bone(name)
        p = int(self.body.parents[i])
        if p not in self.done:
            self.turn(self.body.names[p])
        if rotation is None:
            rotation = self.rotation[p] if local is None else self.rotation[p] @ local
        self.rotation[i] = rotation
        offset = self.body.heads[i] - self.body.heads[p]
        self.centre[i] = self.centre[p] + rot.apply(self.rotation[p], offset)
        self.done.add(i)
        return i

    def at(self, name: str) -> np.ndarray:
        """Centre of a bone, (T, 3) m."""
        return self.centre[self.body.bone(name)]

    def finish(self) -> Pose:
        """Let every bone not yet placed follow its parent."""
        for i, name in enumerate(self.body.names):
            if i not in self.done:
                self.turn(name)
        return self

    def tracked(self, names: tuple[str, ...] | None = None) -> np.ndarray:
        """Tracked skin points, all or those named, (K, T, 3) m."""
        body = self.body
        pick = slice(None) if names is None else [body.tracked.index(n) for n in names]
        moment, mass = body.tracked_moment[pick], body.tracked_mass[pick]
        shift = self.centre - np.einsum("btij,bj->bti", self.rotation, body.heads)
        return (np.einsum("kbj,btij->kti", moment, self.rotation, optimize=True)
                + np.einsum("kb,bti->kti", mass, shift, optimize=True))

    def skin_transforms(self, i: int) -> np.ndarray:
        """Matrices (B, 3, 4) float32 that carry rest skin to the pose of frame i."""
        r = self.rotation[:, i]
        shift = self.centre[:, i] - np.einsum("bij,bj->bi", r, self.body.heads)
        return np.concatenate([r, shift[..., None]], -1).astype(np.float32)


def _leg(pose: Pose, machine: Machine, side: str, heel_lift_deg: np.ndarray) -> None:
    body, s = pose.body, LATERAL[side]
    foot_turn = rot.pitch(-machine.board_deg + heel_lift_deg)
    # The feet are strapped side by side; at rest they point outwards.
    splay = body.head(f"toes.{side}") - body.head(f"foot.{side}")
    foot_turn = foot_turn @ rot.about(np.array([0.0, 0, 1]),
                                      -0.75 * np.arctan2(splay[1], splay[0]) * np.ones(1))
    ball = np.array([machine.ball_m[0], s * machine.foot_y_m, machine.ball_m[1]])
    ankle = ball - rot.apply(foot_turn, body.head(f"toes.{side}") - body.head(f"foot.{side}"))
    hip, knee0 = body.head(f"upperleg01.{side}"), body.head(f"lowerleg01.{side}")
    ankle0 = body.head(f"foot.{side}")
    thigh, shank = np.linalg.norm(knee0 - hip), np.linalg.norm(ankle0 - knee0)
    pose.turn(f"pelvis.{side}")
    pose.turn(f"upperleg01.{side}")
    start = pose.at(f"upperleg01.{side}")
    reach = ankle - start
    d = np.linalg.norm(reach, axis=-1)
    d = np.minimum(d, 0.9995 * (thigh + shank))
    along = rot.unit(reach)
    pole = np.array([0.0, 0.12 * s, 1.0])
    pole = rot.unit(pole - (along @ pole)[:, None] * along)
    cos_a = np.clip((thigh**2 + d**2 - shank**2) / (2 * thigh * d), -1, 1)
    sin_a = np.sqrt(1 - cos_a**2)
    knee = start + thigh * (cos_a[:, None] * along + sin_a[:, None] * pole)
    hinge = np.cross(along, pole)
    rest_hinge = np.cross(ankle0 - hip, np.array([1.0, 0, 0]))
    pose.turn(f"upperleg01.{side}", rot.turn_onto(knee0 - hip, rest_hinge, knee - start, hinge))
    pose.turn(f"upperleg02.{side}")
    pose.turn(f"lowerleg01.{side}", rot.turn_onto(ankle0 - knee0, rest_hinge, ankle - knee, hinge))
    pose.turn(f"lowerleg02.{side}")
    pose.turn(f"foot.{side}", foot_turn)
    pose.turn(f"toes.{side}", rot.pitch(-machine.board_deg + 0.15 * heel_lift_deg)
              @ rot.about(np.array([0.0, 0, 1]), np.zeros(1)))


def _hand_axes(body: Body, side: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rest direction of the hand, of the knuckles (towards the little finger), and palm normal."""
    along = rot.unit(body.head(f"finger3-1.{side}") - body.head(f"wrist.{side}"))
    knuckles = body.head(f"finger5-1.{side}") - body.head(f"finger2-1.{side}")
    knuckles = rot.unit(knuckles - (knuckles @ along) * along)
    return along, knuckles, -LATERAL[side] * np.cross(along, knuckles)


def _arm(pose: Pose, side: str, elbow_deg, handle_z_m, hand_y_m, elbow_out_deg) -> None:
    body, s = pose.body, LATERAL[side]
    upper0 = body.head(f"lowerarm01.{side}") - body.head(f"upperarm01.{side}")
    fore0 = body.head(f"wrist.{side}") - body.head(f"lowerarm01.{side}")
    a, b = np.linalg.norm(upper0), np.linalg.norm(fore0)
    pose.turn(f"upperarm01.{side}")
    shoulder = pose.at(f"upperarm01.{side}")
    d2 = a**2 + b**2 - 2 * a * b * np.cos(np.radians(elbow_deg))
    drop, across = handle_z_m - shoulder[:, 2], s * hand_y_m - shoulder[:, 1]
    ahead = np.sqrt(np.maximum(d2 - drop**2 - across**2, 0.02**2))
    wrist = shoulder + np.stack([ahead, across, drop], -1)
    reach = wrist - shoulder
    d = np.minimum(np.linalg.norm(reach, axis=-1), 0.9995 * (a + b))
    along = rot.unit(reach)
    out = np.array([0.0, s, 0.0])
    out = rot.unit(out - (along @ out)[:, None] * along)
    down = np.cross(along, out) * s
    down = down * np.where(down[:, 2:] > 0, -1.0, 1.0)
    phi = np.radians(elbow_out_deg)[:, None]
    pole = np.cos(phi) * down + np.sin(phi) * out
    cos_a = np.clip((a**2 + d**2 - b**2) / (2 * a * d), -1, 1)[:, None]
    elbow = shoulder + a * (cos_a * along + np.sqrt(1 - cos_a**2) * pole)
    upper, fore = rot.unit(elbow - shoulder), rot.unit(wrist - elbow)
    hinge0, hinge = np.cross(upper0, fore0), np.cross(along, -pole)
    full = rot.turn_onto(upper0, hinge0, upper, hinge)
    held = pose.rotation[body.bone(f"shoulder01.{side}")]
    swung = rot.swing(rot.apply(held, upper0), upper) @ held
    twist = rot.twist_rad(upper, rot.apply(swung, hinge0), rot.apply(full, hinge0))
    pose.turn(f"upperarm01.{side}", rot.about(upper, 0.5 * twist) @ swung)
    pose.turn(f"upperarm02.{side}", full)
    low = rot.turn_onto(fore0, hinge0, fore, hinge)
    pose.turn(f"lowerarm01.{side}", low)
    along0, knuckles0, palm0 = _hand_axes(body, side)
    flat = rot.unit(fore * np.array([1.0, 0.35, 0.6]))
    hand = rot.turn_onto(along0, knuckles0, flat, np.array([0.0, s, 0.0]))
    twist = rot.twist_rad(fore, rot.apply(low, knuckles0), rot.apply(hand, knuckles0))
    pose.turn(f"lowerarm02.{side}", rot.about(fore, 0.6 * twist) @ low)
    pose.turn(f"wrist.{side}", hand)
    curl_axis = np.cross(along0, palm0)
    for finger in "12345":
        for joint, angle in enumerate(CURL_DEG["thumb" if finger == "1" else "1"], 1):
            pose.turn(f"finger{finger}-{joint}.{side}",
                      local=rot.about(curl_axis, np.radians(angle) * np.ones(len(fore))))


def solve(body: Body, machine: Machine, posture: Posture, pelvis_deg: np.ndarray) -> Pose:
    """Pose the whole body for a given pelvis pitch (T,), deg."""
    root_turn = rot.pitch(pelvis_deg)
    hips = 0.5 * (body.head("upperleg01.L") + body.head("upperleg01.R"))
    zero = np.zeros_like(pelvis_deg)
    hip = np.stack([posture.hip_x_m, zero, zero + machine.hip_z_m], -1)
    pose = Pose.start(body, root_turn, hip - rot.apply(root_turn, hips - body.head("root")))
    angle = pelvis_deg.copy()
    for name, share in zip(SPINE, SPINE_SHARE, strict=True):
        angle = angle + share * posture.flex_deg
        pose.turn(name, rot.pitch(angle))
    for k, name in enumerate(NECK, 1):
        part = (0.35, 0.6, 0.85, 1.0)[k - 1]
        pose.turn(name, rot.pitch(angle + part * (posture.head_pitch_deg - angle)))
    for side in SIDES:
        s = LATERAL[side]
        blade = rot.about(np.array([0.0, 0, 1]), -s * np.radians(posture.protract_deg))
        pose.turn(f"clavicle.{side}", local=blade)
        pose.turn(f"shoulder01.{side}")
        _arm(pose, side, posture.elbow_deg, posture.handle_z_m, posture.hand_y_m,
             posture.elbow_out_deg)
        _leg(pose, machine, side, posture.heel_lift_deg)
    return pose.finish()


def settle(body: Body, machine: Machine, posture: Posture, rounds: int = 3) -> Pose:
    """Pose the body so that the midway hip → shoulder line has the wanted trunk angle."""
    pelvis = posture.trunk_deg - 0.5 * posture.flex_deg
    pose = solve(body, machine, posture, pelvis)
    for _ in range(rounds):
        marked = pose.tracked(("hip.L", "shoulder.L"))
        line = (marked[1] - marked[0]) + (pose.at("upperarm01.L") - pose.at("upperleg01.L"))
        pelvis = pelvis + posture.trunk_deg - np.degrees(np.arctan2(line[:, 0], line[:, 2]))
        pose = solve(body, machine, posture, pelvis)
    return pose
