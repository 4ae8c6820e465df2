"""The figures of the page: the stroke as curves, the order of the drive."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.checks import FloatArray
from analysis.output import curves, words
from analysis.output.curves import Curve, Gate
from analysis.output.gate_marks import gate_marks
from analysis.output.kept_figures import Once, draw_now
from analysis.output.language import ENGLISH, Text
from analysis.output.reached import moving, seat_stays
from analysis.output.svg import (
    ARMS,
    BODY,
    FONT_PT,
    LEGS,
    PAPER,
    RULE,
    geometry,
    new_figure,
    svg_of,
    told,
)
from analysis.result import Review

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Picture:
    """A figure for the page: its SVG, title, what it shows in words, and how to read it."""

    key: str
    title: str
    svg: str
    alt: str
    reading: str


@dataclass(frozen=True)
class _Plan:
    """How a curve is drawn; ``words`` names its words, ``shown`` are values always in view."""

    curve: Curve
    words: str
    colour: str
    style: Any
    unit: str
    shown: tuple[float, ...] = ()


#: Lean of the trunk that any shipped standard allows at release and catch, degrees: where one
#: judges, its axis has room for the others, and is the same on pages by each of them.
_LEANS_DEG = (-35.0, 40.0)


def stroke_pictures(review: Review, text: Text = ENGLISH, once: Once = draw_now) -> list[Picture]:
    """Return the stroke curves as pictures; none without a whole stroke.

    `once` draws them, or knows them already (`kept_figures`); so it does for the others.
    """
    if not review.strokes.count:
        return []
    turn = curves.release_along(review)
    made = []
    for plan in _plans(review, turn, curves.front_along(review)):
        if np.isfinite(plan.curve.mean).any():
            key = f"curve-{plan.curve.name.removesuffix('_deg').replace('_', '-')}"
            title = text(f"curve.{plan.words}")
            alt = _alt(plan, turn, text)
            # The chart is the same by any standard; what that asks for is laid over it.
            limits, bare = _limits(plan), replace(plan, curve=replace(plan.curve, gates=()))
            svg = once(_curve_svg, bare, limits, turn, key, title, text)
            svg = told(svg, key, alt, *gate_marks(plan.curve.gates, turn, limits))
            made.append(Picture(key, title, svg, alt, text(f"curve.{plan.words}_reading")))
    return made


def _plans(review: Review, turn: float, front: float) -> list[_Plan]:
    def angle(name: str, *gates: tuple[Gate, ...]) -> Curve:
        return curves.angle_curve(review, name, tuple(g for group in gates for g in group))

    def gate(measure: str, at: float, shift: float = 0.0, sign: float = 1.0) -> tuple[Gate, ...]:
        return curves.gate(review, measure, at, shift, sign)

    neutral = curves.neutral_rounding_deg(review)
    dashes, dots, chain = (0, (6, 2)), (0, (1.6, 1.4)), (0, (5, 1.5, 1, 1.5))
    back = angle(
        "back_rounding_deg",
        gate("rounding_catch_deg", front, neutral),
        gate("rounding_release_deg", turn, neutral),
    )
    trunk = angle("trunk_deg", gate("catch_trunk_deg", front), gate("layback_deg", turn, sign=-1.0))
    shin = angle("shin_deg", gate("shin_catch_deg", front))
    knee = angle("knee_deg", gate("knee_release_deg", turn))
    elbow = angle("elbow_deg", gate("elbow_catch_deg", front))
    seat = curves.curve(review, "seat", curves.slide_pct(review))
    plans = [
        _Plan(trunk, "body", BODY, "-", "°", _LEANS_DEG if trunk.gates else ()),
        _Plan(back, "back", BODY, dashes, "°"),
    ]
    if not seat_stays(review.strokes.stage):
        plans += [
            _Plan(seat, "seat", LEGS, "-", " %"),
            _Plan(shin, "shins", LEGS, dots, "°", (8.0,)),
            _Plan(knee, "knees", LEGS, dashes, "°", (180.0,)),
        ]
    return [*plans, _Plan(elbow, "arms", ARMS, chain, "°", (180.0,))]


def _limits(plan: _Plan) -> tuple[float, float]:
    """Return the least and the largest value on a curve's axis."""
    mean, sd = plan.curve.mean, plan.curve.sd
    spread = np.where(np.isfinite(sd), sd, 0.0)
    ends = [v for g in plan.curve.gates for v in (g.low, g.high) if v is not None]
    return _range([*(mean - spread), *(mean + spread), *ends, *plan.shown], 12.0)


def _curve_svg(
    plan: _Plan, limits: tuple[float, float], turn: float, key: str, title: str, text: Text
) -> str:
    figure, axes = new_figure()
    axis = np.linspace(0.0, 1.0, curves.POINTS)
    mean, sd = plan.curve.mean, plan.curve.sd
    axes.fill_between(
        axis, mean - sd, mean + sd, color=plan.colour, alpha=0.22, linewidth=0, zorder=2
    )
    axes.plot(axis, mean, color=plan.colour, linewidth=2.4, linestyle=plan.style, zorder=3)
    axes.set_ylim(limits)
    _stroke_axis(axes, turn, text)
    axes.yaxis.set_major_formatter(lambda v, _: f"{v:.0f}{plan.unit}".replace("-", "−"))
    if 180.0 in plan.shown:
        axes.set_yticks(np.arange(0.0, 181.0, 30.0), minor=False)
        axes.set_ylim(limits)
    else:
        axes.locator_params(axis="y", nbins=5)
    data = {"over": "stroke", "series": plan.curve.name, **geometry(figure, axes)}
    return svg_of(figure, key, title, data)


def _stroke_axis(axes: Axes, turn: float, text: Text) -> None:
    """Mark catch, release and next catch on the stroke's axis."""
    axes.set_xlim(0.0, 1.0)
    names = [text(f"axis.{event}") for event in ("catch", "release", "catch")]
    axes.set_xticks([0.0, turn, 1.0], names)
    _keep_inside(axes)
    axes.axvline(turn, color=RULE, linewidth=1.0, zorder=0)


def _keep_inside(axes: Axes) -> None:
    labels = axes.get_xticklabels()
    labels[0].set_horizontalalignment("left")
    labels[-1].set_horizontalalignment("right")


def _range(values: Iterable[float], least: float) -> tuple[float, float]:
    """Return an axis range around `values`, at least `least` wide."""
    known = [v for v in values if np.isfinite(v)]
    low, high = min(known), max(known)
    short = max(0.0, least - (high - low)) / 2
    pad = 0.07 * (high - low + 2 * short)
    return low - short - pad, high + short + pad


def _alt(plan: _Plan, turn: float, text: Text) -> str:
    """Say in words, with numbers, what a curve shows."""
    one, unit = plan.curve, plan.unit
    axis = np.linspace(0.0, 1.0, curves.POINTS)
    ends = [
        text("curve.at_the", value=text.number(value, 0) + unit, event=text(f"axis.{event}"))
        for along, event in ((0.0, "catch"), (turn, "release"))
        if np.isfinite(value := float(np.interp(along, axis, one.mean)))
    ]
    said = text(
        "curve.alt",
        what=text(f"curve.{plan.words}_what"),
        ends=", ".join(ends) or text("curve.in_parts"),
    )
    if np.isfinite(one.sd).any():
        said += text("curve.alt_sd", sd=text.number(float(np.nanmean(one.sd)), 0) + unit)
    for g in one.gates:
        where = text("curve.at_release" if abs(g.along - turn) < 1e-9 else "curve.at_front")
        said += text("curve.alt_gate", limits=words.limits(g.low, g.high, "deg", text=text),
                     where=where)  # fmt: skip
    return said + "."


def order_picture(review: Review, text: Text = ENGLISH, once: Once = draw_now) -> Picture | None:
    """Return the order of legs, body and arms in the drive; ``None`` when fewer than two move."""
    parts = moving(review.strokes.stage)
    if not review.strokes.count or len(parts) < 2:
        return None
    axis = np.linspace(0.0, 100.0, curves.POINTS)
    means: list[tuple[str, FloatArray]] = []
    halves: dict[str, float] = {}
    for name, rows in curves.drive_progress(review).items():
        known = np.isfinite(rows).all(axis=1)
        if known.any() and name in parts:
            mean = rows[known].mean(axis=0)
            means.append((name, mean))
            halves[name] = float(np.interp(0.5, mean, axis))
    if not halves:
        return None
    said = ", ".join(
        text("order.half", part=text(f"order.{name}"), pct=text.number(half, 0))
        for name, half in halves.items()
    )
    which = "" if len(parts) == len(_PARTS) else "_no_legs"
    alt, title = text(f"order.alt{which}", said=said), text(f"order.title{which}")
    svg = told(once(_order_svg, means, title, text), "order", alt)
    return Picture("order", title, svg, alt, text(f"order.reading{which}"))


#: How the parts of the body are drawn.
_PARTS: dict[str, tuple[str, Any]] = {
    "legs": (LEGS, "-"),
    "body": (BODY, (0, (5, 2))),
    "arms": (ARMS, (0, (1.6, 1.3))),
}


def _order_svg(means: Sequence[tuple[str, FloatArray]], title: str, text: Text) -> str:
    figure, axes = new_figure()
    axis = np.linspace(0.0, 100.0, curves.POINTS)
    for name, mean in means:
        colour, style = _PARTS[name]
        axes.plot(axis, 100 * mean, color=colour, linewidth=2.6, linestyle=style)
        _name_line(axes, name, text(f"order.{name}"), colour, axis, mean)
    axes.set_xlim(0, 100)
    axes.set_ylim(0, 103)
    axes.set_xticks([0, 50, 100], [text(f"axis.{at}") for at in ("catch", "middle", "release")])
    _keep_inside(axes)
    axes.set_yticks([0, 50, 100], ["0 %", "50 %", text("axis.done")])
    return svg_of(figure, "order", title, {"over": "drive", **geometry(figure, axes)})


def _name_line(
    axes: Axes, part: str, name: str, colour: str, axis: FloatArray, mean: FloatArray
) -> None:
    """Write a part's name on its own line, each part at another height so that none collide."""
    height = {"legs": 0.72, "body": 0.46, "arms": 0.2}[part]
    axes.text(
        float(np.interp(height, mean, axis)), 100 * height, name, color=colour, ha="center",
        va="center", fontsize=FONT_PT + 1, fontweight="bold",
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
    )  # fmt: skip
