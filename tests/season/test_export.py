"""The season in open formats: whole, readable anywhere, safe in a spreadsheet."""

import csv
import json
import math
import stat
import sys

import made_season as made
import pytest

from analysis.errors import SettingsError
from analysis.season import read
from analysis.season.export import QUERIES, export_csv, export_json, season_data
from analysis.season.store import Season


@pytest.fixture
def season(tmp_path):
    with Season(tmp_path / "season") as opened:
        opened.save(
            made.place("Zoë", file="Zoë.mp4"), made.record(1, layback_deg=26.0), made.STANDARD
        )
        opened.save(made.place("Bo", file="Bo.mp4", note="=1+1"), made.record(2), made.STANDARD)
        opened.save(made.place("Cy", file="Cy.mp4"), "Nobody rows here.", made.STANDARD)
        opened.write_note("Bo", "2026-01-12", "-2 on the feet")
        yield opened


def test_json_holds_everything_and_nothing_of_the_databases_own(season):
    text = export_json(season)
    data = json.loads(text)
    assert data["schema"] == 2
    assert set(QUERIES) < set(data)
    assert {row["athlete"] for row in data["clips"]} == {"Zoë", "Bo", "Cy"}
    assert data["clips"][0]["missing"] == []
    assert len(data["strokes"]) == 12
    assert len(data["stroke_values"]) == sum(
        len(stroke.values) for seed in (1, 2) for stroke in made.record(seed).strokes
    )
    assert "NaN" not in text
    assert not any("id" in row for rows in data.values() if isinstance(rows, list) for row in rows)
    untold = [m for m in data["measures"] if m["measure"] == "head_deg"]
    assert [m["mean"] for m in untold] == [None, None]


def test_csv_says_the_same(season, tmp_path):
    data = season_data(season)
    for path in export_csv(season, tmp_path / "out"):
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) == len(data[path.stem])
        if sys.platform != "win32":
            assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with (tmp_path / "out" / "measures.csv").open(encoding="utf-8-sig") as file:
        found = {(r["athlete"], r["measure"]): r["mean"] for r in csv.DictReader(file)}
    (clip,) = read.clips(season, athlete="Zoë")
    told = read.measures(season, clip)["layback_deg"][1].mean
    assert math.isclose(float(found["Zoë", "layback_deg"]), told)
    assert found["Zoë", "head_deg"] == ""


def test_no_text_becomes_a_formula(season, tmp_path):
    export_csv(season, tmp_path)
    assert "'=1+1" in (tmp_path / "clips.csv").read_text(encoding="utf-8-sig")
    assert "'-2 on the feet" in (tmp_path / "notes.csv").read_text(encoding="utf-8-sig")


def test_where_nothing_can_be_written(season, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(SettingsError, match="name another --out"):
        export_csv(season, tmp_path / "file")
