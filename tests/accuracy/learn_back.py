"""What backs look like from the side, and what that tells of rounding; after ``learn.py``.

    python tests/accuracy/learn_back.py TRUTH_FOLDER … --pose-cache DIR … [--write]

Give a pose cache for each folder. Usual distances of the rear edge are medians over clips. Weights
are a ridge regression that also keeps neighbouring weights alike, learned on medians over the four
quarters of each clip's trunk lean: the edge trembles, and noise in what is regressed on would
flatten the slopes. Round backs are few and matter most, so each counts twice. Errors that are left
are taken on each clip with that clip left out, where the edge is the athlete's own. A clip whose
outline is so much somebody else's that it reads ``ASTRAY_DEG`` off is not learned from, but counts
among the errors.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from learn import BACK, read_clips, ship, shipped_part, summarise
from rendered_truth import Truth

from analysis.errors import SideonError
from analysis.motion import learned, reconstruct
from analysis.motion.back_line import LEVELS
from analysis.motion.back_rounding import (
    LEAN_DEG,
    OWN_USUALLY,
    UsualBack,
    own_back,
    robust_line,
    terms_of,
)
from analysis.pose.track import PoseTrack

#: Held with what a weight does to 0.05 of the trunk's length.
RIDGE, ALIKE, UNIT = 0.003, 0.03, 0.05
#: A back rounder than this on average counts as round.
ROUND_DEG = 10.0
ASTRAY_DEG = 10.0
#: Athletes are not more alike than this, share of the trunk's length.
LEAST_SPREAD = 0.02


@dataclass(frozen=True)
class Seen:
    """One clip's rear edge (T, L), its time, s, trunk lean, degrees, and true back angle (T,).

    The edge was looked for in frames `outlined` (F,).
    """

    name: str
    edge: np.ndarray
    t_s: np.ndarray
    trunk_deg: np.ndarray
    true_deg: np.ndarray
    outlined: np.ndarray


def seen_of(clip: tuple[Truth, PoseTrack]) -> Seen | None:
    """The rear edge as the shipped numbers fit the rower; None where they cannot."""
    truth, pose = clip
    try:
        fitted = reconstruct.fit_pose(pose, setting=truth.setting, numbers=learned.shipped())
    except (SideonError, ValueError) as error:
        print(f"{truth.clip.name}: {error}")
        return None
    true, trunk = truth.at(BACK, pose.t_s), reconstruct.trunk_deg(fitted)
    return Seen(truth.clip.name, fitted.back, pose.t_s, trunk, true, pose.outlined)


def usual_line(clips: list[Seen]) -> tuple[np.ndarray, np.ndarray]:
    """Median line over clips (2, L), and how clips spread about it at an upright trunk (L,)."""
    anything = np.ones(len(LEVELS))
    lines = []
    for clip in clips:
        lean = np.column_stack([np.ones(len(clip.t_s)), clip.trunk_deg / LEAN_DEG])
        line = robust_line(clip.edge, lean, anything)[0]
        lines.append(np.where(np.isfinite(clip.edge).sum(axis=0) >= 20, line, np.nan))
    middle = np.nanmedian(lines, axis=0)
    spread = 1.4826 * np.nanmedian(np.abs(np.array(lines)[:, 0] - middle[0]), axis=0)
    return np.round(middle, 4), np.round(np.maximum(spread, LEAST_SPREAD), 4)


def quarters(terms: np.ndarray, clip: Seen) -> tuple[np.ndarray, np.ndarray]:
    """Medians of terms (4, K) and truth (4,) over the quarters of the trunk's lean."""
    good = np.isfinite(terms).all(axis=1) & np.isfinite(clip.true_deg)
    if good.sum() < 20:
        return np.zeros((0, terms.shape[1])), np.zeros(0)
    lean = terms[:, 1]
    quarter = np.digitize(lean, np.quantile(lean[good], [0.25, 0.5, 0.75]))
    parts = [good & (quarter == part) for part in range(4)]
    parts = [part for part in parts if part.any()]
    return (
        np.array([np.median(terms[part], axis=0) for part in parts]),
        np.array([np.median(clip.true_deg[part]) for part in parts]),
    )


def weights_of(parts: list[tuple[np.ndarray, np.ndarray]]) -> np.ndarray:
    """Ridge regression, every clip weighing the same, round ones twice."""
    count = parts[0][0].shape[1]
    unit = np.array([1.0, 1.0] + [UNIT] * (count - 2))
    held = np.diag([0.0] + [RIDGE] * (count - 1))
    bend = np.diff(np.eye(count - 2), 2, axis=0)
    held[2:, 2:] += ALIKE * bend.T @ bend
    left, right, total = np.zeros((count, count)), np.zeros(count), 0.0
    for x, y in parts:
        if len(y):
            say = 2.0 if y.mean() > ROUND_DEG else 1.0
            scaled = x / unit
            left += say * scaled.T @ scaled / len(y)
            right += say * scaled.T @ y / len(y)
            total += say
    return np.linalg.solve(left / total + held, right / total) / unit


def learn(clips: list[Seen]) -> tuple[UsualBack, list[np.ndarray], list[bool]]:
    """The usual back; of each clip the errors (T,) with it left out of the weights; clean or not.

    Clean is a clip in which nearly all of the edge is the athlete's own.
    """
    line, spread = usual_line(clips)
    usual = UsualBack(line, spread, np.zeros(2 + len(LEVELS)))
    own = [own_back(c.edge, c.trunk_deg, usual, c.outlined) for c in clips]
    terms = [terms_of(o, c.t_s, c.trunk_deg) for o, c in zip(own, clips, strict=True)]
    parts = [quarters(x, clip) for x, clip in zip(terms, clips, strict=True)]
    for _ in range(2):  # the second time without clips whose outline is somebody else's
        left_out = [weights_of(parts[:i] + parts[i + 1 :]) for i in range(len(clips))]
        off = [x @ w - c.true_deg for x, w, c in zip(terms, left_out, clips, strict=True)]
        for i, error in enumerate(off):
            if np.isfinite(error).any() and abs(np.nanmedian(error)) > ASTRAY_DEG:
                print(f"{clips[i].name}: {np.nanmedian(error):.1f}° off, not learned from")
                parts[i] = (parts[i][0][:0], parts[i][1][:0])
    usual = UsualBack(line, spread, np.round(weights_of(parts), 3))
    return usual, off, [o.share >= OWN_USUALLY for o in own]


def main() -> None:
    """Learn, print, and write when asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="+")
    parser.add_argument("--pose-cache", type=Path, nargs="+", required=True)
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    pairs = zip(given.folder, given.pose_cache, strict=True)
    clips = [clip for folder, cache in pairs for clip in read_clips([folder], cache)]
    seen = [one for clip in clips if (one := seen_of(clip)) is not None]
    usual, off, clean = learn(seen)
    told: dict[bool, list[tuple[np.ndarray, np.ndarray]]] = {True: [], False: []}
    for clip, error, own in zip(seen, off, clean, strict=True):
        if (known := np.isfinite(error)).sum() > 10:
            told[own].append((clip.true_deg[known] + error[known], error[known]))
    left_over = summarise(BACK, told[True])
    for own, kind in ((True, "whose edge is their own"), (False, "with a spoilt edge")):
        each = [float(np.mean(np.abs(error))) for _, error in told[own]]
        rms = np.sqrt(np.mean([np.mean(error**2) for _, error in told[own]]))
        print(f"{len(each)} clips {kind}: mean {np.mean(each):.2f}°, root mean square {rms:.2f}°")
    print(json.dumps(left_over))
    if given.write:
        back = {
            "line": usual.line.tolist(),
            "spread": usual.spread.tolist(),
            "weights": usual.weights.tolist(),
        }
        ship({"back": back, "left_over": shipped_part("left_over") | {BACK: left_over}})


if __name__ == "__main__":
    main()
