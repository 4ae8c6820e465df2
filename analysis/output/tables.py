"""motion.csv, strokes.csv and review.json: what other tools read.

Names and order are a contract; any change of them raises ``SCHEMA``.
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from analysis.motion.motion import ANGLES, JOINTS
from analysis.result import Review
from analysis.stroke.strokes import MeasureColumn, Strokes

#: Version of the files' names, columns and keys.
SCHEMA = 2

#: The angles of motion.csv in the order of its columns.
ANGLE_COLUMNS = (
    "trunk_deg",
    "shin_deg",
    "knee_deg",
    "hip_deg",
    "elbow_deg",
    "back_rounding_deg",
    "forearm_deg",
    "head_deg",
)

#: The first columns of strokes.csv; every other measure follows.
_STROKE_START = (
    "stroke",
    "catch_s",
    "release_s",
    "next_catch_s",
    "rate_spm",
    "drive_s",
    "recovery_s",
)


def motion_columns() -> tuple[str, ...]:
    """Return the columns of motion.csv."""
    angles = [name for angle in ANGLE_COLUMNS for name in (angle, angle_se_name(angle))]
    joints = [f"{joint}_{axis}_px" for joint in JOINTS for axis in ("x", "y")]
    return ("time_s", "phase", "stroke", *angles, "handle_x_px", "handle_y_px", *joints, "filled")


def angle_se_name(angle: str) -> str:
    """Return the column of an angle's standard error: ``trunk_deg`` → ``trunk_se_deg``."""
    return angle.removesuffix("_deg") + "_se_deg"


def motion_rows(review: Review) -> Iterable[list[str]]:
    """Give one row a frame, in the order of `motion_columns`.

    ``filled`` names the joints that were bridged over a gap in that frame, with spaces between.
    """
    motion, strokes = review.motion, review.strokes
    for i, t_s in enumerate(motion.t_s):
        row = [number(float(t_s), 6), str(strokes.phase[i]), str(int(strokes.stroke[i]))]
        for angle in ANGLE_COLUMNS:
            at = ANGLES.index(angle)
            value, se = float(motion.angles_deg[i, at]), float(motion.angle_se_deg[i, at])
            row += [number(value, 3), number(se if math.isfinite(value) else math.nan, 3)]
        row += [number(float(v), 2) for v in motion.joints_px[i, JOINTS.index("wrist")]]
        row += [number(float(v), 2) for v in motion.joints_px[i].ravel()]
        bridged = [name for name, on in zip(JOINTS, motion.filled[i], strict=True) if on]
        yield [*row, " ".join(bridged)]


def stroke_columns(strokes: Strokes) -> tuple[str, ...]:
    """Return the columns of strokes.csv."""
    rest = tuple(name for name in strokes.measures if name not in _STROKE_START)
    return (*_STROKE_START, *rest, "full_compression_s", "stage")


def stroke_rows(strokes: Strokes) -> Iterable[list[str]]:
    """Give one row a stroke, in the order of `stroke_columns`."""
    catch, release, after = strokes.catch_s, strokes.release_s, strokes.next_catch_s
    events = {
        "catch_s": catch,
        "release_s": release,
        "next_catch_s": after,
        "rate_spm": 60.0 / (after - catch),
        "drive_s": release - catch,
        "recovery_s": after - release,
        "full_compression_s": strokes.full_compression_s,
    }
    columns = {**events, **{name: m.values for name, m in strokes.measures.items()}}
    for i in range(strokes.count):
        cells = {name: number(float(values[i]), 4) for name, values in columns.items()}
        cells |= {"stroke": str(i + 1), "stage": strokes.stage_of_stroke[i]}
        yield [cells[name] for name in stroke_columns(strokes)]


def number(value: float, digits: int) -> str:
    """Return a number for a cell: shortest form, empty when it cannot be told."""
    if not math.isfinite(value):
        return ""
    return repr(round(value, digits) + 0.0)


def cell(text: str) -> str:
    """Return a text that a spreadsheet will not take for a formula."""
    return "'" + text if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a CSV file: UTF-8, comma, one header line."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerows(rows)


def measure_summary(column: MeasureColumn) -> dict[str, Any]:
    """Return mean, spread, count and standard error of a measure over the strokes.

    ``se`` is of the mean: the larger of the strokes' own spread and the frames' noise, shrunk by
    the number of strokes, together with the systematic part, which does not shrink.
    """
    seen = np.isfinite(column.values)
    values, n = column.values[seen], int(seen.sum())
    mean = float(np.mean(values)) if n else math.nan
    sd = float(np.std(values, ddof=1)) if n > 1 else math.nan
    noise = column.se[seen]
    noise = noise[np.isfinite(noise)]
    scatter = max(sd**2 if n > 1 else 0.0, float(np.mean(noise**2)) if noise.size else 0.0)
    se = math.sqrt(scatter / n + column.bias_se**2) if n else math.nan
    return {"mean": mean, "sd": sd, "n": n, "se": se, "unit": column.unit}


def review_data(review: Review) -> dict[str, Any]:
    """Return the content of review.json."""
    clip, findings = review.pose.clip, review.findings
    return {
        "schema": SCHEMA,
        "athlete": review.athlete,
        "date": review.date,
        "clip": {
            "file": clip.file,
            "sha256": clip.sha256,
            "frames": clip.frames,
            "mean_fps": clip.mean_fps,
            "size_px": [clip.width_px, clip.height_px],
            "duration_s": clip.duration_s,
            "facing": review.motion.facing,
            "camera_tilt_deg": review.motion.tilt_deg,
            "people_seen": review.pose.people_seen,
        },
        "quality": [
            {
                "key": point.key,
                "label": point.label,
                "level": point.level,
                "value": point.value,
                "unit": point.unit,
                "costs": point.costs,
                "remedy": point.remedy,
            }
            for point in review.quality
        ],
        "stage": review.strokes.stage,
        "strokes": review.strokes.count,
        "measures": {
            name: measure_summary(column) for name, column in review.strokes.measures.items()
        },
        "findings": [
            {
                "check": f.check,
                "measure": f.measure,
                "level": f.level,
                "value": f.value,
                "u": f.u,
                "low": f.low,
                "high": f.high,
                "side": f.side,
                "strokes_seen": f.strokes_seen,
                "strokes": f.strokes,
                "because_of": f.because_of,
            }
            for f in findings.findings
        ],
        "first_thing": findings.first_check,
        "hints": [
            {"key": hint.key, "text": hint.text, "sure": hint.sure, "step": hint.step}
            for hint in findings.hints
        ],
        "corrections": review.marks.data() if review.marks else None,
        "versions": dict(review.versions),
    }


def plain(value: Any) -> Any:
    """Return `value` with everything that JSON lacks made plain: NaN and infinity become null."""
    if isinstance(value, dict):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    if isinstance(value, float | np.floating):
        number_ = float(value)
        return round(number_, 6) if math.isfinite(number_) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, np.bool_):
        return bool(value)
    return value


def write_tables(review: Review, folder: Path) -> None:
    """Write motion.csv, strokes.csv and review.json into `folder`."""
    write_csv(folder / "motion.csv", motion_columns(), motion_rows(review))
    write_csv(folder / "strokes.csv", stroke_columns(review.strokes), stroke_rows(review.strokes))
    text = json.dumps(plain(review_data(review)), ensure_ascii=False, indent=2, allow_nan=False)
    (folder / "review.json").write_text(text + "\n", encoding="utf-8")
