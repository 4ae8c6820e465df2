"""Bench of before and after: how often planted changes are told, through season and comparison.

Run as ``python -m tests.accuracy.change_bench [--pairs N]`` from the top of the checkout.

A squad of made athletes is filmed twice. Each clip has a handful of strokes that scatter, a
deviation of its own (nobody rows two pieces quite alike), a lasting error that both clips share,
and one that is each clip's own. The change planted is a multiple of MDC95, worked out from those
true spreads. Every clip goes through the season's database and the pairs through the same
comparison as ``sideon compare``.

One clip a day does not tell how much pieces differ. In most cases a squad of 25 tells it, by how
differently its athletes changed; two clips a day tell it better; "alone" nothing does, and pieces
are taken to differ as strokes do. The last case is beyond that guess, and is here to show it.

What is expected: at 0, told in at most 5 % of pairs; at 1 × MDC95 in about half; at 3, in at least
95 %. Power at k × MDC95 with a well-known SEM is Φ(1.96 (k − 1)) (derivation).
"""

from __future__ import annotations

import argparse
import hashlib
import math
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.special import ndtr

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "season"))

import made_season as made

from analysis.coaching.change import SHARED_BIAS, summarise
from analysis.season.compare import compare_sides, find_side
from analysis.season.record import ClipRecord
from analysis.season.store import ClipPlace, Season
from analysis.stroke.strokes import MeasureColumn

TIMES = (0.0, 0.5, 1.0, 1.5, 3.0)
MEASURE = "layback_deg"
DAYS = ("2026-01-12", "2026-03-09")


@dataclass(frozen=True)
class Case:
    """How clips scatter: strokes a clip, clips a day, and standard deviations in degrees."""

    name: str
    strokes: int
    clips: int
    stroke_sd: float
    clip_sd: float
    bias_sd: float
    squad: int = 25

    @property
    def sem(self) -> float:
        """True SEM of one day's mean in a difference of two days."""
        random = self.clip_sd**2 + self.stroke_sd**2 / self.strokes
        return math.sqrt(random / self.clips + self.bias_sd**2 * (1 - SHARED_BIAS))


CASES = (
    Case("5 strokes a clip", 5, 1, 2.0, 1.0, 2.0),
    Case("12 strokes a clip", 12, 1, 2.0, 1.0, 2.0),
    Case("12 strokes, no lasting error", 12, 1, 2.0, 1.0, 0.0),
    Case("3 strokes, no lasting error", 3, 1, 2.0, 1.0, 0.0),
    Case("12 strokes, pieces all alike", 12, 1, 2.0, 0.0, 2.0),
    Case("12 strokes, two clips a day", 12, 2, 2.0, 1.0, 2.0),
    Case("pieces differ as strokes do, two clips", 12, 2, 2.0, 2.0, 2.0),
    Case("pieces differ as strokes do, one clip", 12, 1, 2.0, 2.0, 2.0),
    Case("pieces differ twice as much, one clip", 12, 1, 2.0, 4.0, 2.0),
    Case("alone, 5 strokes a clip", 5, 1, 2.0, 1.0, 2.0, 1),
    Case("alone, 12 strokes a clip", 12, 1, 2.0, 1.0, 2.0, 1),
    Case("alone, 3 strokes, no lasting error", 3, 1, 2.0, 1.0, 0.0, 1),
    Case("alone, pieces differ as strokes do", 12, 1, 2.0, 2.0, 2.0, 1),
    Case("alone, pieces differ twice as much", 12, 1, 2.0, 4.0, 2.0, 1),
)


def film(season: Season, rng: np.random.Generator, case: Case, athlete: str, change: float) -> None:
    """Put an athlete's clips of both days into the season."""
    shared = rng.normal(0, case.bias_sd * math.sqrt(SHARED_BIAS))
    for day, true in zip(DAYS, (25.0, 25.0 - change), strict=True):
        own = rng.normal(0, case.bias_sd * math.sqrt(1 - SHARED_BIAS))
        for k in range(case.clips):
            piece = rng.normal(0, case.clip_sd)
            values = true + shared + own + piece + rng.normal(0, case.stroke_sd, case.strokes)
            name = f"{athlete}_{day}_{k}.mp4"
            sha = hashlib.sha256(name.encode()).hexdigest()
            place = ClipPlace(sha, name, name, athlete, day, "", "bench")
            season.save(place, _record(values, case.bias_sd), made.STANDARD)


def _record(values: np.ndarray, bias_se: float) -> ClipRecord:
    plain = made.record(0, strokes=len(values), layback_deg=25.0)
    column = MeasureColumn(
        MEASURE, "deg", values, np.full(len(values), 0.3), bias_se, np.zeros(len(values))
    )
    return ClipRecord(
        **{
            **vars(plain),
            "strokes": (),
            "measures": {MEASURE: ("deg", summarise(column))},
            "findings": plain.findings[:1] if plain.findings[0].measure == MEASURE else (),
        }
    )


def told_share(case: Case, times: float, pairs: int, seed: int = 1) -> dict[str, float]:
    """Return the share of pairs with each verdict, from seasons of a squad each."""
    rng = np.random.default_rng([seed, round(100 * times), CASES.index(case)])
    counts: dict[str, int] = {}
    for start in range(0, pairs, case.squad):
        _one_season(rng, case, times, min(case.squad, pairs - start), counts)
    return {verdict: count / pairs for verdict, count in counts.items()}


def _one_season(
    rng: np.random.Generator, case: Case, times: float, pairs: int, counts: dict[str, int]
) -> None:
    with tempfile.TemporaryDirectory() as folder, Season(Path(folder)) as season:
        # Speed only: a bench need not outlive a power cut.
        season.database.execute("PRAGMA synchronous = OFF")
        for i in range(pairs):
            film(season, rng, case, f"r{i}", times * 1.96 * math.sqrt(2) * case.sem)
        for i in range(pairs):
            sides = [find_side(season, day, f"r{i}") for day in DAYS]
            (found,) = compare_sides(season, *sides).measures
            counts[found.change.verdict] = counts.get(found.change.verdict, 0) + 1


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pairs", type=int, default=400)
    pairs = parser.parse_args().pairs
    print(f"{pairs} pairs each; told as changed (for the better), %")
    print(f"{'case':38s}" + "".join(f"{t:g} × MDC95".rjust(18) for t in TIMES))
    for case in CASES:
        cells = []
        for times in TIMES:
            found = told_share(case, times, pairs)
            told = 100 * (1 - found.get("no change", 0.0) - found.get("cannot tell", 0.0))
            cells.append(f"{told:.1f} ({100 * found.get('better', 0.0):.1f})".rjust(18))
        print(f"{case.name:38s}" + "".join(cells), flush=True)
    power = "".join(f"{100 * float(ndtr(1.96 * (t - 1))):.1f}".rjust(18) for t in TIMES)
    print(f"{'expected of a well-known SEM, one side':38s}{power}")


if __name__ == "__main__":
    main()
