"""The figures of the page: SVG that takes its colours from the page, light or dark.

matplotlib draws with stand-in colours that are then exchanged for the page's CSS variables; text
stays text, so it uses the page's font and can be read aloud. No global state of pyplot is used.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.checks import FloatArray
from analysis.output import curves, words
from analysis.output.curves import Curve, Gate
from analysis.result import Review

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Stand-in colours and the CSS variables they become.
STAND_INS = {
    "#010101": "var(--ink)",
    "#020202": "var(--faint)",
    "#030303": "var(--legs)",
    "#040404": "var(--body)",
    "#050505": "var(--arms)",
    "#060606": "var(--good)",
    "#070707": "var(--alert)",
    "#080808": "var(--rule)",
    "#090909": "var(--paper)",
}
INK, FAINT, LEGS, BODY, ARMS, GOOD, ALERT, RULE, PAPER = STAND_INS

_WIDTH_IN, _HEIGHT_IN, _DPI = 4.4, 2.6, 72
_FONT_PT = 10.5


@dataclass(frozen=True)
class Picture:
    """A figure for the page: its SVG, title, what it shows in words, and how to read it."""

    key: str
    title: str
    svg: str
    alt: str
    reading: str


def _figure(height_in: float = _HEIGHT_IN) -> tuple[Figure, Axes]:
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDTH_IN, height_in), dpi=_DPI)
    FigureCanvasSVG(figure)
    axes = figure.add_axes((0.125, 0.17, 0.855, 0.77))
    axes.patch.set_alpha(0.0)
    figure.patch.set_alpha(0.0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(RULE)
    axes.tick_params(colors=FAINT, labelsize=_FONT_PT, length=3)
    return figure, axes


def svg_of(figure: Figure, key: str, title: str, alt: str) -> str:
    """Return the SVG of a figure, the same for the same content, fit to stand inside a page."""
    import matplotlib

    buffer = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": f"sideon-{key}"}):
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.S)
    view = re.search(r'viewBox="([^"]+)"', text)
    assert view is not None
    names = f"{key}-title {key}-alt"
    opening = (
        f'<svg class="figure" role="img" viewBox="{view.group(1)}" aria-labelledby="{names}">'
        f'<title id="{key}-title">{_escaped(title)}</title>'
        f'<desc id="{key}-alt">{_escaped(alt)}</desc>'
    )
    inside = text[text.index(">") + 1 :]
    inside = re.sub(r'\bid="([^"]+)"', rf'id="{key}-\1"', inside)
    inside = re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", inside)
    inside = re.sub(r'(?:xlink:)?href="#([^"]+)"', rf'href="#{key}-\1"', inside)
    for stand_in, variable in STAND_INS.items():
        inside = inside.replace(stand_in, variable)
    # The page's font and its size in px instead of matplotlib's.
    inside = re.sub(r"font: ([\d.]+)px [^;\"]+", r"font-size: \1px", inside)
    return opening + inside


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _stroke_axis(axes: Axes, turn: float) -> None:
    """Mark catch, release and next catch on the stroke's axis."""
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([0.0, turn, 1.0], ["catch", "release", "catch"])
    labels = axes.get_xticklabels()
    labels[0].set_horizontalalignment("left")
    labels[-1].set_horizontalalignment("right")
    axes.axvline(turn, color=RULE, linewidth=1.0, zorder=0)


def _gates(axes: Axes, gates: tuple[Gate, ...]) -> None:
    """Draw what the standard asks for: an open-ended or closed bracket at its instant."""
    low_end, high_end = axes.get_ylim()
    for one in gates:
        at = min(max(one.along, 0.018), 0.982)
        low = low_end if one.low is None else one.low
        high = high_end if one.high is None else one.high
        from matplotlib.patches import Rectangle

        box = Rectangle(
            (at - 0.016, low), 0.032, high - low, facecolor=GOOD, alpha=0.28, linewidth=0, zorder=1
        )
        axes.add_patch(box)
        for end in (one.low, one.high):
            if end is not None:
                axes.plot(
                    [at - 0.03, at + 0.03],
                    [end, end],
                    color=GOOD,
                    linewidth=2.2,
                    zorder=4,
                    solid_capstyle="butt",
                    clip_on=False,
                )
    axes.set_ylim(low_end, high_end)


def _range(values: list[float], least: float) -> tuple[float, float]:
    known = [v for v in values if np.isfinite(v)]
    if not known:
        return -1.0, 1.0
    low, high = min(known), max(known)
    short = max(0.0, least - (high - low)) / 2
    pad = 0.06 * (high - low + 2 * short)
    return low - short - pad, high + short + pad


def _plot_curve(
    one: Curve, colour: str, turn: float, style: Any, scale: float, unit: str
) -> Figure:
    figure, axes = _figure()
    axis = np.linspace(0.0, 1.0, curves.POINTS)
    mean, sd = scale * one.mean, scale * one.sd
    axes.fill_between(axis, mean - sd, mean + sd, color=colour, alpha=0.2, linewidth=0, zorder=2)
    axes.plot(axis, mean, color=colour, linewidth=2.4, linestyle=style, zorder=3)
    ends = [v for g in one.gates for v in (g.low, g.high) if v is not None]
    spread = np.where(np.isfinite(sd), sd, 0.0)
    low, high = _range([*(mean - spread), *(mean + spread), *ends], 12.0)
    axes.set_ylim(low, high)
    _stroke_axis(axes, turn)
    _gates(axes, one.gates)
    axes.yaxis.set_major_formatter(lambda v, _: f"{v:.0f}{unit}".replace("-", "−"))
    axes.locator_params(axis="y", nbins=5)
    return figure


def _at(one: Curve, along: float) -> float:
    return float(np.interp(along, np.linspace(0.0, 1.0, curves.POINTS), one.mean))


def _alt(one: Curve, what: str, turn: float, unit: str, scale: float = 1.0) -> str:
    front, back = scale * _at(one, 0.0), scale * _at(one, turn)
    spread = scale * float(np.nanmean(one.sd)) if np.isfinite(one.sd).any() else float("nan")
    said = (
        f"{what} over the stroke: {front:.0f}{unit} at the catch, {back:.0f}{unit} at the release"
    )
    said += f", ± {spread:.0f}{unit} from stroke to stroke" if np.isfinite(spread) else ""
    for g in one.gates:
        limit = words.limits(g.low, g.high, "deg")
        where = "at the front" if abs(g.along - turn) > 0.02 else "at the release"
        said += f"; the standard asks for {limit} {where}"
    return (said + ".").replace("-", "−")


def stroke_pictures(review: Review) -> list[Picture]:
    """Return the stroke curves as pictures; none without a whole stroke."""
    if not review.strokes.count:
        return []
    turn, front = curves.release_along(review), curves.front_along(review)
    neutral = _neutral(review)
    seat = review.motion.seat_px
    low, high = np.nanpercentile(seat, [1, 99]) if np.isfinite(seat).any() else (0.0, 1.0)
    slide = 100.0 * (seat - low) / max(float(high - low), 1e-9)
    plans = [
        (
            curves.angle_curve(
                review,
                "trunk_deg",
                (
                    *curves.gate(review, "catch_trunk_deg", front),
                    *curves.gate(review, "layback_deg", turn, sign=-1.0),
                ),
            ),
            "Body",
            "Lean of the body",
            BODY,
            "-",
            "°",
            "Up is leaning forward, down is leaning back; 0° is upright.",
        ),
        (
            curves.curve(review, "slide", slide),
            "Seat",
            "Place of the seat on its slide",
            LEGS,
            "-",
            " %",
            "100 % is as far forward as your seat came, 0 % as far back.",
        ),
        (
            curves.angle_curve(review, "knee_deg", curves.gate(review, "knee_release_deg", turn)),
            "Knees",
            "Knee angle",
            LEGS,
            (0, (6, 2)),
            "°",
            "180° is a straight leg.",
        ),
        (
            curves.angle_curve(review, "shin_deg", curves.gate(review, "shin_catch_deg", front)),
            "Shins",
            "Lean of the shin",
            LEGS,
            (0, (1.5, 1.5)),
            "°",
            "0° is an upright shin; above it your knee is past your ankle.",
        ),
        (
            curves.angle_curve(review, "elbow_deg", curves.gate(review, "elbow_catch_deg", front)),
            "Arms",
            "Elbow angle",
            ARMS,
            (0, (5, 1.5, 1, 1.5)),
            "°",
            "180° is a straight arm.",
        ),
        (
            curves.angle_curve(
                review,
                "back_rounding_deg",
                (
                    *curves.gate(review, "rounding_catch_deg", front, shift=neutral),
                    *curves.gate(review, "rounding_release_deg", turn, shift=neutral),
                ),
            ),
            "Back",
            "Rounding of the back",
            BODY,
            (0, (4, 1.5)),
            "°",
            "Lower is a longer back.",
        ),
    ]
    made = []
    for one, title, what, colour, style, unit, reading in plans:
        if not np.isfinite(one.mean).any():
            continue
        figure = _plot_curve(one, colour, turn, style, 1.0, unit)
        alt = _alt(one, what, turn, unit)
        key = f"curve-{one.name.removesuffix('_deg').replace('_', '-')}"
        made.append(Picture(key, title, svg_of(figure, key, title, alt), alt, reading))
    return made


def _neutral(review: Review) -> float:
    """Return the neutral back angle that rounding was counted from; 0 when it is not known."""
    raw = review.strokes.measures.get("rounding_catch_raw_deg")
    over = review.strokes.measures.get("rounding_catch_deg")
    if raw is None or over is None:
        return 0.0
    gap = raw.values - over.values
    known = gap[np.isfinite(gap)]
    return float(np.median(known)) if len(known) else 0.0


def order_picture(review: Review) -> Picture | None:
    """Return the order of legs, body and arms in the drive."""
    if not review.strokes.count:
        return None
    start = curves.drive_starts(review)
    motion = review.motion
    parts = [
        ("legs", curves.progress(review, motion.seat_px, start), LEGS, "-"),
        ("body", curves.progress(review, motion.angle("trunk_deg"), start), BODY, (0, (5, 2))),
        ("arms", curves.progress(review, motion.angle("elbow_deg"), start), ARMS, (0, (1.5, 1.2))),
    ]
    figure, axes = _figure()
    axis = np.linspace(0.0, 100.0, curves.POINTS)
    halves = []
    for name, rows, colour, style in parts:
        mean = _mean(rows)
        if not np.isfinite(mean).any():
            continue
        axes.plot(axis, 100 * mean, color=colour, linewidth=2.6, linestyle=style)
        half = float(np.interp(0.5, mean, axis))
        halves.append((name, half))
        axes.annotate(
            name,
            (half, 50),
            xytext=(-6, 5),
            textcoords="offset points",
            ha="right",
            color=colour,
            fontsize=_FONT_PT + 1,
            fontweight="bold",
        )
    if not halves:
        return None
    axes.set_xlim(0, 100)
    axes.set_ylim(0, 102)
    axes.set_xticks([0, 50, 100], ["catch", "half of the drive", "release"])
    labels = axes.get_xticklabels()
    labels[0].set_horizontalalignment("left")
    labels[-1].set_horizontalalignment("right")
    axes.set_yticks([0, 50, 100], ["0 %", "50 %", "done"])
    said = ", ".join(f"{name} at {half:.0f} %" for name, half in halves)
    alt = f"How much of their way legs, body and arms have done in the drive. Half done: {said}."
    title = "Legs, body, arms"
    reading = "The legs go first, then the body, and the arms finish."
    return Picture("order", title, svg_of(figure, "order", title, alt), alt, reading)


def _mean(rows: FloatArray) -> FloatArray:
    known = np.isfinite(rows).all(axis=1)
    if not known.any():
        return np.full(rows.shape[1], np.nan)
    return np.asarray(rows[known].mean(axis=0))


def handle_picture(review: Review) -> Picture | None:
    """Return the path of the handle, drive and recovery apart."""
    if not review.strokes.count:
        return None
    wrist = review.motion.place("wrist")
    arm = max(review.motion.segments_px["forearm"], 1e-9)
    x = curves.curve(review, "x", wrist[:, 0] / arm).mean
    y = curves.curve(review, "y", wrist[:, 1] / arm).mean
    if not (np.isfinite(x).any() and np.isfinite(y).any()):
        return None
    figure, axes = _figure()
    turn = round(curves.release_along(review) * (curves.POINTS - 1))
    axes.plot(x[: turn + 1], y[: turn + 1], color=ARMS, linewidth=2.8, label="drive")
    axes.plot(x[turn:], y[turn:], color=ARMS, linewidth=2.0, linestyle=(0, (2, 1.6)))
    each_x, each_y = (curves.lay_over(review, wrist[:, k] / arm) for k in (0, 1))
    for own_x, own_y in zip(each_x, each_y, strict=True):
        axes.plot(own_x, own_y, color=ARMS, linewidth=0.7, alpha=0.35, zorder=1)
    axes.set_aspect("equal", adjustable="datalim")
    if review.motion.facing == "left":
        axes.invert_xaxis()
    axes.set_xticks([])
    axes.set_yticks([])
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
    for k, text, dy in ((turn // 2, "drive", 9), ((turn + curves.POINTS) // 2, "recovery", -16)):
        higher = 1 if (y[k] >= np.nanmean(y)) == (dy > 0) else -1
        axes.annotate(
            text,
            (x[k], y[k]),
            xytext=(0, dy * higher if higher > 0 else -dy - 6),
            textcoords="offset points",
            ha="center",
            color=INK,
            fontsize=_FONT_PT,
        )
    rise = float(np.nanmax(y) - np.nanmin(y))
    length = float(np.nanmax(x) - np.nanmin(x))
    alt = (
        f"Path of the handle: {length:.1f} forearms long and {rise:.1f} forearms high; "
        "full line the drive, dashed line the recovery."
    )
    title = "Path of the handle"
    reading = "Full line: the pull. Dashed line: the way forward. Flat and narrow is good."
    return Picture("handle", title, svg_of(figure, "handle", title, alt), alt, reading)
