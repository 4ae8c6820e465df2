"""Strokes and rate on small, shaky boat clips with known truth, and what is told of angles there.

    python tests/accuracy/boat_bench.py FOLDER [--pose-cache DIR] [--kind WORD]

FOLDER holds clips from `python -m studio.launch` (sample_clips/studio): 320×240, 25 frames a
second, a moving camera, one to four rowers, the nearest 60 to 100 px tall. A stroke that begins or
ends so close to the clip's own ends that it may be told or not counts as right either way.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from rendered_truth import Truth, find_truth

from analysis.errors import ClipError
from analysis.filming import what_can_be_told
from analysis.motion.motion import ANGLES, Motion
from analysis.motion.reconstruct import reconstruct_motion
from analysis.stroke.analyse import analyse_strokes
from analysis.stroke.strokes import Strokes
from tests.accuracy.angles_bench import pose_of

#: A catch so near to the clip's ends may be seen or not, s: at 25 frames a second six of them.
EDGE_S = 0.25
#: What is asked for: rate within one stroke a minute.
RATE_WITHIN_SPM = 1.0


@dataclass(frozen=True)
class Outcome:
    """One clip: strokes that may rightly be told, those told, and both rates (NaN for none)."""

    clip: str
    kind: str
    fewest: int
    most: int
    told: int
    true_spm: float
    told_spm: float
    refusal: str = ""
    angles_told: int = 0
    angles_within: int = 0
    tall_px: float = float("nan")

    @property
    def count_right(self) -> bool:
        """Whether as many strokes are told as may be; fewer than two may be refused."""
        refused_rightly = self.told == 0 and self.fewest < 2
        return refused_rightly or self.fewest <= self.told <= self.most

    @property
    def rate_right(self) -> bool:
        """Whether the rate is right, or none is told where none need be."""
        if self.told == 0:
            return self.fewest < 2
        return abs(self.told_spm - self.true_spm) <= RATE_WITHIN_SPM


def countable(catches_s: np.ndarray, first_s: float, last_s: float) -> tuple[int, int]:
    """Return the fewest and the most whole strokes that may be told of catches [shape=(N,), s]."""
    seen = int(np.sum((catches_s >= first_s) & (catches_s <= last_s)))
    sure = int(np.sum((catches_s >= first_s + EDGE_S) & (catches_s <= last_s - EDGE_S)))
    return max(sure - 1, 0), max(seen - 1, 0)


def rate_told(strokes: Strokes) -> float:
    """The rate as the pages tell it: the median over the strokes."""
    return float(np.nanmedian(strokes.measures["rate_spm"].values))


def angles_within(truth: Truth, motion: Motion) -> tuple[int, int]:
    """How many values of angles are told in the whole strokes, and how many within 95 % bounds."""
    told = within = 0
    for k, name in enumerate(ANGLES):
        if name not in truth.angles_deg or name == "back_rounding_deg":
            continue
        off = motion.angles_deg[:, k] - truth.at(name, motion.t_s)
        known = np.isfinite(off)
        told += int(known.sum())
        within += int((np.abs(off) <= 1.96 * motion.angle_se_deg[:, k])[known].sum())
    return told, within


def judge(
    truth: Truth, kind: str, motion: Motion | None, strokes: Strokes | None, refusal: str = ""
) -> Outcome:
    """Compare what is told of a clip with its truth."""
    fewest, most = countable(truth.catches_s, float(truth.t_s[0]), float(truth.t_s[-1]))
    true_spm = 60.0 / float(np.mean(np.diff(truth.catches_s))) if most else float("nan")
    joints = np.concatenate([truth.joints_px[j] for j in ("ear", "hip")], axis=1)
    angles = (0, 0) if motion is None else angles_within(truth, motion)
    return Outcome(
        truth.clip.stem,
        kind,
        fewest,
        most,
        strokes.count if strokes is not None else 0,
        true_spm,
        rate_told(strokes) if strokes is not None else float("nan"),
        refusal,
        *angles,
        # From the ear to the hip is about three quarters of a seated rower.
        tall_px=float(np.median(joints[:, 3] - joints[:, 1])) / 0.75,
    )


def run(truth: Truth, cache: Path | None) -> Outcome:
    """Review one clip as `sideon review` would, and judge it."""
    about = json.loads(truth.clip.with_suffix(".truth.json").read_text())
    kind, motion = about.get("kind", truth.setting), None
    try:
        motion = what_can_be_told(reconstruct_motion(pose_of(truth.clip, cache)))
        return judge(truth, kind, motion, analyse_strokes(motion))
    except ClipError as error:
        return judge(truth, kind, motion, None, f"{type(error).__name__}: {error}")


def line(outcome: Outcome) -> str:
    """One line of a report."""
    o = outcome
    may = f"{o.fewest}" if o.fewest == o.most else f"{o.fewest}-{o.most}"
    marks = ("" if o.count_right else " COUNT") + ("" if o.rate_right else " RATE")
    angles = f"  angles told {o.angles_told}, within {o.angles_within}" if o.angles_told else ""
    return (
        f"{o.clip:24s} {o.tall_px:4.0f} px  strokes {o.told} of {may:4s} "
        f"rate {o.told_spm:5.1f} of {o.true_spm:5.1f}{marks}{angles}  {o.refusal[:90]}"
    )


def summary(outcomes: list[Outcome]) -> str:
    """Counts over all clips, and by kind."""
    out = []
    for kind in ("all", *sorted({o.kind for o in outcomes})):
        of = [o for o in outcomes if kind in ("all", o.kind)]
        good = Counter(
            {
                "count": sum(o.count_right for o in of),
                "rate": sum(o.rate_right for o in of),
                "both": sum(o.count_right and o.rate_right for o in of),
                "refused": sum(o.told == 0 for o in of),
                "invented": sum(max(o.told - o.most, 0) for o in of),
                "missed": sum(max(o.fewest - o.told, 0) for o in of if not o.count_right),
            }
        )
        told = sum(o.angles_told for o in of)
        within = 100 * sum(o.angles_within for o in of) / told if told else float("nan")
        out.append(
            f"{kind:10s} {len(of):3d} clips: count right {good['count']}, rate right "
            f"{good['rate']}, both {good['both']}; refused {good['refused']}, strokes invented "
            f"{good['invented']}, missed {good['missed']}; angles told {told}, "
            f"within {within:.0f} %"
        )
    return "\n".join(out)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--pose-cache", type=Path)
    parser.add_argument("--kind", default="", help="clips whose name holds this word")
    args = parser.parse_args()
    outcomes = []
    for truth in find_truth(args.folder):
        if args.kind in truth.clip.stem:
            outcomes.append(run(truth, args.pose_cache))
            print(line(outcomes[-1]), flush=True)
    print(summary(outcomes))


if __name__ == "__main__":
    main()
