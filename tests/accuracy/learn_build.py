"""Learns what an athlete's build tells of how segments lie: "build" in learned.json.

python tests/accuracy/learn_build.py FOLDER ... --pose-cache DIR [--write]

From rendered clips at a machine, never ones that are reported on; after all that places joints, and
after limbs' looks, by networks that have not seen the clip. Printed is how far segments were off,
and are on clips left out of the learning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from learn import GROUPS, Clip, asked_for, seen_joints, ship
from limb_examples import (
    ASTRAY_DEG,
    before_pictures,
    turned_deg,
    unseen,
    untold,
)

from analysis.errors import SideonError
from analysis.motion.bends import FINER, PART_OF, alike
from analysis.motion.build import BuildWeights, bends_deg, build_told, standing_out
from analysis.motion.in_plane import in_picture, outlines_in_plane
from analysis.motion.motion import JOINTS, SEGMENTS
from analysis.motion.reconstruct import fit_pose
from analysis.motion.rules import FITTED

#: Weight of the ridge, in usual scatters.
RIDGE = 30.0
#: An error much larger than this hardly counts, degrees.
LARGE_DEG = 2.0
ROUNDS = 8
FITTED_AT = [JOINTS.index(joint) for joint in FITTED]
#: So many, the last of what is told, are of the outline beside legs: they say nothing of arms.
OF_LEGS = 16


@dataclass(frozen=True)
class Example:
    """What a clip tells of a build, and how far a segment is off in one group of frames alike."""

    clip: str
    segment: str
    group: int
    told: np.ndarray
    off_deg: float


def examples_of(clip: Clip) -> list[Example]:
    """Return a clip's examples: of the first fit's build, and how far the second is off."""
    truth, pose = clip
    numbers = unseen(untold(), truth.clip.stem)
    first = fit_pose(before_pictures(pose), setting=truth.setting, numbers=numbers)
    out = first.out[:, FITTED_AT]
    silhouette = outlines_in_plane(pose.outline_px, pose.outlined, out, first.camera)
    told = build_told(first.rower.place_px, first.rower.segments_px, silhouette)
    second = fit_pose(pose, setting=truth.setting, numbers=numbers)
    seen = in_picture(second.place, second.out, second.camera)
    sense, true = (1.0 if pose.facing == "right" else -1.0), seen_joints(truth)
    bends = bends_deg(second.rower.place_px)
    found = []
    for name, ends in SEGMENTS.items():
        at = [JOINTS.index(joint) for joint in ends]
        off_deg = sense * turned_deg(seen[:, at], true[:, at])
        for each in alike(name, bends[PART_OF[name]], bends=FINER):
            off = float(np.nanmean(off_deg[each.frames]))
            found.append(Example(truth.clip.stem, name, each.group, told, off))
    return [e for e in found if abs(e.off_deg) < ASTRAY_DEG]


def group_of(clip: str, clips: list[str]) -> int:
    """Return the group that a clip is left out with."""
    return clips.index(clip) % GROUPS


def usual_of(examples: list[Example]) -> tuple[np.ndarray, np.ndarray]:
    """Return what is usually told, and its scatter [shape=(TOLD,) each]; every clip counts once.

    What no clip tells (the thigh's upper side where it lies at the chest) is 0 ± 1, and gets no
    weight.
    """
    told = np.array(list({e.clip: e.told for e in examples}.values()))
    usual, scatter = np.zeros(told.shape[1]), np.ones(told.shape[1])
    known = np.isfinite(told).sum(axis=0) > 2
    usual[known] = np.nanmean(told[:, known], axis=0)
    scatter[known] = np.nanstd(told[:, known], axis=0)
    return usual, scatter


def robust_ridge(told: np.ndarray, off: np.ndarray, weight: float, large: float) -> np.ndarray:
    """Return the weights of 1 and of what is told [shape=(N, M)] that tell `off` best.

    `weight` draws all but the first to 0; an error much larger than `large` hardly counts.
    """
    terms = np.column_stack([np.ones(len(off)), told])
    ridge = np.diag([0.0] + [weight] * told.shape[1])
    counts = np.ones(len(off))
    for _ in range(ROUNDS):
        weighed = terms * counts[:, None]
        weights = np.linalg.solve(weighed.T @ terms + ridge, weighed.T @ off)
        counts = 1.0 / (1.0 + ((off - terms @ weights) / large) ** 2)
    return weights


def weights_of(examples: list[Example], usual: np.ndarray, scatter: np.ndarray) -> np.ndarray:
    """Robust ridge regression on how unusual a build is [shape=(1 + TOLD,)]."""
    out = np.array([standing_out(e.told, usual, scatter) for e in examples])
    if examples[0].segment in ("upper_arm", "forearm"):
        out[:, -OF_LEGS:] = 0.0
    off = np.array([e.off_deg for e in examples])
    return robust_ridge(out, off, RIDGE, LARGE_DEG)


def left_deg(examples: list[Example], clips: list[str]) -> np.ndarray:
    """Return how far segments are off, each by weights learned without its clip's group [deg]."""
    left = []
    for group in range(GROUPS):
        kept = [e for e in examples if group_of(e.clip, clips) != group]
        usual = usual_of(kept)
        weights = weights_of(kept, *usual)
        left += [
            e.off_deg - weights @ np.append(1.0, standing_out(e.told, *usual))
            for e in examples
            if group_of(e.clip, clips) == group
        ]
    return np.array(left)


def build_of(examples: list[Example]) -> BuildWeights:
    """Return what is learned from examples."""
    usual, scatter = usual_of(examples)
    turn = {
        name: np.array(
            [
                weights_of(
                    [e for e in examples if (e.segment, e.group) == (name, group)], usual, scatter
                )
                for group in range(len(FINER[PART_OF[name]]))
            ]
        )
        for name in SEGMENTS
    }
    return BuildWeights(usual, scatter, turn)


def main() -> None:
    """Learn, print, and write when asked."""
    given, write = asked_for(__doc__)
    found = list[Example]()
    for clip in given:
        if clip[0].setting != "erg":
            continue
        try:
            found += examples_of(clip)
        except SideonError as error:
            print(f"{clip[0].clip.name}: {error}")
    clips = sorted({e.clip for e in found})
    for name in SEGMENTS:
        for group in range(len(FINER[PART_OF[name]])):
            own = [e for e in found if (e.segment, e.group) == (name, group)]
            off, left = (np.abs(d).mean() for d in ([e.off_deg for e in own], left_deg(own, clips)))
            print(f"{name:9s} {group} {len(own):4d} examples: {off:.2f} → {left:.2f}°")
    if write:
        build = build_of(found)
        turn = {name: np.round(rows, 4).tolist() for name, rows in build.turn.items()}
        usual, scatter = (np.round(v, 5).tolist() for v in (build.usual, build.scatter))
        ship({"build": {"usual": usual, "scatter": scatter, "turn": turn}})


if __name__ == "__main__":
    main()
