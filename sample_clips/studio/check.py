"""Checks that the clips' truth is what it is meant to be.

    python -m studio.check [DIR]
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from statistics import median

from .standard import past_limit

SHOWN = ("rate_spm", "ratio", "slide_time_share", "front_speed_share", "catch_trunk_deg",
         "body_over_share", "arms_away_share", "lunge_deg", "shin_catch_deg", "elbow_catch_deg",
         "legs_at_back_open", "legs_at_arm_bend", "seat_slip_share", "knee_release_deg",
         "layback_deg", "rounding_catch_deg", "rounding_drive_deg", "rounding_release_deg",
         "handle_level_share", "handle_loop_share", "handle_dip_share", "hand_height_share",
         "forearm_release_deg", "catch_dwell_s", "head_deg", "stroke_length_m")
# Hunched is this much over the athlete's own upright back, in the back line's own degrees.
ROUND_SOUND_DEG, ROUND_CLEAR_DEG = 9.0, 16.0


def medians(record: dict) -> dict[str, float | None]:
    """Median of every measure over the whole strokes."""
    out = {}
    rows = [s["measures"] for s in record["strokes"]]
    for key in rows[0]:
        values = [r[key] for r in rows if r[key] is not None]
        out[key] = median(values) if values else None
    return out


def faults_of(record: dict) -> dict[str, float]:
    """Checks past their limit in the truth → steps past it."""
    values = medians(record)
    out: dict[str, float] = {}
    for check, steps in past_limit(values, record["stage"]).values():
        out[check] = max(out.get(check, 0.0), steps)
    spots = ["rounding_release_deg"]
    if record["stage"] != "arms_only":
        spots += ["rounding_catch_deg", "rounding_drive_deg"]
    worst = max(values[k] for k in spots)
    if worst > ROUND_SOUND_DEG:
        out["rounding"] = (worst - ROUND_SOUND_DEG) / ((ROUND_CLEAR_DEG - ROUND_SOUND_DEG) / 1.5)
    return out


def print_table(record: dict) -> None:
    """Print the measures of a clip's strokes and what is past its limit."""
    print(f"{record['clip']}  {record['stage']}  planted {record['planted']}  "
          f"{len(record['strokes'])} whole strokes  neutral {record['neutral_raw_deg']}")
    for key in SHOWN:
        row = [s["measures"][key] for s in record["strokes"]]
        print(f"  {key:22}", *("      -" if v is None else f"{v:7.2f}" for v in row))
    print("  past limit:", {k: round(v, 2) for k, v in faults_of(record).items()} or "nothing")


def check_record(record: dict) -> list[str]:
    """What is wrong with a truth record, in words."""
    wrong = []
    w, h = record["size"]
    for joint, points in record["joints_px"].items():
        if not all(0 <= x < w and 0 <= y < h for x, y in points):
            wrong.append(f"{joint} leaves the picture")
    if len(record["strokes"]) < 2:
        wrong.append("fewer than two whole strokes")
    found = faults_of(record)
    for check in record["planted"]:
        if found.get(check, 0.0) < 1.4:
            wrong.append(f"{check} is planted but only {found.get(check, 0):.2f} steps past")
    for check, steps in found.items():
        if check not in record["planted"]:
            wrong.append(f"{check} is not planted but {steps:.2f} steps past its limit")
    return wrong


def main() -> int:
    """Command line; gives 1 if anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("directory", nargs="?", type=Path,
                        default=Path(__file__).resolve().parents[1])
    args = parser.parse_args()
    bad = 0
    for path in sorted(args.directory.glob("*.truth.json")):
        wrong = check_record(json.loads(path.read_text(encoding="utf-8")))
        bad += bool(wrong)
        print(f"{path.name}: {'; '.join(wrong) if wrong else 'as planned'}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
