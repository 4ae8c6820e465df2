"""What is true of a clip: joints, angles, events and measures, and the file that says so."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .joints import (
    JOINTS,
    angles,
    back_rounding_deg,
    marked_joints,
    midway_joints,
    rig_joints,
)
from .measures import Events, Motion, find_events, measure
from .motion import Rowing, resting
from .rig import Pose, settle

DENSE_HZ = 500.0
FINE_HZ = 2000.0
# Sitting flattens the hollow back that the body model stands with by about this much.
NEUTRAL_FLEX_DEG = 20.0


@dataclass(frozen=True)
class StrokeTruth:
    """Events (s) and measures of the strokes of one rowing motion."""

    motion: Motion
    events: list[Events]
    measures: list[dict[str, float | None]]


def neutral_rounding_deg(rowing: Rowing) -> float:
    """Back rounding of this body sitting upright with hands away and legs flat, deg."""
    posture = resting(float(rowing.rear_table[1][-1]) + 0.02, 1)
    posture.handle_z_m[:] = rowing.machine.hip_z_m + 0.25
    posture.flex_deg[:] = NEUTRAL_FLEX_DEG
    return float(back_rounding_deg(settle(rowing.body, rowing.machine, posture))[0])


def _slide_m(rowing: Rowing) -> float:
    """Seat travel from legs flat to shins vertical, m."""
    rear = rowing.rear_table[1][-1]
    front = np.interp(0.0, *rowing.front_table)
    return float(abs(rear - front))


def dense_motion(rowing: Rowing, start_s: float, stop_s: float, side: str) -> Motion:
    """The motion between two times, sampled finely enough to read events off it."""
    coarse = np.arange(start_s, stop_s + 1e-9, 1 / DENSE_HZ)
    parts: dict[str, list[np.ndarray]] = {}
    lengths: dict[str, float] = {}
    for chunk in np.array_split(coarse, max(1, len(coarse) // 500)):
        pose, posture, _ = rowing.pose(chunk)
        skin = pose.tracked()
        near = midway_joints(pose, side, skin)
        far = midway_joints(pose, "L" if side == "R" else "R", skin)
        wrist = 0.5 * (near["wrist"] + far["wrist"])
        rows = angles(near) | {"back_rounding_deg": back_rounding_deg(pose, skin)}
        rows |= {"seat": posture.hip_x_m, "x": wrist[:, 0], "z": wrist[:, 2],
                 "shoulder": near["shoulder"][:, 2], "hip": near["hip"][:, 2]}
        for k, v in rows.items():
            parts.setdefault(k, []).append(v)
        for name, (a, b) in {"upper_arm": ("shoulder", "elbow"), "forearm": ("elbow", "wrist"),
                             "trunk": ("hip", "shoulder"), "thigh": ("hip", "knee")}.items():
            lengths[name] = float(np.linalg.norm(near[a] - near[b], axis=1).mean())
    t = np.arange(start_s, stop_s, 1 / FINE_HZ)
    fine = {k: np.interp(t, coarse, np.concatenate(v)) for k, v in parts.items()}
    named = {k: v for k, v in fine.items() if k.endswith("_deg")}
    return Motion(t, fine["seat"], fine["x"], fine["z"], fine["shoulder"], fine["hip"], named,
                  lengths, neutral_rounding_deg(rowing), _slide_m(rowing))


def stroke_truth(rowing: Rowing, duration_s: float, side: str) -> StrokeTruth:
    """Events and measures of every stroke that touches 0 … duration_s."""
    inside = [s for s in rowing.strokes if s.end_s > -0.6 and s.start_s < duration_s + 0.6]
    motion = dense_motion(rowing, inside[0].start_s - 1.0, inside[-1].end_s + 1.0, side)
    events = find_events(motion, [s.start_s for s in inside],
                         [s.start_s + s.drive_s for s in inside])
    rows = [measure(motion, e) for e in events]
    pose, _, _ = rowing.pose(np.array([motion.t_s[e.release] for e in events]))
    wrist = midway_joints(pose, side)["wrist"]
    for i, row in enumerate(rows):
        gap = wrist[i, 0] - torso_front_m(pose, i, float(wrist[i, 2]))
        row["hand_gap_share"] = float(gap / motion.lengths_m["forearm"])
    return StrokeTruth(motion, events, rows)


def torso_front_m(pose: Pose, i: int, height_m: float) -> float:
    """Foremost skin of the torso at a height in frame i, along the machine, m."""
    body = pose.body
    pick = [k for k, n in enumerate(body.names) if n == "root" or n.startswith("spine")]
    trunk = (body.weights[:, pick].sum(1) > 0.6) & (np.abs(body.vertices[:, 1]) < 0.12)
    m = np.einsum("vb,bij->vij", body.weights[trunk], pose.skin_transforms(i))
    skin = np.einsum("vij,vj->vi", m[:, :, :3], body.vertices[trunk]) + m[:, :, 3]
    level = np.abs(skin[:, 2] - height_m) < 0.03
    return float(skin[level, 0].max())


def _rows(points: np.ndarray) -> list[list[float]]:
    return [[round(float(x), 2), round(float(y), 2)] for x, y in points]


def _numbers(values: np.ndarray, digits: int) -> list[float]:
    return [round(float(v), digits) for v in values]


def definition_half_difference(pose: Pose, side: str, skin: np.ndarray) -> dict[str, float]:
    """Mean half difference of each angle between the two definitions of a joint, deg."""
    marked, rig = marked_joints(pose, side, skin), rig_joints(pose, side)
    a, b = angles(marked), angles({**marked, **rig})
    return {k: round(float(np.mean(np.abs(a[k] - b[k])) / 2), 2) for k in a}


def truth_record(rowing: Rowing, cameras: list, t_s: np.ndarray, strokes: StrokeTruth,
                 about: dict[str, object]) -> dict[str, object]:
    """Everything that is true of a clip, ready for JSON.

    Parameters
    ----------
    cameras : one per frame, or a single one for all
    t_s : (T,) time of every frame, s
    about : clip, athlete, setting, stage, planted, fps and whatever else names the clip
    """
    cams = cameras if len(cameras) == len(t_s) else cameras * len(t_s)
    side = cams[0].near
    pose, posture, _ = rowing.pose(t_s)
    skin = pose.tracked()
    midway, marked = midway_joints(pose, side, skin), marked_joints(pose, side, skin)
    rig = rig_joints(pose, side)
    far = midway_joints(pose, "L" if side == "R" else "R", skin)
    handle = 0.5 * (midway["wrist"] + far["wrist"])

    def seen(points: np.ndarray) -> list[list[float]]:
        return _rows(np.stack([c.project(p) for c, p in zip(cams, points, strict=True)]))

    all_angles = angles(midway) | {"back_rounding_deg": back_rounding_deg(pose, skin)}
    t = strokes.motion.t_s
    last = float(t_s[-1])
    rows = []
    for e, values in zip(strokes.events, strokes.measures, strict=True):
        if t[e.catch] >= 0 and t[e.next_catch] <= last:
            rows.append({
                "catch_s": round(float(t[e.catch]), 4),
                "release_s": round(float(t[e.release]), 4),
                "next_catch_s": round(float(t[e.next_catch]), 4),
                "full_compression_s": round(float(t[e.front]), 4),
                "next_full_compression_s": round(float(t[e.next_front]), 4),
                "measures": {k: None if v is None else round(v, 4) for k, v in values.items()},
            })
    events = strokes.events
    catches = sorted({float(t[e.catch]) for e in events} | {float(t[events[-1].next_catch])})
    first = cams[0]
    record: dict[str, object] = {
        "schema": 1,
        **about,
        "facing": first.facing,
        "near_side": {"L": "left", "R": "right"}[side],
        "camera": {
            "yaw_deg": round(float(np.mean([c.yaw_deg for c in cams])), 2),
            "tilt_deg": round(float(np.mean([c.tilt_deg for c in cams])), 2),
            "pitch_deg": round(float(np.mean([c.down_deg for c in cams])), 2),
            "distance_m": first.distance_m, "height_m": first.height_m,
        },
        "size": list(first.size_px),
        "t_s": _numbers(t_s, 4),
        "joints_px": {j: seen(midway[j]) for j in JOINTS},
        "joints_px_rig": {j: seen(rig[j]) for j in rig},
        "joints_px_marked": {j: seen(marked[j]) for j in rig},
        "angles_deg": {k: _numbers(v, 2) for k, v in all_angles.items()},
        "definition_half_difference_deg": definition_half_difference(pose, side, skin),
        "neutral_raw_deg": round(strokes.motion.neutral_deg, 2),
        "seat_m": _numbers(posture.hip_x_m, 4),
        "handle_m": _numbers(handle[:, 0], 4),
        "handle_z_m": _numbers(handle[:, 2], 4),
        "lengths_m": {k: round(v, 4) for k, v in strokes.motion.lengths_m.items()},
        "stature_m": round(rowing.body.stature_m, 3),
        "strokes": rows,
        "catches_s": [round(c, 4) for c in catches if 0 <= c <= last],
        "releases_s": [round(float(t[e.release]), 4) for e in events
                       if 0 <= t[e.release] <= last],
    }
    if len({c.tilt_deg for c in cams}) > 1:
        record["camera_tilt_deg"] = [round(c.tilt_deg, 3) for c in cams]
    return record


def write_truth(path: Path, record: dict[str, object]) -> None:
    """Write a truth file, one key a line so that differences stay readable."""
    lines = [f"{json.dumps(k)}: {json.dumps(v, ensure_ascii=False, separators=(',', ':'))}"
             for k, v in record.items()]
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
