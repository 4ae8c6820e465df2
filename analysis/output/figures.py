"""The figures of the page: the stroke as curves, the order of the drive, the handle's path."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analysis.checks import FloatArray
from analysis.output import curves, words
from analysis.output.curves import Curve, Gate
from analysis.output.language import ENGLISH, Text
from analysis.output.reached import moving, seat_stays
from analysis.output.svg import ARMS, BARE, BODY, FAINT, GOOD, INK, LEGS, RULE, Chart, round_ticks
from analysis.result import Review

#: Paths of single strokes that are drawn at most.
MOST_PATHS = 24


#: What stands below the order of the drive, and how far up each part's name, in shares of its way.
_ALONG_THE_DRIVE = ((0.0, "catch"), (50.0, "middle"), (100.0, "release"))
_NAME_AT = {"legs": 0.72, "body": 0.46, "arms": 0.2}
#: Room for the handle's path and the words beside it, of its own length and height.
_ROOM = (1.4, 1.6)


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
    """How a curve is drawn; ``words`` names its words, ``top`` is a value that is always shown."""

    curve: Curve
    words: str
    colour: str
    dashes: tuple[float, ...]
    unit: str
    top: float | None = None


def stroke_pictures(review: Review, text: Text = ENGLISH) -> list[Picture]:
    """Return the stroke curves as pictures; none without a whole stroke."""
    if not review.strokes.count:
        return []
    turn = curves.release_along(review)
    made = []
    for plan in _plans(review, turn, curves.front_along(review)):
        if np.isfinite(plan.curve.mean).any():
            key = f"curve-{plan.curve.name.removesuffix('_deg').replace('_', '-')}"
            title = text(f"curve.{plan.words}")
            alt = _alt(plan, turn, text)
            data = {"over": "stroke", "series": plan.curve.name}
            svg = _plot_curve(plan, turn, text).svg(key, title, alt, data)
            made.append(Picture(key, title, svg, alt, text(f"curve.{plan.words}_reading")))
    return made


def _plans(review: Review, turn: float, front: float) -> list[_Plan]:
    def angle(name: str, *gates: tuple[Gate, ...]) -> Curve:
        return curves.angle_curve(review, name, tuple(g for group in gates for g in group))

    def gate(measure: str, at: float, shift: float = 0.0, sign: float = 1.0) -> tuple[Gate, ...]:
        return curves.gate(review, measure, at, shift, sign)

    neutral = curves.neutral_rounding_deg(review)
    dashes, dots, chain = (6.0, 2.0), (1.6, 1.4), (5.0, 1.5, 1.0, 1.5)
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
    plans = [_Plan(trunk, "body", BODY, (), "°"), _Plan(back, "back", BODY, dashes, "°")]
    if not seat_stays(review.strokes.stage):
        plans += [
            _Plan(seat, "seat", LEGS, (), " %"),
            _Plan(shin, "shins", LEGS, dots, "°", 8.0),
            _Plan(knee, "knees", LEGS, dashes, "°", 180.0),
        ]
    return [*plans, _Plan(elbow, "arms", ARMS, chain, "°", 180.0)]


def _plot_curve(plan: _Plan, turn: float, text: Text) -> Chart:
    axis = np.linspace(0.0, 1.0, curves.POINTS)
    mean, sd = plan.curve.mean, plan.curve.sd
    spread = np.where(np.isfinite(sd), sd, 0.0)
    ends = [v for g in plan.curve.gates for v in (g.low, g.high) if v is not None]
    ends += [] if plan.top is None else [plan.top]
    low, high = _range([*(mean - spread), *(mean + spread), *ends], 12.0)
    chart = Chart((0.0, 1.0), (low, high))
    chart.line([turn, turn], [low, high], RULE, 1.0)
    gates = [(gate, place) for gate in plan.curve.gates for place in _places(gate, turn)]
    for gate, place in gates:
        asked = low if gate.low is None else gate.low, high if gate.high is None else gate.high
        chart.bar((place - 0.018, place + 0.018), asked, GOOD)
    chart.band(axis, mean - sd, mean + sd, plan.colour)
    names = [text(f"axis.{event}") for event in ("catch", "release", "catch")]
    marks = round_ticks(low, high)
    if plan.top == 180.0:
        marks = [v for v in np.arange(0.0, 181.0, 30.0).tolist() if low <= v <= high]
    told = [(v, f"{v:.0f}{plan.unit}".replace("-", "−")) for v in marks]
    chart.axes(list(zip((0.0, turn, 1.0), names, strict=True)), told)
    chart.line(axis, mean, plan.colour, 2.4, plan.dashes)
    for gate, place in gates:
        for end in (gate.low, gate.high):
            if end is not None:
                chart.line([place - 0.03, place + 0.03], [end, end], GOOD, 2.4, inside=False)
    return chart


def _places(gate: Gate, turn: float) -> list[float]:
    """Return where what the standard asks for is drawn: a barred box, open where no limit is.

    The front of the stroke stands at both ends of the axis, and so does its box.
    """
    both = [gate.along] if abs(gate.along - turn) < 1e-9 else [gate.along, gate.along + 1.0]
    return [min(max(place, 0.018), 0.982) for place in both if place <= 1.05]


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


def order_picture(review: Review, text: Text = ENGLISH) -> Picture | None:
    """Return the order of legs, body and arms in the drive; ``None`` when fewer than two move."""
    parts = moving(review.strokes.stage)
    if not review.strokes.count or len(parts) < 2:
        return None
    axis = np.linspace(0.0, 100.0, curves.POINTS)
    looks: dict[str, tuple[str, tuple[float, ...]]]
    looks = {"legs": (LEGS, ()), "body": (BODY, (5.0, 2.0)), "arms": (ARMS, (1.6, 1.3))}
    means = {
        name: rows[known].mean(axis=0)
        for name, rows in curves.drive_progress(review).items()
        if (known := np.isfinite(rows).all(axis=1)).any() and name in parts
    }
    if not means:
        return None
    chart = Chart((0.0, 100.0), (0.0, 103.0))
    for name, mean in means.items():
        chart.line(axis, 100 * mean, looks[name][0], 2.6, looks[name][1])
    along = [(at, text(f"axis.{name}")) for at, name in _ALONG_THE_DRIVE]
    chart.axes(along, [(0.0, "0 %"), (50.0, "50 %"), (100.0, text("axis.done"))])
    for name, mean in means.items():
        # Each part's name stands on its own line, at another height, so that none collide.
        height = _NAME_AT[name]
        at = chart.place(float(np.interp(height, mean, axis)), 100 * height)
        chart.words(at, text(f"order.{name}"), looks[name][0], heading=True)
    said = ", ".join(
        text(
            "order.half",
            part=text(f"order.{name}"),
            pct=text.number(float(np.interp(0.5, mean, axis)), 0),
        )
        for name, mean in means.items()
    )
    which = "" if len(parts) == len(looks) else "_no_legs"
    alt, title = text(f"order.alt{which}", said=said), text(f"order.title{which}")
    svg = chart.svg("order", title, alt, {"over": "drive"})
    return Picture("order", title, svg, alt, text(f"order.reading{which}"))


def handle_picture(review: Review, text: Text = ENGLISH) -> Picture | None:
    """Return the path of the handle, drive and recovery apart; ``None`` when it is not known."""
    if not review.strokes.count:
        return None
    wrist = review.motion.place("wrist") / max(review.motion.segments_px["forearm"], 1e-9)
    over = [curves.curve(review, axis, wrist[:, k]) for k, axis in enumerate("xy")]
    x, y = over[0].mean, over[1].mean
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        return None
    right = review.motion.facing == "right"
    turn = round(curves.release_along(review) * (curves.POINTS - 1))
    # Of very many strokes every so many: more lines on top of each other show nothing more.
    some = slice(None, None, max(1, math.ceil(review.strokes.count / MOST_PATHS)))
    along, up = _around(np.append(over[0].each[some], x), np.append(over[1].each[some], y))
    chart = Chart(along if right else along[::-1], up, BARE)
    for own_x, own_y in zip(over[0].each[some], over[1].each[some], strict=True):
        chart.line(own_x, own_y, ARMS, 0.7, opacity=0.35)
    chart.line(x[: turn + 1], y[: turn + 1], ARMS, 2.8)
    chart.line(x[turn:], y[turn:], ARMS, 2.2, (2.0, 1.6))
    _name_path(chart, x, y, turn, right, text)
    rise, length = (text.number(float(np.ptp(v)), 1) for v in (y, x))
    alt, title = text("handle.alt", length=length, rise=rise), text("handle.title")
    svg = chart.svg("handle", title, alt, {"over": "path"})
    return Picture("handle", title, svg, alt, text("handle.reading"))


def _around(x: FloatArray, y: FloatArray) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return axes of one scale around what is drawn, with room for words beside it.

    As close as either direction allows, as long as nothing is cut off in the other.
    """
    sides = BARE.right - BARE.left, BARE.bottom - BARE.top
    spans = [max(float(np.nanmax(v) - np.nanmin(v)), 1e-9) for v in (x, y)]
    scales = sorted(
        room * span / side for room, span, side in zip(_ROOM, spans, sides, strict=True)
    )
    fits = all(scales[0] * side >= 1.05 * s for side, s in zip(sides, spans, strict=True))
    half = [scales[0 if fits else 1] * side / 2 for side in sides]
    middle = [float(np.nanmax(v) + np.nanmin(v)) / 2 for v in (x, y)]
    along, up = ((m - h, m + h) for m, h in zip(middle, half, strict=True))
    return along, up


def _name_path(
    chart: Chart, x: FloatArray, y: FloatArray, turn: int, feet_right: bool, text: Text
) -> None:
    """Name both ways of the handle above and below its path, and its two ends."""
    drive_on_top = bool(y[: turn + 1].mean() > y[turn:].mean())
    to_feet, to_body = ("→", "←") if feet_right else ("←", "→")
    middle = float((x.max() + x.min()) / 2)
    names = {True: f"{to_body} {text('axis.drive')}", False: f"{text('axis.recovery')} {to_feet}"}
    for on_top in (True, False):
        across, down = chart.place(middle, float(y.max() if on_top else y.min()))
        chart.words((across, down + (-14 if on_top else 14)), names[on_top == drive_on_top], INK)
    for at, name, side in ((0, text("axis.catch"), 1), (turn, text("axis.release"), -1)):
        outward = side if feet_right else -side
        across, down = chart.place(float(x[at]), float(y[at]))
        chart.words((across + 7 * outward, down), name, FAINT, "start" if outward > 0 else "end")
