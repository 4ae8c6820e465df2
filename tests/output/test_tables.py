"""The contract of motion.csv, strokes.csv and review.json."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_review import made_review

from analysis.output import tables
from analysis.result import Review
from analysis.stroke.strokes import MeasureColumn


@pytest.fixture(scope="module")
def review(tmp_path_factory: pytest.TempPathFactory) -> Review:
    return made_review(tmp_path_factory.mktemp("tables"), strokes=3, stroke_s=2.0, size=(320, 180))


@pytest.fixture(scope="module")
def folder(review: Review, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("written")
    tables.write_tables(review, made)
    return made


def read(path: Path) -> tuple[list[str], list[dict[str, str]]]:
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        rows = list(reader)
        return list(reader.fieldnames or []), rows


def test_motion_columns_are_the_contract(folder: Path) -> None:
    columns, _ = read(folder / "motion.csv")
    assert columns[:15] == [
        "time_s", "phase", "stroke",
        "trunk_deg", "trunk_se_deg", "shin_deg", "shin_se_deg", "knee_deg", "knee_se_deg",
        "hip_deg", "hip_se_deg", "elbow_deg", "elbow_se_deg",
        "back_rounding_deg", "back_rounding_se_deg",
    ]  # fmt: skip
    assert {"handle_x_px", "handle_y_px", "forearm_se_deg", "head_se_deg"} <= set(columns)


def test_motion_rows_come_back_as_they_were(folder: Path, review: Review) -> None:
    _, rows = read(folder / "motion.csv")
    assert len(rows) == len(review.motion.t_s)
    time_s = np.array([float(row["time_s"]) for row in rows])
    np.testing.assert_allclose(time_s, review.motion.t_s, atol=1e-6)
    trunk = np.array([float(row["trunk_deg"]) for row in rows])
    np.testing.assert_allclose(trunk, review.motion.angle("trunk_deg"), atol=1e-3)
    handle = np.array([[float(row["handle_x_px"]), float(row["handle_y_px"])] for row in rows])
    np.testing.assert_allclose(handle, review.motion.joint("wrist"), atol=0.01)
    assert [row["phase"] for row in rows] == review.strokes.phase.tolist()
    assert [int(row["stroke"]) for row in rows] == review.strokes.stroke.tolist()


def test_what_cannot_be_told_is_empty(folder: Path) -> None:
    _, rows = read(folder / "motion.csv")
    assert rows[0]["back_rounding_deg"] == "" and rows[0]["back_rounding_se_deg"] == ""
    assert rows[3]["back_rounding_deg"] != "" and rows[3]["back_rounding_se_deg"] == "2.0"
    assert not any("nan" in value.lower() for row in rows for value in row.values())


def test_bridged_joints_are_named(folder: Path) -> None:
    _, rows = read(folder / "motion.csv")
    assert rows[12]["filled"] == "elbow" and rows[5]["filled"] == ""


def test_stroke_columns_are_the_contract(folder: Path, review: Review) -> None:
    columns, rows = read(folder / "strokes.csv")
    assert columns[:7] == [
        "stroke", "catch_s", "release_s", "next_catch_s", "rate_spm", "drive_s", "recovery_s",
    ]  # fmt: skip
    assert set(review.strokes.measures) <= set(columns)
    assert len(columns) == len(set(columns))
    assert [row["stroke"] for row in rows] == ["1", "2", "3"]
    for i, row in enumerate(rows):
        assert float(row["release_s"]) == pytest.approx(review.strokes.release_s[i], abs=1e-4)
        layback = review.strokes.measures["layback_deg"].values[i]
        assert float(row["layback_deg"]) == pytest.approx(layback, abs=1e-4)
        assert row["hand_gap_share"] == ""


def test_review_json_keys_are_the_contract(folder: Path) -> None:
    data = json.loads((folder / "review.json").read_text(encoding="utf-8"))
    assert list(data) == [
        "schema", "athlete", "date", "clip", "quality", "stage", "strokes", "measures", "findings",
        "first_thing", "hints", "corrections", "versions",
    ]  # fmt: skip
    assert list(data["clip"]) == [
        "file", "sha256", "frames", "mean_fps", "size_px", "duration_s", "facing",
        "camera_tilt_deg", "people_seen",
    ]  # fmt: skip
    for finding in data["findings"]:
        assert list(finding) == [
            "check", "measure", "level", "value", "u", "low", "high", "side", "strokes_seen",
            "strokes", "because_of",
        ]  # fmt: skip
    for measure in data["measures"].values():
        assert list(measure) == ["mean", "sd", "n", "se", "unit"]
    assert data["schema"] == tables.SCHEMA == 2
    assert data["first_thing"] == "body_over"
    assert data["strokes"] == 3 and data["stage"] == "full_slide"


def test_json_has_null_and_no_nan(folder: Path) -> None:
    text = (folder / "review.json").read_text(encoding="utf-8")

    def refuse(name: str) -> float:
        raise AssertionError(f"{name} in review.json")

    data = json.loads(text, parse_constant=refuse)
    head = next(f for f in data["findings"] if f["check"] == "head")
    assert head["value"] is None and head["u"] is None
    assert data["measures"]["hand_gap_share"] == {
        "mean": None, "sd": None, "n": 0, "se": None, "unit": "share",
    }  # fmt: skip


def test_hostile_names_stay_text(review: Review, tmp_path: Path) -> None:
    clip = replace(review.pose.clip, file='a"}],\n"x.mp4')
    tables.write_tables(replace(review, pose=replace(review.pose, clip=clip)), tmp_path)
    data = json.loads((tmp_path / "review.json").read_text(encoding="utf-8"))
    assert data["clip"]["file"] == 'a"}],\n"x.mp4'


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_cells_are_no_formulas(text: str) -> None:
    assert tables.cell(text) == "'" + text


def test_ordinary_cells_stay() -> None:
    assert tables.cell("Jörg = 3") == "Jörg = 3"


def test_summary_by_hand() -> None:
    # Worked out by hand: values 1, 2, 3: mean 2, sd 1; noise 0.1 is below the spread, so the
    # mean's error is sqrt(1/3 + 0.25).
    three = np.array([1.0, 2.0, 3.0])
    column = MeasureColumn("x", "deg", three, np.full(3, 0.1), 0.5, np.zeros(3))
    assert tables.measure_summary(column) == {
        "mean": 2.0, "sd": 1.0, "n": 3, "se": pytest.approx((1 / 3 + 0.25) ** 0.5), "unit": "deg",
    }  # fmt: skip


def test_summary_of_one_stroke_rests_on_its_noise() -> None:
    one = np.array([np.nan, 4.0])
    column = MeasureColumn("x", "deg", one, np.array([9.0, 0.3]), 0.4, np.zeros(2))
    summary = tables.measure_summary(column)
    assert summary["n"] == 1 and summary["mean"] == 4.0 and np.isnan(summary["sd"])
    assert summary["se"] == pytest.approx(0.5)
