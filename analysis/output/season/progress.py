"""A measure over the sessions: points with their uncertainty, and the standard's band."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.coaching.change import Summary
from analysis.coaching.repeatability import Z
from analysis.output import words
from analysis.output.figures import Picture
from analysis.output.svg import escaped

#: Size of a figure, px of its own; small, so that its words stay readable on a phone.
_WIDE, _HIGH = 320.0, 176.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 58.0, 12.0, 12.0, 28.0


@dataclass(frozen=True)
class Point:
    """One day: ISO date, and the measure over its strokes."""

    date: str
    summary: Summary


def progress_picture(
    measure: str,
    unit: str,
    points: Sequence[Point],
    low: float | None,
    high: float | None,
    stage: str = "full_slide",
) -> Picture | None:
    """Return the figure of one measure; ``None`` when it was never told."""
    told = [p for p in points if math.isfinite(p.summary.mean)]
    if not told:
        return None
    title = words.measure_label(measure, stage=stage)
    said = [_said(point, unit, measure) for point in told]
    aim = words.limits(low, high, unit, measure)
    alt = f"{title}: {'; '.join(said)}. Aim: {aim}."
    drawn = _Chart(told, low, high)
    return Picture(
        key=f"progress-{measure}",
        title=title,
        svg=drawn.svg(f"progress-{measure}", title, alt, unit, measure),
        alt=alt,
        reading=f"Aim: {aim}. Last: {said[-1]}.",
    )


def _said(point: Point, unit: str, measure: str) -> str:
    u = Z * point.summary.se
    more = f" ± {words.quantity(u, unit, measure)}" if math.isfinite(u) else ""
    return f"{_day(point.date)} {words.quantity(point.summary.mean, unit, measure)}{more}"


def _day(date: str) -> str:
    day = datetime.date.fromisoformat(date)
    return f"{day.day} {day:%b}"


class _Chart:
    """Where everything lies on one figure."""

    def __init__(self, points: Sequence[Point], low: float | None, high: float | None) -> None:
        self.points, self.low, self.high = points, low, high
        self.days = [datetime.date.fromisoformat(p.date).toordinal() for p in points]
        self.u = [Z * p.summary.se if math.isfinite(p.summary.se) else 0.0 for p in points]
        ends = [v for v in (low, high) if v is not None]
        for p, u in zip(points, self.u, strict=True):
            ends += [p.summary.mean - u, p.summary.mean + u]
        span = max(max(ends) - min(ends), 1e-6)
        self.bottom, self.top = min(ends) - 0.12 * span, max(ends) + 0.12 * span

    def x(self, day: int) -> float:
        first, last = self.days[0], self.days[-1]
        share = 0.5 if first == last else (day - first) / (last - first)
        inset = 14.0
        return _LEFT + inset + share * (_WIDE - _LEFT - _RIGHT - 2 * inset)

    def y(self, value: float) -> float:
        share = (value - self.bottom) / (self.top - self.bottom)
        return _HIGH - _BOTTOM - share * (_HIGH - _TOP - _BOTTOM)

    def svg(self, key: str, title: str, alt: str, unit: str, measure: str) -> str:
        parts = [
            f'<svg class="figure" role="img" viewBox="0 0 {_WIDE:g} {_HIGH:g}"'
            f' aria-labelledby="{key}-title {key}-alt">'
            f'<title id="{key}-title">{escaped(title)}</title>'
            f'<desc id="{key}-alt">{escaped(alt)}</desc>',
            *self._band(unit, measure),
            *self._course(),
            *self._dates(),
            "</svg>",
        ]
        return "".join(parts)

    def _band(self, unit: str, measure: str) -> list[str]:
        """Draw the standard's band, its limits written at the side."""
        right, floor = _WIDE - _RIGHT, _HIGH - _BOTTOM
        top = _TOP if self.high is None else self.y(self.high)
        bottom = floor if self.low is None else self.y(self.low)
        parts = []
        if self.low is not None or self.high is not None:
            parts.append(
                f'<rect x="{_LEFT:g}" y="{top:.1f}" width="{right - _LEFT:g}"'
                f' height="{bottom - top:.1f}" style="fill: var(--good); opacity: 0.15"/>'
            )
        for value in (self.low, self.high):
            if value is not None:
                parts.append(
                    f'<line x1="{_LEFT:g}" x2="{right:g}" y1="{self.y(value):.1f}"'
                    f' y2="{self.y(value):.1f}" style="stroke: var(--good); stroke-width: 1.5"/>'
                )
                parts.append(
                    _text(_LEFT - 6, self.y(value) + 4, words.quantity(value, unit, measure), "end")
                )
        parts.append(
            f'<line x1="{_LEFT:g}" x2="{right:g}" y1="{floor:g}" y2="{floor:g}"'
            f' style="stroke: var(--rule)"/>'
        )
        return parts

    def _course(self) -> list[str]:
        """Draw the uncertainty as a band through the days, the means as a line with points."""
        at = [
            (self.x(day), p.summary.mean, u)
            for day, p, u in zip(self.days, self.points, self.u, strict=True)
        ]
        upper = [f"{x:.1f},{self.y(mean + u):.1f}" for x, mean, u in at]
        lower = [f"{x:.1f},{self.y(mean - u):.1f}" for x, mean, u in reversed(at)]
        line = " ".join(f"{x:.1f},{self.y(mean):.1f}" for x, mean, _ in at)
        parts = []
        if len(at) > 1:
            parts.append(
                f'<polygon points="{" ".join(upper + lower)}"'
                f' style="fill: var(--ink); opacity: 0.14"/>'
                f'<polyline points="{line}" fill="none"'
                f' style="stroke: var(--ink); stroke-width: 2"/>'
            )
        for x, mean, u in at:
            parts.append(
                f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{self.y(mean - u):.1f}"'
                f' y2="{self.y(mean + u):.1f}" style="stroke: var(--ink); stroke-width: 1.5"/>'
                f'<circle cx="{x:.1f}" cy="{self.y(mean):.1f}" r="4" style="fill: var(--ink)"/>'
            )
        return parts

    def _dates(self) -> list[str]:
        """Write the first and the last day; of those between, as many as there is room for."""
        kept = [0]
        last = len(self.points) - 1
        for i in range(1, len(self.points)):
            room = self.x(self.days[i]) - self.x(self.days[kept[-1]])
            to_end = self.x(self.days[last]) - self.x(self.days[i])
            if room >= 46 and (i == last or to_end >= 46):
                kept.append(i)
        return [
            _text(self.x(self.days[i]), _HIGH - 8, _day(self.points[i].date), "middle")
            for i in kept
        ]


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
        f' style="fill: var(--faint); font-size: 12.5px">{escaped(text)}</text>'
    )
