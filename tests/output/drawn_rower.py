"""A planar rower on a moving seat, exactly known, and a plain clip of it.

Legs and arms are two links each; the clip shows the joints as thick strokes on a plain ground.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Literal

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.motion import angles
from analysis.motion.motion import ANGLES, JOINTS, Motion

Array = NDArray[np.float64]

#: Lengths of the made-up body, as shares of the picture's height.
_THIGH, _SHANK, _TRUNK, _UPPER_ARM, _FOREARM = 0.27, 0.26, 0.31, 0.19, 0.19
DRIVE = 0.4
LEAD_S = 0.3


def ease(x: Array, start: float, end: float) -> Array:
    """Rise smoothly from 0 at `start` to 1 at `end`."""
    u = np.clip((x - start) / (end - start), 0.0, 1.0)
    return u * u * (3.0 - 2.0 * u)


def drive_and_back(p: Array, out: tuple[float, float], back: tuple[float, float]) -> Array:
    """Return 1 at the front, 0 at the release, 1 again at the next catch, over phase 0…1."""
    return 1.0 - ease(p, *out) + ease(p, *back)


def two_links(base: Array, tip: Array, near: float, far: float, bend: float) -> Array:
    """Return the middle joint of two links between `base` and `tip`; `bend` picks the side."""
    gap = tip - base
    reach = np.clip(np.linalg.norm(gap, axis=1), 1e-9, 0.9999 * (near + far))
    along = (near**2 - far**2 + reach**2) / (2 * reach)
    off = np.sqrt(np.maximum(near**2 - along**2, 0.0))
    unit = gap / np.linalg.norm(gap, axis=1)[:, None]
    across = np.stack([-unit[:, 1], unit[:, 0]], axis=1) * bend
    return np.asarray(base + unit * along[:, None] + across * off[:, None])


def uneven_times(strokes: int, stroke_s: float, fps: float) -> Array:
    """Frame times on a 1/90000 s clock with uneven steps, as phones write them."""
    count = int((strokes * stroke_s + 2 * LEAD_S) * fps)
    wobble = 0.25 * np.sin(np.arange(count) * 1.7)
    return np.asarray(np.round((np.arange(count) + wobble) / fps * 90000) / 90000)


def places(p: Array) -> dict[str, Array]:
    """Return the joints over phase `p` (0…1, catch to catch): x to the feet, y up, ankle at 0."""
    zeros = np.zeros_like(p)
    slide = drive_and_back(p, (0.0, 0.72 * DRIVE), (0.5, 1.0))
    swing = drive_and_back(p, (0.25 * DRIVE, 0.95 * DRIVE), (0.52, 0.98))
    arms = drive_and_back(p, (0.55 * DRIVE, DRIVE), (DRIVE, 0.55))
    hip = np.stack([-0.51 + 0.28 * slide, 0.04 + zeros], axis=1)
    lean = np.radians(-26.0 + 55.0 * swing)
    shoulder = hip + _TRUNK * np.stack([np.sin(lean), np.cos(lean)], axis=1)
    ankle = np.stack([zeros, zeros], axis=1)
    knee = two_links(ankle, hip, _SHANK, _THIGH, -1.0)
    reach = 0.155 + 0.22 * arms
    drop = np.radians(62.0 - 34.0 * arms)
    wrist = shoulder + reach[:, None] * np.stack([np.cos(drop), -np.sin(drop)], axis=1)
    elbow = two_links(shoulder, wrist, _UPPER_ARM, _FOREARM, -1.0)
    ear = shoulder + 0.11 * np.stack([np.sin(lean + 0.15), np.cos(lean + 0.15)], axis=1)
    return {
        "ear": ear,
        "shoulder": shoulder,
        "elbow": elbow,
        "wrist": wrist,
        "hip": hip,
        "knee": knee,
        "ankle": ankle,
        "heel": ankle + np.array([-0.02, -0.04]),
        "toe": ankle + np.array([0.09, 0.05]),
    }


def made_motion(
    t_s: Array,
    strokes: int,
    stroke_s: float,
    size: tuple[int, int],
    facing: Literal["left", "right"] = "right",
) -> Motion:
    """Return the exact motion in a picture of `size` (width, height) px."""
    width, height = size
    phase = np.clip((t_s - LEAD_S) / stroke_s, 0.0, strokes) % 1.0
    parts = places(phase)
    place = np.stack([parts[name] for name in JOINTS], axis=1) * height
    origin = np.array([0.72 * width, 0.74 * height])
    joints = origin + place * np.array([1.0, -1.0])
    if facing == "left":
        joints[..., 0] = width - joints[..., 0]
    at = {name: place[:, JOINTS.index(name)] for name in JOINTS}
    rounding = 24.0 + 14.0 * drive_and_back(phase, (0.1, DRIVE), (0.55, 1.0))
    columns = {
        "trunk_deg": angles.trunk_deg(at["hip"], at["shoulder"]),
        "shin_deg": angles.shin_deg(at["ankle"], at["knee"]),
        "knee_deg": angles.knee_deg(at["hip"], at["knee"], at["ankle"]),
        "hip_deg": angles.hip_deg(at["shoulder"], at["hip"], at["knee"]),
        "elbow_deg": angles.elbow_deg(at["shoulder"], at["elbow"], at["wrist"]),
        "forearm_deg": angles.forearm_deg(at["elbow"], at["wrist"]),
        "head_deg": angles.head_deg(at["ear"], at["shoulder"], at["hip"]),
        "back_rounding_deg": rounding,
    }
    table = np.stack([columns[name] for name in ANGLES], axis=1)
    table[:3, ANGLES.index("back_rounding_deg")] = np.nan
    filled = np.zeros((len(t_s), len(JOINTS)), dtype=np.bool_)
    filled[10:20, JOINTS.index("elbow")] = True
    joints[25:28, JOINTS.index("ear")] = np.nan
    return Motion(
        t_s=t_s,
        joints_px=joints,
        place_px=place,
        handle_px=place[:, JOINTS.index("wrist")],
        place_se_px=1.0,
        place_bias_se_px=1.0,
        filled=filled,
        angles_deg=table,
        angle_se_deg=np.full(table.shape, 2.0),
        angle_bias_se_deg=np.full(table.shape, 1.5),
        belly_x_px=np.full(len(t_s), np.nan),
        segments_px={
            "upper_arm": _UPPER_ARM * height,
            "forearm": _FOREARM * height,
            "trunk": _TRUNK * height,
            "thigh": _THIGH * height,
            "shank": _SHANK * height,
        },
        facing=facing,
        setting="erg",
        notes=("The view was square-on as far as can be told.",),
    )


def draw_rower(frame: NDArray[np.uint8], joints: Array) -> None:
    """Paint the joints as thick limbs on `frame`."""
    at = {name: joints[i] for i, name in enumerate(JOINTS)}
    thick = max(2, frame.shape[0] // 14)
    limbs = (
        ("hip", "shoulder", (70, 90, 120), 1.5),
        ("hip", "knee", (40, 46, 60), 1.2),
        ("knee", "ankle", (196, 150, 120), 0.9),
        ("ankle", "toe", (220, 220, 220), 0.7),
        ("shoulder", "elbow", (196, 150, 120), 0.8),
        ("elbow", "wrist", (196, 150, 120), 0.7),
    )
    for a, b, colour, share in limbs:
        if np.isfinite(at[a]).all() and np.isfinite(at[b]).all():
            p, q = (tuple(round(v) for v in at[k]) for k in (a, b))
            cv2.line(frame, p, q, colour, max(1, int(thick * share)), cv2.LINE_AA)
    if np.isfinite(at["ear"]).all():
        centre = tuple(round(v) for v in at["ear"])
        cv2.circle(frame, centre, thick, (196, 150, 120), -1, cv2.LINE_AA)


def write_clip(path: Path, motion: Motion, size: tuple[int, int]) -> None:
    """Write the made-up clip with the frames' own, uneven times."""
    width, height = size
    ground = np.empty((height, width, 3), dtype=np.uint8)
    ground[:] = np.linspace(205, 165, height)[:, None, None].astype(np.uint8)
    ground[int(0.82 * height) :] = (120, 116, 108)
    rail = int(0.76 * height)
    cv2.line(ground, (int(0.2 * width), rail), (int(0.8 * width), rail), (60, 60, 64), 4)
    with av.open(str(path), "w") as out:
        stream = out.add_stream("mpeg4", rate=30)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 9000)
        stream.codec_context.qmin = stream.codec_context.qmax = 3
        for t, joints in zip(motion.t_s, motion.joints_px, strict=True):
            picture = ground.copy()
            draw_rower(picture, joints)
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(t * 9000), Fraction(1, 9000)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
