"""Curves of the whole stroke, before and after, laid over each other."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence

import numpy as np

from analysis.checks import FloatArray
from analysis.output.figures import Picture
from analysis.output.season.measured import POINTS, Measured, over_the_stroke
from analysis.output.svg import escaped

#: The curves: column of motion.csv, title, words for the unit.
CURVES = (
    ("trunk_deg", "Lean of the body"),
    ("knee_deg", "Angle of the knee"),
    ("elbow_deg", "Angle of the elbow"),
    ("back_rounding_deg", "Back rounding, as seen"),
)

_WIDE, _HIGH = 320.0, 190.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 10.0, 10.0, 28.0


def stroke_curves(before: Sequence[Measured], after: Sequence[Measured]) -> list[Picture]:
    """Return the figures; a curve that either side lacks is left out."""
    sides = [[clip for clip in side if clip.strokes] for side in (before, after)]
    if not all(sides):
        return []
    shares = [clip.drive_share for side in sides for clip in side]
    drive_share = float(np.mean(shares))
    pictures = []
    for column, title in CURVES:
        laid = [
            np.concatenate([over_the_stroke(c, c.angles_deg[column], drive_share) for c in side])
            for side in sides
        ]
        bands = [_band(rows) for rows in laid]
        if all(np.isfinite(mean).sum() > POINTS // 2 for mean, _ in bands):
            pictures.append(_picture(column, title, bands, drive_share))
    return pictures


def _band(rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and standard deviation over strokes [both shape=(POINTS,)]."""
    with warnings.catch_warnings():
        # Points that no stroke shows are NaN, and meant to be.
        warnings.simplefilter("ignore", RuntimeWarning)
        mean = np.nanmean(rows, axis=0)
        many = np.isfinite(rows).sum(axis=0) > 1
        sd = np.where(many, np.nanstd(rows, axis=0, ddof=1), 0.0)
    return mean, np.where(np.isfinite(sd), sd, 0.0)


def _picture(
    column: str, title: str, bands: Sequence[tuple[FloatArray, FloatArray]], drive_share: float
) -> Picture:
    ends = np.concatenate([np.concatenate([m - s, m + s]) for m, s in bands])
    low, high = float(np.nanmin(ends)), float(np.nanmax(ends))
    span = max(high - low, 1.0)
    low, high = low - 0.05 * span, high + 0.05 * span
    key = f"change-{column}"
    off = bands[1][0] - bands[0][0]
    most = int(np.nanargmax(np.abs(off)))
    where = "drive" if most / (POINTS - 1) <= drive_share else "recovery"
    alt = (
        f"{title} over the stroke, before and after. They differ most in the {where}: "
        f"{abs(off[most]):.0f}° {'more' if off[most] > 0 else 'less'} after."
    )
    parts = [
        f'<svg class="figure" role="img" viewBox="0 0 {_WIDE:g} {_HIGH:g}"'
        f' aria-labelledby="{key}-title {key}-alt">'
        f'<title id="{key}-title">{escaped(title)}</title>'
        f'<desc id="{key}-alt">{escaped(alt)}</desc>'
    ]
    parts += _frame(low, high, drive_share)
    for (mean, sd), colour, dash in zip(bands, ("--legs", "--body"), ("6 5", ""), strict=True):
        parts += _course(mean, sd, low, high, colour, dash)
    parts.append("</svg>")
    return Picture(key, title, "".join(parts), alt, alt)


def _x(along: float) -> float:
    return _LEFT + along * (_WIDE - _LEFT - _RIGHT)


def _y(value: float, low: float, high: float) -> float:
    return _HIGH - _BOTTOM - (value - low) / (high - low) * (_HIGH - _TOP - _BOTTOM)


def _frame(low: float, high: float, drive_share: float) -> list[str]:
    """Draw the axes: catch, release and next catch below, round numbers at the side."""
    floor = _HIGH - _BOTTOM
    parts = [
        f'<line x1="{_LEFT:g}" x2="{_WIDE - _RIGHT:g}" y1="{floor:g}" y2="{floor:g}"'
        ' style="stroke: var(--rule)"/>',
        f'<line x1="{_x(drive_share):.1f}" x2="{_x(drive_share):.1f}" y1="{_TOP:g}"'
        f' y2="{floor:g}" style="stroke: var(--rule); stroke-dasharray: 2 4"/>',
    ]
    for along, word, anchor in (
        (0.0, "catch", "start"), (drive_share, "release", "middle"), (1.0, "catch", "end"),
    ):  # fmt: skip
        parts.append(_text(_x(along), _HIGH - 8, word, anchor))
    step = next(s for s in (1, 2, 5, 10, 20, 45, 90, 180) if (high - low) / s <= 5)
    for value in range(math.ceil(low / step) * step, math.floor(high) + 1, step):
        parts.append(_text(_LEFT - 6, _y(value, low, high) + 4, f"{value}°", "end"))
    return parts


def _course(
    mean: FloatArray, sd: FloatArray, low: float, high: float, colour: str, dash: str
) -> list[str]:
    known = np.flatnonzero(np.isfinite(mean))
    xs = [_x(i / (POINTS - 1)) for i in known]
    upper = [
        f"{x:.1f},{_y(mean[i] + sd[i], low, high):.1f}" for x, i in zip(xs, known, strict=True)
    ]
    lower = [
        f"{x:.1f},{_y(mean[i] - sd[i], low, high):.1f}" for x, i in zip(xs, known, strict=True)
    ]
    line = " ".join(f"{x:.1f},{_y(mean[i], low, high):.1f}" for x, i in zip(xs, known, strict=True))
    return [
        f'<polygon points="{" ".join(upper + lower[::-1])}"'
        f' style="fill: var({colour}); opacity: 0.18"/>',
        f'<polyline points="{line}" fill="none" style="stroke: var({colour}); stroke-width: 2.4;'
        f' stroke-dasharray: {dash or "none"}"/>',
    ]


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
        f' style="fill: var(--faint); font-size: 12.5px">{escaped(text.replace("-", "−"))}</text>'
    )
