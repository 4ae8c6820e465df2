"""How far angles and events are from rendered truth, beside plain landmarks in the same run.

    python tests/accuracy/angles_bench.py sample_clips [--pose-cache DIR] [--markdown FILE]

Plain landmarks are given every frame; a review has the models take turns on easy frames, and
what it would make of every frame stands beside it.

Truth is midway between the two usual definitions of a joint's place; that choice alone is worth
about 1 to 1.5 degrees.
"""

from __future__ import annotations

import argparse
import pickle
import sys
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from rendered_truth import Truth, find_truth

from analysis.errors import SideonError
from analysis.motion import angles
from analysis.motion.evidence import near_side_evidence
from analysis.motion.filters import bridge_gaps, smooth
from analysis.motion.motion import JOINTS, Motion
from analysis.motion.plane import to_place
from analysis.motion.reconstruct import reconstruct_motion
from analysis.pose.estimate import estimate_pose
from analysis.pose.track import PoseTrack
from analysis.stroke.analyse import analyse_strokes

ANGLES = ("trunk_deg", "shin_deg", "knee_deg", "elbow_deg", "back_rounding_deg")
#: Nearest found event further away than this counts as missed (or invented).
MATCH_S = 0.35
#: Column of what the models would give when both looked at every frame.
EVERY_FRAME = "sideon, every frame"


@dataclass
class Errors:
    """Departures from truth, collected over clips."""

    per_frame: dict[str, list[np.ndarray]] = field(default_factory=dict)
    per_clip_bias: dict[str, list[float]] = field(default_factory=dict)
    covered: dict[str, list[np.ndarray]] = field(default_factory=dict)
    event_s: dict[str, list[float]] = field(default_factory=dict)
    missed: dict[str, int] = field(default_factory=dict)
    invented: dict[str, int] = field(default_factory=dict)
    roll_deg: list[float] = field(default_factory=list)

    def add_angles(self, truth: Truth, t_s: np.ndarray, values: dict, se: dict | None) -> None:
        """Compare angle series within the whole strokes of the clip."""
        if not truth.strokes:
            return
        first, last = truth.strokes[0]["catch_s"], truth.strokes[-1]["next_catch_s"]
        inside = (t_s >= first) & (t_s <= last)
        moments = {
            "full compression": [s["full_compression_s"] for s in truth.strokes],
            "catch": [s["catch_s"] for s in truth.strokes],
            "release": [s["release_s"] for s in truth.strokes],
        }
        for name, series in values.items():
            off = series - truth.at(name, t_s)
            known = inside & np.isfinite(off)
            self.per_frame.setdefault(name, []).append(off[known])
            if se is not None:
                within = np.abs(off[known]) <= 1.96 * se[name][known]
                self.covered.setdefault(name, []).append(within)
            fine = np.isfinite(off)
            if fine.sum() < 10:
                continue
            for moment, when in moments.items():
                bias = float(np.mean(np.interp(when, t_s[fine], off[fine])))
                self.per_clip_bias.setdefault(f"{name} at {moment}", []).append(bias)

    def add_events(self, kind: str, true_s: np.ndarray, found_s: np.ndarray) -> None:
        """Match each true event to the nearest found one."""
        for when in true_s:
            off = found_s - when
            if len(off) and np.min(np.abs(off)) <= MATCH_S:
                self.event_s.setdefault(kind, []).append(float(off[np.argmin(np.abs(off))]))
            else:
                self.missed[kind] = self.missed.get(kind, 0) + 1
        for when in found_s:
            if not len(true_s) or np.min(np.abs(true_s - when)) > MATCH_S:
                self.invented[kind] = self.invented.get(kind, 0) + 1


def plain_angles(pose: PoseTrack, weights: tuple[float, float]) -> dict[str, np.ndarray]:
    """Angles straight from smoothed near-side landmarks, no fit, no tilt."""
    evidence = near_side_evidence(pose)
    weight = np.array(weights)[:, None, None, None] * np.isfinite(evidence.xy_px)
    with np.errstate(invalid="ignore", divide="ignore"):
        xy = np.sum(np.nan_to_num(evidence.xy_px) * weight, axis=0) / weight.sum(axis=0)
    for joint in range(len(JOINTS)):
        for axis in (0, 1):
            filled, _ = bridge_gaps(pose.t_s, xy[:, joint, axis])
            xy[:, joint, axis] = smooth(pose.t_s, filled)
    place = to_place(xy, np.zeros(2), 0.0, pose.facing)
    j = {name: place[:, i] for i, name in enumerate(JOINTS)}
    return {
        "trunk_deg": angles.trunk_deg(j["hip"], j["shoulder"]),
        "shin_deg": angles.shin_deg(j["ankle"], j["knee"]),
        "knee_deg": angles.knee_deg(j["hip"], j["knee"], j["ankle"]),
        "elbow_deg": angles.elbow_deg(j["shoulder"], j["elbow"], j["wrist"]),
    }


def pose_of(clip: Path, cache: Path | None, *, in_turns: bool = True) -> PoseTrack:
    """Estimate the pose, or take it from `cache` (a developer's convenience, never shipped)."""
    every = "" if in_turns else "-every"
    kept = cache / f"{clip.parent.name}-{clip.stem}{every}.pickle" if cache else None
    if kept and kept.exists():
        return pickle.loads(kept.read_bytes())
    pose = estimate_pose(clip, in_turns=in_turns)
    if kept:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_bytes(pickle.dumps(pose))
    return pose


def measure(truths: list[Truth], cache: Path | None) -> tuple[dict[str, Errors], list[str]]:
    """Run every clip through plain landmarks and through the whole motion stage."""
    methods = {
        "MediaPipe full": (0.0, 1.0),
        "Thunder": (1.0, 0.0),
        "simple average": (2 / 3, 1 / 3),
    }
    results = {name: Errors() for name in (*methods, "sideon", EVERY_FRAME)}
    trouble = []
    for truth in truths:
        try:
            every = pose_of(truth.clip, cache, in_turns=False)
            for name, weights in methods.items():
                results[name].add_angles(truth, every.t_s, plain_angles(every, weights), None)
            add_motion(
                results[EVERY_FRAME], truth, reconstruct_motion(every, setting=truth.setting)
            )
            pose = pose_of(truth.clip, cache)
            motion = reconstruct_motion(pose, setting=truth.setting)
            add_motion(results["sideon"], truth, motion)
            results["sideon"].roll_deg.append(motion.tilt_deg - truth.camera["tilt_deg"])
            strokes = analyse_strokes(motion, stage=truth.stage)
        except SideonError as error:
            trouble.append(f"{truth.clip.name}: {error}")
            continue
        found_catches = np.unique(np.concatenate([strokes.catch_s, strokes.next_catch_s]))
        inside = [s["catch_s"] for s in truth.strokes] + [truth.strokes[-1]["next_catch_s"]]
        results["sideon"].add_events("catch", np.array(inside), found_catches)
        releases = np.array([s["release_s"] for s in truth.strokes])
        results["sideon"].add_events("release", releases, strokes.release_s)
    return results, trouble


def add_motion(errors: Errors, truth: Truth, motion: Motion) -> None:
    """Compare all angles of the motion stage, with their standard errors."""
    values = {name: motion.angle(name) for name in ANGLES}
    errors.add_angles(truth, motion.t_s, values, {name: motion.angle_se(name) for name in ANGLES})


def table(results: dict[str, Errors]) -> list[list[str]]:
    """Rows of the printed table; the first is the head."""
    rows = [["degrees", *results]]

    def covers(name: str):
        return lambda e: (
            100 * np.mean(np.concatenate(e.covered[name])) if name in e.covered else np.nan
        )

    def row(label: str, value) -> None:
        cells = [value(errors) for errors in results.values()]
        rows.append([label, *("–" if np.isnan(c) else f"{c:.1f}" for c in cells)])

    for name in ANGLES:
        label = name.removesuffix("_deg").replace("_", " ")
        row(f"{label}, mean absolute", lambda e, n=name: mean_abs(e.per_frame.get(n)))
    for key, label in (
        ("trunk_deg at full compression", "trunk at full compression, bias of a clip"),
        ("trunk_deg at release", "layback at the release, bias of a clip"),
        ("shin_deg at full compression", "shin at full compression, bias of a clip"),
        ("knee_deg at catch", "knee at the catch, bias of a clip"),
        ("back_rounding_deg at catch", "back rounding at the catch, bias of a clip"),
    ):
        row(
            label,
            lambda e, k=key: (
                np.mean(np.abs(e.per_clip_bias[k])) if k in e.per_clip_bias else np.nan
            ),
        )
    for name in ANGLES:
        label = name.removesuffix("_deg").replace("_", " ")
        row(f"{label}, 95 % interval covers, %", covers(name))
    return rows


def mean_abs(parts: list[np.ndarray] | None) -> float:
    """Mean over clips of each clip's mean absolute error."""
    told = [np.mean(np.abs(p)) for p in parts or [] if len(p)]
    return float(np.mean(told)) if told else float("nan")


def event_lines(errors: Errors) -> list[str]:
    """One line a kind of event."""
    lines = []
    for kind in ("catch", "release"):
        off = 1000 * np.abs(errors.event_s.get(kind, []))
        if len(off):
            lines.append(
                f"{kind}: median {np.median(off):.0f} ms,"
                f" 95 % within {np.percentile(off, 95):.0f} ms, {len(off)} found,"
                f" {errors.missed.get(kind, 0)} missed, {errors.invented.get(kind, 0)} invented"
            )
    return lines


def roll_line(errors: Errors) -> str:
    """How far off the camera's roll is told, over all clips."""
    off = np.array(errors.roll_deg)
    return (
        f"camera roll: off by {np.sqrt(np.mean(off**2)):.2f}° rms,"
        f" {np.max(np.abs(off)):.1f}° at most, {len(off)} clips"
    )


def as_markdown(rows: list[list[str]]) -> str:
    """The table as Markdown."""
    head = f"| {' | '.join(rows[0])} |\n|{'---|' * len(rows[0])}\n"
    return head + "".join(f"| {' | '.join(row)} |\n" for row in rows[1:])


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="+")
    parser.add_argument("--pose-cache", type=Path)
    parser.add_argument("--markdown", type=Path)
    given = parser.parse_args()
    truths = [truth for folder in given.folder for truth in find_truth(folder)]
    results, trouble = measure(truths, given.pose_cache)
    text = as_markdown(table(results))
    lines = [f"{len(truths)} clips", "", text, *event_lines(results["sideon"])]
    lines += [roll_line(results["sideon"]), *trouble]
    print("\n".join(lines))
    if given.markdown:
        given.markdown.write_text(text)


if __name__ == "__main__":
    main()
