"""Learns how limbs lie beside their edges: "edges" in learned.json.

python tests/accuracy/learn_edges.py FOLDER ... --pose-cache DIR [--write]

From rendered clips, never ones that are reported on; after all that places joints. Printed is how
far limbs were off, and are on clips left out of the learning.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from learn import GROUPS, Clip, asked_for, seen_joints, ship

from analysis.errors import SideonError
from analysis.motion import learned
from analysis.motion.bends import GROUPS as BENT
from analysis.motion.in_plane import in_picture
from analysis.motion.limb_edges import edges_told
from analysis.motion.limb_turns import turned_by, turned_further_deg
from analysis.motion.motion import JOINTS
from analysis.motion.reconstruct import fit_pose
from analysis.pose.track import LIMBS, PoseTrack

#: Weight of the ridge, in the usual size of what is told.
RIDGE = 3.0
#: An error much larger than this hardly counts, degrees.
LARGE_DEG = 1.5
#: A limb further off than this was fitted to somebody else, degrees.
ASTRAY_DEG = 12.0
ROUNDS = 8
ENDS = np.array([[JOINTS.index(joint) for joint in ends] for ends in LIMBS.values()])


@dataclass(frozen=True)
class Example:
    """What a limb's edges tell in one group of a clip's frames, and how far it is off there."""

    clip: str
    limb: str
    group: int
    told: np.ndarray
    off_deg: float


def before_edges(pose: PoseTrack) -> PoseTrack:
    """Return what the first fit is made from."""
    none = pose.pictured_frames[:0]
    return replace(
        pose,
        limb_turned_deg=None,
        pictured_frames=none,
        pictured_ends_px=pose.pictured_ends_px[none],
        pictured_grey=pose.pictured_grey[none],
    )


def examples_of(clip: Clip) -> list[Example]:
    """Return a clip's examples, of limbs as they are fitted before edges are looked at."""
    truth, pose = clip
    fitted = fit_pose(before_edges(pose), setting=truth.setting, numbers=learned.shipped())
    ends = fitted.place[:, ENDS]
    ends_px = in_picture(fitted.place, fitted.out, fitted.camera)[:, ENDS]
    further = turned_further_deg(pose.t_s, ends, ends_px, pose.limb_turned)
    ends_px = turned_by(ends_px, further)
    frames, sense = pose.pictured_frames, 1.0 if pose.facing == "right" else -1.0
    found = []
    for limb, name in enumerate(LIMBS):
        true = seen_joints(truth)[frames][:, ENDS[limb]]
        off_deg = sense * turned_deg(ends_px[frames, limb], true)
        for each in edges_told(pose, ends, ends_px, limb):
            off = float(np.nanmean(off_deg[each.group.frames]))
            found.append(Example(truth.clip.stem, name, each.group.group, each.told, off))
    return [e for e in found if abs(e.off_deg) < ASTRAY_DEG]


def turned_deg(fitted: np.ndarray, true: np.ndarray) -> np.ndarray:
    """Return by how much limbs [shape=(F, 2, 2), px] are to be turned, + clockwise."""
    angles = [np.arctan2(*(ends[:, 1] - ends[:, 0]).T[::-1]) for ends in (true, fitted)]
    return (np.degrees(angles[0] - angles[1]) + 180.0) % 360.0 - 180.0


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


def weights_of(examples: list[Example]) -> np.ndarray:
    """Robust ridge regression on what is told [shape=(1 + TOLD,)]."""
    told, off = np.array([e.told for e in examples]), np.array([e.off_deg for e in examples])
    middle, size = told.mean(axis=0), told.std(axis=0) + 1e-9
    weights = robust_ridge((told - middle) / size, off, RIDGE, LARGE_DEG)
    slopes = weights[1:] / size
    return np.append(weights[0] - slopes @ middle, slopes)


def group_of(clip: str, clips: list[str]) -> int:
    """Return the group that a clip is left out with."""
    return clips.index(clip) % GROUPS


def left_deg(examples: list[Example], clips: list[str]) -> np.ndarray:
    """Return how far limbs are off, each by weights learned without its clip's group [deg]."""
    groups = [group_of(e.clip, clips) for e in examples]
    by = [
        weights_of([e for e, own in zip(examples, groups, strict=True) if own != left])
        for left in range(GROUPS)
    ]
    return np.array(
        [
            e.off_deg - by[own] @ np.append(1.0, e.told)
            for e, own in zip(examples, groups, strict=True)
        ]
    )


def edges_of(examples: list[Example]) -> dict[str, np.ndarray]:
    """Return the weights of every limb [shape=(BENT, 1 + TOLD)]."""
    return {
        limb: np.array(
            [
                weights_of([e for e in examples if e.limb == limb and e.group == group])
                for group in range(BENT)
            ]
        )
        for limb in sorted({e.limb for e in examples})
    }


def main() -> None:
    """Learn, print, and write when asked."""
    given, write = asked_for(__doc__)
    found = list[Example]()
    for clip in given:
        try:
            found += examples_of(clip)
        except SideonError as error:
            print(f"{clip[0].clip.name}: {error}")
    clips = sorted({e.clip for e in found})
    edges = edges_of(found)
    for limb in edges:
        for group in range(BENT):
            own = [e for e in found if e.limb == limb and e.group == group]
            off, left = (np.abs(d).mean() for d in ([e.off_deg for e in own], left_deg(own, clips)))
            print(f"{limb:8s} {group} {len(own):4d} examples: {off:.2f} → {left:.2f}°")
    if write:
        ship({"edges": {limb: np.round(rows, 4).tolist() for limb, rows in edges.items()}})


if __name__ == "__main__":
    main()
