"""Learns the few numbers of ``analysis/motion/learned.json`` from rendered truth.

    python tests/accuracy/learn.py TRUTH_FOLDER … --pose-cache DIR [--write]

Errors that are left are taken on clips left out of the learning, in four groups, so that the
standard errors that ship are honest. Clips learned from are never reported on.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from angles_bench import pose_of
from learn_depths import MiddlePlane, learn_depths
from rendered_truth import Truth, find_truth

from analysis.errors import SideonError
from analysis.motion import learned, reconstruct
from analysis.motion.angles import lean_deg
from analysis.motion.corrections import TURNING, Postures, corrected, offset_terms
from analysis.motion.evidence import MODELS, Evidence, near_side_evidence
from analysis.motion.in_plane import spread_out
from analysis.motion.learned import Learned
from analysis.motion.level import Level, level_by
from analysis.motion.motion import ANGLES, JOINTS, SEGMENTS
from analysis.motion.plane import turn_matrix
from analysis.motion.view import STANDS_OUT, distance_and_focal, stands_out
from analysis.pose.track import PoseTrack

RIDGE = 0.005
#: A landmark further off than this sits on somebody else, trunk lengths: not learned from.
ASTRAY = 0.35
GROUPS = 4
#: Pairs whose near − far shift follows the camera (the others hardly do: r < 0.1 with true yaw).
DEPTH_PAIRS = (("thunder", "shoulder"), ("thunder", "hip"), ("thunder", "knee"))
#: Values of each angle at which its left-over error is told, degrees.
BINS = {
    "trunk_deg": (-25, -5, 10, 25),
    "shin_deg": (-60, -40, -20, 0),
    "knee_deg": (55, 85, 120, 160),
    "hip_deg": (35, 60, 90, 120),
    "elbow_deg": (75, 110, 140, 170),
    "forearm_deg": (-40, -20, 0, 20),
    "head_deg": (-10, 10),
    "back_rounding_deg": (-10, 0, 10, 20),
}

#: Angle that bends each segment out of the plane, and where its shown share is learned, degrees.
BENDS = {
    "thigh": ("knee_deg", (50.0, 70.0, 90.0, 115.0, 140.0)),
    "shank": ("knee_deg", (50.0, 70.0, 90.0, 115.0, 140.0)),
    "upper_arm": ("elbow_deg", (70.0, 90.0, 115.0, 140.0, 165.0)),
    "forearm": ("elbow_deg", (70.0, 90.0, 115.0, 140.0, 165.0)),
}

Clip = tuple[Truth, PoseTrack]

#: Its numbers and its errors are learned by learn_back.py.
BACK = "back_rounding_deg"

LEARNED = Path(learned.__file__).with_name("learned.json")


def trunk_px(joints: np.ndarray) -> float:
    """Median length of the trunk of joints (T, J, 2)."""
    trunk = joints[:, JOINTS.index("shoulder")] - joints[:, JOINTS.index("hip")]
    return float(np.median(np.linalg.norm(trunk, axis=1)))


def side_in_picture(clip: Clip) -> np.ndarray:
    """Where the true camera shows the direction out of the athlete's side, px."""
    truth, pose = clip
    size = np.array([pose.clip.width_px, pose.clip.height_px])
    focal = distance_and_focal(trunk_px(seen_joints(truth)), float(size.max()))[1]
    lean = np.radians([truth.camera["yaw_deg"], truth.camera["pitch_deg"]])
    turn = turn_matrix(truth.camera["tilt_deg"], truth.facing)
    return np.asarray((size - 1) / 2 + turn.T @ (focal * np.tan(lean)))


def seen_joints(truth: Truth) -> np.ndarray:
    """True near joints in the picture (T, J, 2), px."""
    return np.stack([truth.joints_px[name] for name in JOINTS], axis=1)


def level_of(clip: Clip) -> Level:
    """What puts the true camera level, as far as the room shows it."""
    truth, pose = clip
    size = (pose.clip.width_px, pose.clip.height_px)
    focal = distance_and_focal(trunk_px(seen_joints(truth)), float(max(size)))[1]
    seen = pose.upright_converge_deg, pose.upright_converge_se_deg
    return level_by(side_in_picture(clip), focal, size, *seen)


def outline_px(pose: PoseTrack) -> np.ndarray:
    """Outlines of all frames, NaN where there is none."""
    return spread_out(pose.outline_px, pose.outlined, len(pose.t_s))


def square_of(clip: Clip) -> Level:
    """What puts the true camera level and square on."""
    level = level_of(clip)
    return level.square_on(level.put(side_in_picture(clip)), clip[0].camera["tilt_deg"])


def frame_of(
    clip: Clip, put: Level | None = None
) -> tuple[np.ndarray, np.ndarray, float, Evidence]:
    """Turn matrix, true near joints in the athlete's axes (T, J, 2), trunk px, evidence.

    All as a camera in the same place shows them that is level and square on, or as `put` says.
    """
    truth, pose = clip
    put = put or square_of(clip)
    turn = turn_matrix(truth.camera["tilt_deg"], truth.facing)
    joints = put.put(seen_joints(truth)) @ turn.T
    near = near_side_evidence(pose)
    return turn, joints, trunk_px(joints), replace(near, xy_px=put.put(near.xy_px))


def learn_offsets(clips: list[Clip]) -> dict[tuple[str, str], np.ndarray]:
    """Ridge regression of each joint's offset on its terms; every clip weighs the same."""
    normal: dict[tuple[str, str], list] = {}
    for clip in clips:
        turn, joints, unit, evidence = frame_of(clip)
        for witness, model in enumerate(MODELS):
            place = evidence.xy_px[witness] @ turn.T
            for joint in TURNING:
                index = JOINTS.index(joint)
                terms = offset_terms(place, joint)
                off = (joints[:, index] - place[:, index]) / unit
                good = np.isfinite(terms).all((1, 2)) & (np.linalg.norm(off, axis=1) < ASTRAY)
                if good.sum() < 20:
                    continue
                x, y = terms[good].reshape(-1, terms.shape[2]), off[good].reshape(-1)
                pair = (x.T @ x / good.sum(), x.T @ y / good.sum())
                normal.setdefault((model, joint), []).append(pair)
    weights = {}
    for key, pairs in normal.items():
        left = np.mean([p[0] for p in pairs], axis=0)
        right = np.mean([p[1] for p in pairs], axis=0)
        weights[key] = np.linalg.solve(left + RIDGE * np.eye(len(left)), right)
    return weights


def off_by(clip: Clip, offsets: dict, postures: Postures) -> np.ndarray:
    """What corrected landmarks are off, trunk lengths [shape=(W, T, J, 2)]; NaN of one astray."""
    turn, joints, unit, near = frame_of(clip)
    place = [
        corrected(xy @ turn.T, model, unit, offsets, postures)
        for xy, model in zip(near.xy_px, MODELS, strict=True)
    ]
    off = (np.array(place) - joints) / unit
    off[~(np.linalg.norm(off, axis=-1) < ASTRAY)] = np.nan
    return off


def scatter(clips: list[Clip], offsets: dict) -> np.ndarray:
    """Root mean square of what corrected landmarks are off, trunk lengths [shape=(W, J)]."""
    squares: dict[tuple[int, int], list[float]] = {}
    for clip in clips:
        off = off_by(clip, offsets, {})
        for witness, index in np.ndindex(len(MODELS), len(JOINTS)):
            told = off[witness, np.isfinite(off[witness, :, index, 0]), index]
            if len(told) > 20:
                squares.setdefault((witness, index), []).append(np.mean(told**2))
    out = np.full((len(MODELS), len(JOINTS)), np.nan)
    for (witness, index), values in squares.items():
        out[witness, index] = np.sqrt(np.mean(values))
    return out


def middle_plane(clip: Clip) -> MiddlePlane:
    """True joints where the middle plane shows them, and what brings pictures there."""
    truth, pose = clip
    turn, joints, unit, _ = frame_of(clip)
    distance = distance_and_focal(unit, float(max(pose.clip.width_px, pose.clip.height_px)))[0]
    bends = (truth.at(name, pose.t_s) for name in ("elbow_deg", "knee_deg"))
    share = stands_out(*bends, truth.setting) / distance
    side = turn @ square_of(clip).put(side_in_picture(clip))
    return MiddlePlane(joints - share[:, :, None] * (joints - side), share, side, turn.T)


def learn_shortening(clips: list[Clip]) -> dict:
    """How much of each limb's segment shows in the middle plane, by the bend of its joint."""
    shares: dict[str, list[np.ndarray]] = {name: [] for name in BENDS}
    for truth, pose in clips:
        middle = middle_plane((truth, pose)).joints
        for name, (angle, at_deg) in BENDS.items():
            low, high = (middle[:, JOINTS.index(end)] for end in SEGMENTS[name])
            length = np.linalg.norm(low - high, axis=1)
            bend = truth.at(angle, pose.t_s)
            if (straight := bend > at_deg[-1] - 15.0).any():
                width = np.gradient(np.array(at_deg)) / 2
                here = [np.abs(bend - a) < w for a, w in zip(at_deg, width, strict=True)]
                shown = [np.median(length[h]) if h.sum() > 3 else np.nan for h in here]
                shares[name].append(np.array(shown) / np.median(length[straight]))
    table = {}
    for name, (_, at_deg) in BENDS.items():
        middle = np.nanmedian(shares[name], axis=0)
        known = np.isfinite(middle)
        filled = np.interp(at_deg, np.array(at_deg)[known], middle[known])
        table[name] = {"at_deg": list(at_deg), "share": [round(float(s), 4) for s in filled]}
    return table


def learn_postures(clips: list[Clip]) -> list:
    """How far every segment truly leans in what is learned from, degrees."""
    leans: dict[tuple[str, str], list[np.ndarray]] = {}
    for clip in clips:
        joints = frame_of(clip)[1]
        for low, high in {pair for pairs in TURNING.values() for pair in pairs}:
            lean = lean_deg(joints[:, JOINTS.index(low)], joints[:, JOINTS.index(high)])
            leans.setdefault((low, high), []).append(lean)
    table = []
    for (low, high), values in sorted(leans.items()):
        least, most = np.min(np.concatenate(values)), np.max(np.concatenate(values))
        table.append([low, high, round(float(least), 1), round(float(most), 1)])
    return table


def learn_depth_cues(clips: list[Clip]) -> dict:
    """Bias and spread of near − far of each pair against what the true camera makes of it."""
    from analysis.motion.evidence import far_side_evidence

    off: dict[tuple[str, str], list[np.ndarray]] = {}
    for truth, pose in clips:
        level = level_of((truth, pose))
        turn, _, unit, near = frame_of((truth, pose), level)
        far_px = level.put(far_side_evidence(pose).xy_px)
        distance = distance_and_focal(unit, float(max(pose.clip.width_px, pose.clip.height_px)))[0]
        side = turn @ level.put(side_in_picture((truth, pose)))
        for model, joint in DEPTH_PAIRS:
            witness, index = MODELS.index(model), JOINTS.index(joint)
            gap = near.xy_px[witness, :, index] - far_px[witness, :, index]
            if np.isfinite(gap).all(axis=1).mean() < 0.3:
                continue
            seen = turn @ np.nanmedian(gap, axis=0) / unit
            place = np.nanmedian(near.xy_px[witness, :, index] @ turn.T, axis=0)
            expected = 2 * STANDS_OUT[joint] / distance * (place - side) / unit
            off.setdefault((model, joint), []).append(seen - expected)
    cues: dict = {}
    for (model, joint), values in off.items():
        about = np.median(values, axis=0)
        spread = 1.4826 * float(np.median(np.abs(np.array(values) - about)))
        cues.setdefault(model, {})[joint] = {
            "bias": [round(float(v), 4) for v in about],
            "spread": round(max(spread, 0.02), 4),
        }
    return cues


def shipped_part(name: str) -> dict:
    """What ships of what is learned after all this, as it stands in the file."""
    return json.loads(LEARNED.read_text(encoding="utf-8"))[name]


def ship(parts: dict) -> None:
    """Write parts of what is learned over what ships; the others stay."""
    whole = json.loads(LEARNED.read_text(encoding="utf-8")) | parts
    LEARNED.write_text(json.dumps(whole, indent=1) + "\n", encoding="utf-8")


def as_json(
    offsets: dict,
    spread: np.ndarray,
    cues: dict,
    shortening: dict,
    postures: list,
    left_over: dict,
    depths: dict,
) -> str:
    """The text of learned.json; what is learned after (`shipped_part`) stays."""
    table: dict = {}
    for (model, joint), weights in offsets.items():
        table.setdefault(model, {})[joint] = {
            "weights": [round(float(w), 5) for w in weights],
            "spread": round(float(spread[MODELS.index(model), JOINTS.index(joint)]), 4),
        }
    return json.dumps(
        {
            "offsets": table,
            "depth_cues": cues,
            "left_over": left_over,
            "tilt_se_deg": 0.5,
            "turns": shipped_part("turns"),
            "shortening": shortening,
            "postures": postures,
            "depths": depths,
            "back": shipped_part("back"),
            "by_setting": shipped_part("by_setting"),
            "aside": shipped_part("aside"),
            "build": shipped_part("build"),
        },
        indent=1,
    )


def learn(clips: list[Clip], left_over: dict) -> str:
    """Everything but the left-over errors, which are given."""
    offsets = learn_offsets(clips)
    spread, cues = scatter(clips, offsets), learn_depth_cues(clips)
    shortening, postures = learn_shortening(clips), learn_postures(clips)
    depths = learn_depths(
        [(middle_plane(clip), square_of(clip).put(outline_px(clip[1]))) for clip in clips]
    )
    return as_json(offsets, spread, cues, shortening, postures, left_over, depths)


def unknown_left_over() -> dict:
    """Left-over errors before they are known: none."""
    return {name: {"at_deg": [0.0], "se_deg": [3.0], "noise_deg": 1.0} for name in ANGLES}


def left_over_of(clips: list[Clip]) -> dict:
    """Errors of every angle, by its own value, on clips that were left out."""
    off: dict[str, list[tuple[np.ndarray, np.ndarray]]] = {name: [] for name in ANGLES}
    for group in range(GROUPS):
        held = clips[group::GROUPS]
        kept = [c for i, c in enumerate(clips) if i % GROUPS != group]
        numbers = learned.read(learn(kept, unknown_left_over()), learned.shipped().looks)
        for truth, pose in held:
            collect(off, truth, pose, numbers)
    left_over = {name: summarise(name, off[name]) for name in ANGLES if off[name]}
    return left_over | {BACK: shipped_part("left_over")[BACK]}


def collect(off: dict, truth: Truth, pose: PoseTrack, numbers: Learned) -> None:
    """Add one clip's errors (value, error) of every angle."""
    try:
        motion = reconstruct.reconstruct_motion(pose, setting=truth.setting, numbers=numbers)
    except (SideonError, ValueError) as error:
        print(f"{truth.clip.name}: {error}")
        return
    for name in ANGLES:
        value = motion.angle(name)
        error = value - truth.at(name, motion.t_s)
        good = np.isfinite(error)
        if good.sum() > 10:
            off[name].append((value[good], error[good]))


def summarise(name: str, clips: list) -> dict:
    """Root mean square error around each of the angle's ``BINS``; noise within clips."""
    at = np.array(BINS[name], dtype=float)
    se = []
    width = max(np.median(np.diff(at)), 10.0)
    for centre in at:
        parts = [e[np.abs(v - centre) < width] ** 2 for v, e in clips]
        # A clip weighs by how long it is near this value: a stray second is no clip's worth.
        share = [len(part) / len(v) for part, (v, _) in zip(parts, clips, strict=True)]
        told = [(n, np.mean(part)) for n, part in zip(share, parts, strict=True) if len(part) > 5]
        mean = np.average([m for _, m in told], weights=[n for n, _ in told]) if told else np.nan
        se.append(float(np.sqrt(mean)))
    known = np.isfinite(se)
    se = np.interp(at, at[known], np.array(se)[known])
    noise = float(np.mean([np.std(np.diff(e)) / np.sqrt(2) for _, e in clips]))
    return {
        "at_deg": list(at),
        "se_deg": [round(float(s), 2) for s in se],
        "noise_deg": round(noise, 2),
    }


def read_clips(folders: list[Path], pose_cache: Path) -> list[Clip]:
    """Truth and pose of every clip whose pose can be had; says which are left out."""
    clips = []
    for truth in (t for folder in folders for t in find_truth(folder)):
        try:
            pose = pose_of(truth.clip, pose_cache)
        except SideonError as error:
            print(f"{truth.clip.name}: {error}")
            continue
        if pose.facing == truth.facing and len(pose.t_s) == len(truth.t_s):
            clips.append((truth, pose))
        else:
            print(
                f"{truth.clip.name}: found facing {pose.facing}, {len(pose.t_s)} frames: left out"
            )
    return clips


def asked_for(about: str) -> tuple[list[Clip], bool]:
    """Read the command line: the clips to learn from, and whether to write what is learned."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("folder", type=Path, nargs="+")
    parser.add_argument("--pose-cache", type=Path, required=True)
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    return read_clips(given.folder, given.pose_cache), given.write


def main() -> None:
    """Learn, print, and write when asked."""
    clips, write = asked_for(__doc__)
    text = learn(clips, left_over_of(clips))
    print(f"learned from {len(clips)} clips\n{json.dumps(json.loads(text)['left_over'])}")
    if write:
        LEARNED.write_text(text + "\n")


if __name__ == "__main__":
    main()
