"""How exactly catches and releases are found, on made motion of known sequence.

    python tests/accuracy/events_bench.py [--seeds 3]

Prints, over frame rate × noise and then over technique, the errors against the definition's exact
instants, beside the naive way (the frame in which the smoothed wrist is foremost or rearmost) on
the same frames. The naive way means another instant, so its own mean offset is taken out for each
technique before its errors are told: what is left is only its scatter.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.motion.motion import Motion
from analysis.stroke.events import Events, read_events
from analysis.stroke.reading import find_rowing
from analysis.stroke.view import body_of
from tests.made_motion import ORDERS, STAGES, MadeMotion, Technique, made_motion, planted

#: px per metre at which a full slide's handle travel (1.18 m) is 300 px.
PX_PER_M = 254.0

TECHNIQUES = {
    **STAGES,
    **ORDERS,
    "10 a minute": Technique(rate_spm=10, drive_s=1.6),
    "36 a minute": Technique(rate_spm=36, drive_s=0.75),
    "60 a minute": Technique(rate_spm=60, drive_s=0.42),
    "pause hands away": Technique(pauses=(("hands_away", 1.5),)),
    "pause body over": Technique(rate_spm=20, pauses=(("body_over", 2.0),)),
    "pause mid-drive": Technique(pauses=(("mid_drive", 0.8),)),
    "hangs at the front": Technique(front_hold_s=0.5),
    "seat slips": planted("seat_slip_share", 0.19),
    "rushes the slide": planted("front_speed_share", 1.3),
    "late body, lunge": replace(planted("lunge_deg", 11.0), body_end=0.6),
}  # fmt: skip

#: A stroke that begins or ends so close to the clip's own ends may be told or not, s.
EDGE_S = 0.15


@dataclass
class Tally:
    """Errors [s] and counts over some clips."""

    catch: list[float]
    release: list[float]
    naive_catch: list[float]
    naive_release: list[float]
    true: int = 0
    missed: int = 0
    invented: int = 0

    @classmethod
    def empty(cls) -> Tally:
        return cls([], [], [], [])

    def add(self, made: MadeMotion, events: Events) -> None:
        """Count one clip."""
        truth = made.truth
        used = set()
        naive: list[np.ndarray] = []
        end = made.motion.t_s[-1]
        for k, catch in enumerate(truth.catch_s):
            self.true += 1
            near = np.abs(events.catch_s - catch)
            whole = catch > EDGE_S and truth.next_catch_s[k] < end - EDGE_S
            if len(near) == 0 or near.min() > 0.35:
                self.missed += whole
                continue
            i = int(np.argmin(near))
            used.add(i)
            self.catch.append(events.catch_s[i] - catch)
            self.release.append(events.release_s[i] - truth.release_s[k])
            instants = (catch, truth.release_s[k])
            naive.append(np.subtract(naive_events(made.motion, *instants), instants))
        extra = [i for i in range(events.count) if i not in used]
        self.invented += sum(
            events.catch_s[i] > EDGE_S and events.next_catch_s[i] < end - EDGE_S for i in extra
        )
        if naive:
            errors = np.array(naive)
            errors -= errors.mean(axis=0)
            self.naive_catch += errors[:, 0].tolist()
            self.naive_release += errors[:, 1].tolist()

    def row(self) -> str:
        """Return one line: counts, then median and 95th percentile, ms."""
        cells = [f"{self.true:6d} {self.missed:6d} {self.invented:8d} "]
        for errors in (self.catch, self.naive_catch, self.release, self.naive_release):
            size = 1000 * np.abs(errors) if errors else np.array([np.nan])
            cells.append(f"{np.median(size):7.1f} {np.percentile(size, 95):6.1f}  ")
        return "".join(cells)


def naive_events(motion: Motion, catch_s: float, release_s: float) -> tuple[float, float]:
    """Return the frames in which the smoothed wrist is foremost and rearmost, near the truth."""
    smooth = np.convolve(motion.handle_px[:, 0], np.ones(5) / 5, mode="same")
    t = motion.t_s

    def best(at: float, sign: float) -> float:
        near = np.flatnonzero(np.abs(t - at) < 0.35)
        near = near[(near > 2) & (near < len(t) - 3)]
        return float(t[near[np.argmax(sign * smooth[near])]]) if len(near) else np.nan

    return best(catch_s, 1.0), best(release_s, -1.0)


def found(motion: Motion) -> Events:
    """Return the events that the stroke stage finds."""
    signals, rowing = find_rowing(motion, body_of(motion, np.nan, np.nan))
    return read_events(signals.curves, rowing.turns, rowing.strokes, rowing.slides)


def clip(name: str, fps: float, noise_px: float, seed: int) -> MadeMotion:
    """Make one clip that starts and ends anywhere, with uneven times and a few frames dropped."""
    rng = np.random.default_rng([seed, int(fps), int(10 * noise_px), sum(map(ord, name))])
    return made_motion(
        TECHNIQUES[name], strokes=6, fps=fps, noise_px=noise_px, px_per_m=PX_PER_M,
        time_jitter=0.2, drop_share=0.03, start_phase=float(rng.uniform(0, 2)),
        end_phase=float(rng.uniform(0, 2)), seed=int(rng.integers(1 << 30)),
    )  # fmt: skip


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--seeds", type=int, default=3)
    seeds = range(parser.parse_args().seeds)
    head = (f"{'':26s}{'true':>6s} {'missed':>6s} {'invented':>8s}   catch 50 % 95 %   "
            "naive 50 % 95 %  release 50 % 95 %  naive   (ms)")  # fmt: skip
    by_technique = {name: Tally.empty() for name in TECHNIQUES}
    print(head)
    for fps in (25.0, 30.0, 60.0, 120.0):
        for noise in (0.0, 1.0, 3.0):
            tally = Tally.empty()
            for name in TECHNIQUES:
                for seed in seeds:
                    made = clip(name, fps, noise, seed)
                    events = found(made.motion)
                    tally.add(made, events)
                    if noise == 1.0 and fps == 30.0:
                        by_technique[name].add(made, events)
            print(f"{fps:5.0f} frames/s, {noise:.0f} px noise   {tally.row()}", flush=True)
    print("\nAt 30 frames/s with 1 px of noise:\n" + head)
    for name, tally in by_technique.items():
        print(f"{name:26s}{tally.row()}")


if __name__ == "__main__":
    main()
