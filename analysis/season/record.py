"""What the season keeps of one reviewed clip: small, and fit to be sent between processes."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.coaching.change import Summary, summarise
from analysis.coaching.findings import Drill, Finding, Hint, Readiness
from analysis.result import QualityPoint, Review


@dataclass(frozen=True)
class StrokeRow:
    """Events of one stroke, s, and its measures: name → (value, standard error)."""

    catch_s: float
    release_s: float
    next_catch_s: float
    full_compression_s: float
    stage: str
    values: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class ClipRecord:
    """One reviewed clip.

    Attributes
    ----------
    neutral_raw_deg : float
        Raw back angle of the athlete sitting upright, where the clip shows it; else NaN.
    measures : mapping of str to (unit, Summary)
        In the order of strokes.csv.
    findings : tuple of Finding
        Worst first; a measure occurs once.
    """

    stage: str
    stage_named: bool
    setting: str
    facing: str
    duration_s: float
    neutral_raw_deg: float
    strokes: tuple[StrokeRow, ...]
    measures: Mapping[str, tuple[str, Summary]]
    findings: tuple[Finding, ...]
    first_check: str | None
    first_text: str
    drill: Drill | None
    readiness: Readiness
    hints: tuple[Hint, ...] = ()
    quality: tuple[QualityPoint, ...] = ()
    versions: Mapping[str, str] = field(default_factory=dict)


def record_of(review: Review) -> ClipRecord:
    """Return what the season keeps of `review`."""
    strokes, found = review.strokes, review.findings
    rows = tuple(
        StrokeRow(
            catch_s=float(strokes.catch_s[i]),
            release_s=float(strokes.release_s[i]),
            next_catch_s=float(strokes.next_catch_s[i]),
            full_compression_s=float(strokes.full_compression_s[i]),
            stage=strokes.stage_of_stroke[i],
            values={
                name: (float(column.values[i]), float(column.se[i]))
                for name, column in strokes.measures.items()
                if np.isfinite(column.values[i])
            },
        )
        for i in range(strokes.count)
    )
    return ClipRecord(
        stage=strokes.stage,
        stage_named=strokes.stage_named,
        setting=strokes.setting,
        facing=review.motion.facing,
        duration_s=review.pose.clip.duration_s,
        neutral_raw_deg=review.motion.neutral_rounding_deg,
        strokes=rows,
        measures={name: (c.unit, summarise(c)) for name, c in strokes.measures.items()},
        findings=found.findings,
        first_check=found.first_check,
        first_text=found.first_text,
        drill=found.drill,
        readiness=found.readiness,
        hints=found.hints,
        quality=review.quality,
        versions=dict(review.versions),
    )


def name_key(name: str) -> str:
    """Return what makes two spellings the same athlete: case and spacing play no part.

    >>> name_key("  Ann  LEE ") == name_key("ann lee")
    True
    """
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def folder_name(name: str) -> str:
    """Return the name of an athlete's folder: plain letters, different for different athletes."""
    key = name_key(name)
    plain = _plain(key)
    if plain == key.replace(" ", "-") and "-" not in key:
        return plain
    return f"{plain or 'athlete'}-{hashlib.sha256(key.encode()).hexdigest()[:6]}"


def clip_folder_name(date: str, file: str, sha256: str) -> str:
    """Return the name of a clip's folder of pages: the same in whatever order clips come."""
    stem = file.rsplit(".", 1)[0]
    return f"{date}_{_plain(stem.casefold())[:40] or 'clip'}_{sha256[:8]}"


def _plain(text: str) -> str:
    bare = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", bare).strip("-")[:60]
