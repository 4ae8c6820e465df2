"""Lays a planned way of rowing on a particular body and machine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .body import Body
from .joints import angles, midway_joints
from .rig import Machine, Pose, Posture, settle, solve
from .technique import Stroke, Timeline, timeline

SEAT_TOP_M = 0.365
BOAT_SEAT_M = 0.27
SCULL_INBOARD_M = 0.78  # oarlock to wrist
SCULL_LOCK_Y_M = 0.80


def seat_thickness_m(body: Body) -> float:
    """Height of the hips' centres over the seat when sitting, m."""
    machine = Machine(hip_z_m=1.0)
    pose = solve(body, machine, resting(-0.75, 1), np.zeros(1) + 2.0)
    skin = body.weights[:, [body.bone(n) for n in ("root", "pelvis.L", "pelvis.R", "upperleg01.L",
                                                   "upperleg01.R")]].sum(1) > 0.5
    m = np.einsum("vb,bij->vij", body.weights[skin], pose.skin_transforms(0))
    z = np.einsum("vj,vj->v", m[:, 2, :3], body.vertices[skin]) + m[:, 2, 3]
    x = np.einsum("vj,vj->v", m[:, 0, :3], body.vertices[skin]) + m[:, 0, 3]
    near = np.abs(x - pose.at("upperleg01.L")[0, 0]) < 0.12
    # The seat's cushion and the buttock give way by about a centimetre.
    return float(1.0 - z[near].min() - 0.012)


def machine_for(body: Body, seat_top_m: float = SEAT_TOP_M, boat: bool = False) -> Machine:
    """A machine, or boat, adjusted to the body."""
    hip_z = seat_top_m + seat_thickness_m(body)
    size = body.stature_m / 1.75
    return Machine(
        hip_z_m=hip_z,
        ball_m=(0.0, seat_top_m - (0.03 if not boat else 0.05)),
        foot_y_m=0.105,
        hand_y_m=0.16 + 0.03 * size,
    )


def lock_place(low_m: float, high_m: float) -> float:
    """Where the oarlock stands along the hull, given the handle's ends at release and catch."""
    return low_m + 0.45 * (high_m - low_m)


def resting(hip_x_m: float | np.ndarray, count: int) -> Posture:
    """Sitting upright with the hands away, (count,)."""
    z = np.zeros(count)
    return Posture(hip_x_m=z + hip_x_m, trunk_deg=z, flex_deg=z + 20.0, elbow_deg=z + 170.0,
                   handle_z_m=z + 0.8, head_pitch_deg=z, heel_lift_deg=z, protract_deg=z,
                   elbow_out_deg=z + 25.0, hand_y_m=z + 0.19)


@dataclass(frozen=True)
class Rowing:
    """A body rowing on a machine: everything that is needed to pose it at any time."""

    body: Body
    machine: Machine
    strokes: list[Stroke]
    front_table: tuple[np.ndarray, np.ndarray]
    rear_table: tuple[np.ndarray, np.ndarray]
    trunk_m: float
    boat: bool = False

    @classmethod
    def prepare(cls, body: Body, machine: Machine, strokes: list[Stroke],
                boat: bool = False) -> Rowing:
        """Find where on the slide the wanted shin and knee angles are reached."""
        how = strokes[0].how
        leg = np.linalg.norm(body.head("foot.L") - body.head("upperleg01.L"))
        x = np.linspace(-0.16 * leg, -1.08 * leg, 110) - 0.08
        lift = np.where(x > -0.7 * leg, how.heel_lift_deg, 0.0)
        posture = replace(resting(x, len(x)), heel_lift_deg=lift,
                          handle_z_m=np.full(len(x), machine.hip_z_m + 0.25))
        pose = solve(body, machine, posture, np.zeros(len(x)) + 10.0)
        joints = midway_joints(pose, "L")
        seen = angles(joints)
        shin, knee = seen["shin_deg"], seen["knee_deg"]
        front = x > -0.7 * leg
        order = np.argsort(shin[front])
        reach = np.argmax(knee) + 1
        trunk = np.linalg.norm(joints["shoulder"][0] - joints["hip"][0])
        return cls(body, machine, strokes, (shin[front][order], x[front][order]),
                   (knee[:reach], x[:reach]), float(trunk), boat)

    def posture(self, t_s: np.ndarray) -> tuple[Posture, Timeline]:
        """What the athlete is told to do at times t_s (T,)."""
        line = timeline(self.strokes, t_s)
        how = self.strokes[0].how
        x_front = np.interp(line.shin_catch_deg, *self.front_table)
        x_rear = np.interp(line.knee_release_deg, *self.rear_table)
        hip_x = x_front + (x_rear - x_front) * line.seat
        u = np.clip((0.5 - line.seat) / 0.5, 0, 1)
        lift = how.heel_lift_deg * u * u * (3 - 2 * u)
        shoulder_z = self.trunk_m * np.cos(np.radians(how.layback_deg))
        release_z = self.machine.hip_z_m + line.hand_height_share * shoulder_z
        catch_z = release_z - line.catch_drop_m
        drawn = 1 - line.straight
        posture = Posture(
            hip_x_m=hip_x, trunk_deg=line.trunk_deg, flex_deg=line.flex_deg,
            elbow_deg=line.elbow_deg, handle_z_m=release_z,
            head_pitch_deg=how.head_level * line.trunk_deg + how.head_nod_deg,
            heel_lift_deg=lift, protract_deg=how.protract_deg * line.straight - 6 * drawn,
            elbow_out_deg=22.0 + 14.0 * drawn,
            hand_y_m=np.full(len(t_s), self.machine.hand_y_m),
        )
        # The handle runs on a straight line between its heights at catch and release, so its
        # height depends on its place and its place, a little, on its height.
        low, high = self.ends_m()
        for _ in range(4):
            x = self._handle_x(posture)
            share = np.clip((x - low) / (high - low), -0.1, 1.1)
            posture.handle_z_m = release_z + share * (catch_z - release_z) + line.bump_m
            if self.boat:
                posture.hand_y_m = self._scull_y(x, low, high)
        return posture, line

    def pose(self, t_s: np.ndarray) -> tuple[Pose, Posture, Timeline]:
        """Pose the body at times t_s (T,)."""
        posture, line = self.posture(t_s)
        return settle(self.body, self.machine, posture), posture, line

    def _handle_x(self, posture: Posture) -> np.ndarray:
        """Where the wrist comes to be along the machine, (T,) m, near enough for its height."""
        lean = np.radians(posture.trunk_deg)
        body = self.body
        a = np.linalg.norm(body.head("lowerarm01.L") - body.head("upperarm01.L"))
        b = np.linalg.norm(body.head("wrist.L") - body.head("lowerarm01.L"))
        d2 = a * a + b * b - 2 * a * b * np.cos(np.radians(posture.elbow_deg))
        drop = self.machine.hip_z_m + self.trunk_m * np.cos(lean) - posture.handle_z_m
        return (posture.hip_x_m + self.trunk_m * np.sin(lean)
                + np.sqrt(np.maximum(d2 - drop**2, 0.02**2)))

    def ends_m(self) -> tuple[float, float]:
        """Nominal handle place at release and catch, m."""
        how = self.strokes[0].how
        z = np.zeros(2)
        seat = np.array([1.0, 1.0 - how.slide])
        x_front = np.interp(how.shin_catch_deg, *self.front_table)
        x_rear = np.interp(how.knee_release_deg, *self.rear_table)
        height = (self.machine.hip_z_m + how.hand_height_share * self.trunk_m)
        ends = replace(
            resting(x_front + (x_rear - x_front) * seat, 2),
            trunk_deg=np.array([-how.layback_deg, how.trunk_catch_deg]),
            elbow_deg=np.array([how.elbow_drawn_deg, how.elbow_long_deg]),
            handle_z_m=z + height - np.array([0.0, how.catch_drop_m]),
        )
        low, high = self._handle_x(ends)
        return float(low), float(high)

    @staticmethod
    def _scull_y(x: np.ndarray, low: float, high: float) -> np.ndarray:
        """Hands of a sculler part at both ends of the stroke and meet in between, (T,) m."""
        lock_x = lock_place(low, high)
        swing = np.clip((x - lock_x) / SCULL_INBOARD_M, -0.95, 0.95)
        apart = SCULL_LOCK_Y_M - SCULL_INBOARD_M * np.sqrt(1 - swing**2)
        # Half of it is taken up by the shoulders, which the body model's arms do not spread.
        return 0.05 + 0.5 * np.maximum(apart - 0.05, 0.0)
