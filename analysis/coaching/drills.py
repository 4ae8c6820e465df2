"""Drills as data, and which one suits a finding at a stage."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from importlib import resources
from typing import Any

from analysis.coaching.findings import Drill, Side
from analysis.stroke.strokes import STAGES, Stage


@cache
def drill_rows() -> tuple[Mapping[str, Any], ...]:
    """Return the drills as they stand in drills.toml, in their order."""
    text = (resources.files(__package__) / "drills.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["drill"])


def choose_drill(check: str, side: Side | None, stage: Stage) -> Drill | None:
    """Return the first drill for `check` (and `side`) that makes sense at `stage`, or ``None``."""
    wanted = {check, f"{check}.{side}"}
    at = STAGES.index(stage)
    for row in drill_rows():
        first = STAGES.index(row.get("from", STAGES[0]))
        last = STAGES.index(row.get("to", STAGES[-1]))
        if wanted & set(row["checks"]) and first <= at <= last:
            return Drill(**{field.name: row[field.name] for field in fields(Drill)})
    return None
