"""Checks that the clips' truth is what it is meant to be.

    python -m studio.check [DIR]
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from statistics import median

import numpy as np

from .standard import past_limit

SHOWN = ("rate_spm", "ratio", "slide_time_share", "front_speed_share", "catch_trunk_deg",
         "body_over_share", "arms_away_share", "lunge_deg", "shin_catch_deg", "elbow_catch_deg",
         "legs_at_back_open", "legs_at_arm_bend", "seat_slip_share", "knee_release_deg",
         "layback_deg", "rounding_catch_deg", "rounding_drive_deg", "rounding_release_deg",
         "handle_level_share", "handle_loop_share", "handle_dip_share", "hand_height_share",
         "forearm_release_deg", "catch_dwell_s", "head_deg", "stroke_length_m")
# Hunched is this much over the athlete's own upright back, in the back line's own degrees.
ROUND_SOUND_DEG, ROUND_CLEAR_DEG = 9.0, 16.0
SLIDE_M = (0.25, 0.85)
# A joint seen in perspective leans a little otherwise than in the athlete's own plane.
PICTURE_TOLERANCE_DEG = {"square": 3.0, "oblique": 7.0}


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


def _body_in_place(record: dict) -> list[str]:
    """Feet on the side they should be, hands over the knees, seat on its rail."""
    wrong = []
    px = {j: np.array(p) for j, p in record["joints_px"].items()}
    w, h = record["size"]
    wrong += [f"{j} leaves the picture" for j, p in px.items()
              if (p < 0).any() or (p >= [w, h]).any()]
    side = 1.0 if record["facing"] == "right" else -1.0
    if not (side * (px["ankle"] - px["hip"])[:, 0] > 0).all():
        wrong.append("the feet are not on the facing side")
    trunk_px = np.linalg.norm(px["shoulder"] - px["hip"], axis=1).mean()
    passing = np.abs(px["wrist"][:, 0] - px["knee"][:, 0]) < 0.1 * trunk_px
    if (px["wrist"][passing, 1] > px["knee"][passing, 1]).any():
        wrong.append("the hands pass below the knee")
    travel = float(np.ptp(record["seat_m"]))
    if record["stage"] == "full_slide" and not SLIDE_M[0] < travel < SLIDE_M[1]:
        wrong.append(f"the seat travels {travel:.2f} m")
    if max(record["angles_deg"]["elbow_deg"]) < 163.0:
        wrong.append("the arms are never straight")
    return wrong


def _picture_agrees(record: dict) -> list[str]:
    """The trunk's lean in the picture, less the camera's tilt, is near the true one."""
    px = {j: np.array(record["joints_px"][j]) for j in ("hip", "shoulder")}
    v = px["shoulder"] - px["hip"]
    side = 1.0 if record["facing"] == "right" else -1.0
    tilt = np.array(record.get("camera_tilt_deg", record["camera"]["tilt_deg"]))
    seen = np.degrees(np.arctan2(side * v[:, 0], -v[:, 1])) - side * tilt
    off = np.abs(seen - np.array(record["angles_deg"]["trunk_deg"])).max()
    square = abs(record["camera"]["yaw_deg"]) <= 4.0
    limit = PICTURE_TOLERANCE_DEG["square" if square else "oblique"]
    return [f"the trunk in the picture is {off:.1f}° off"] if off > limit else []


def check_record(record: dict) -> list[str]:
    """What is wrong with a truth record, in words."""
    wrong = _body_in_place(record) + _picture_agrees(record)
    if len(record["strokes"]) < 2:
        return [*wrong, "fewer than two whole strokes"]
    for s in record["strokes"]:
        if not s["catch_s"] < s["release_s"] < s["next_catch_s"]:
            wrong.append("catch and release are out of order")
    found = faults_of(record)
    for check in record["planted"]:
        if found.get(check, 0.0) < 1.4:
            wrong.append(f"{check} is planted but only {found.get(check, 0):.2f} steps past")
    if "split" not in record:  # in the truth set, small faults are as welcome as large ones
        wrong += [f"{check} is not planted but {steps:.2f} steps past its limit"
                  for check, steps in found.items() if check not in record["planted"]]
    return wrong


def check_film(path: Path, record: dict) -> list[str]:
    """Whether the film beside the truth has the frames and the size it should have."""
    if not path.exists():
        return ["the film is missing"]
    import av

    with av.open(str(path)) as film:
        stream = film.streams.video[0]
        frames = sum(1 for _ in film.demux(stream) if _.pts is not None)
        size = [stream.width, stream.height]
        times = frames == len(record["t_s"]) and size == record["size"]
    return [] if times else [f"the film has {frames} frames of {size}"]


def main() -> int:
    """Command line; gives 1 if anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("directory", nargs="?", type=Path,
                        default=Path(__file__).resolve().parents[1])
    args = parser.parse_args()
    bad = 0
    for path in sorted(args.directory.glob("*.truth.json")):
        record = json.loads(path.read_text(encoding="utf-8"))
        wrong = check_record(record) + check_film(path.parent / record["clip"], record)
        bad += bool(wrong)
        print(f"{path.name}: {'; '.join(wrong) if wrong else 'as planned'}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
