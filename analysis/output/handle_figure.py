"""The figure of the handle's path."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import FloatArray
from analysis.output import curves
from analysis.output.curves import Curve
from analysis.output.figures import Picture
from analysis.output.kept_figures import Once, draw_now
from analysis.output.language import ENGLISH, Text
from analysis.output.svg import ARMS, FAINT, FONT_PT, INK, geometry, new_figure, svg_of, told
from analysis.result import Review

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Paths of single strokes that are drawn at most.
MOST_PATHS = 24


def handle_picture(review: Review, text: Text = ENGLISH, once: Once = draw_now) -> Picture | None:
    """Return the path of the handle, drive and recovery apart; ``None`` when it is not known."""
    if not review.strokes.count:
        return None
    handle = review.motion.handle_px / max(review.motion.segments_px["forearm"], 1e-9)
    x, y = (curves.curve(review, axis, handle[:, k]) for k, axis in enumerate("xy"))
    if not (np.isfinite(x.mean).all() and np.isfinite(y.mean).all()):
        return None
    turn = round(curves.release_along(review) * (curves.POINTS - 1))
    rise, length = (text.number(float(np.ptp(over.mean)), 1) for over in (y, x))
    alt, title = text("handle.alt", length=length, rise=rise), text("handle.title")
    svg = once(_handle_svg, x, y, turn, review.motion.facing == "right", title, text)
    return Picture("handle", title, told(svg, "handle", alt), alt, text("handle.reading"))


def _handle_svg(
    over_x: Curve, over_y: Curve, turn: int, feet_right: bool, title: str, text: Text
) -> str:
    figure, axes = new_figure()
    axes.set_position((0.02, 0.03, 0.96, 0.94))
    x, y = over_x.mean, over_y.mean
    # Of very many strokes every so many: more lines on top of each other show nothing more.
    some = slice(None, None, max(1, math.ceil(len(over_x.each) / MOST_PATHS)))
    for own_x, own_y in zip(over_x.each[some], over_y.each[some], strict=True):
        axes.plot(own_x, own_y, color=ARMS, linewidth=0.7, alpha=0.35, zorder=1)
    axes.plot(x[: turn + 1], y[: turn + 1], color=ARMS, linewidth=2.8)
    axes.plot(x[turn:], y[turn:], color=ARMS, linewidth=2.2, linestyle=(0, (2, 1.6)))
    axes.set_aspect("equal", adjustable="datalim")
    if not feet_right:
        axes.invert_xaxis()
    axes.set_axis_off()
    _name_path(axes, x, y, turn, feet_right, text)
    return svg_of(figure, "handle", title, {"over": "path", **geometry(figure, axes)})


def _name_path(
    axes: Axes, x: FloatArray, y: FloatArray, turn: int, feet_right: bool, text: Text
) -> None:
    """Name both ways of the handle above and below its path, and its two ends."""
    drive_on_top = bool(y[: turn + 1].mean() > y[turn:].mean())
    to_feet, to_body = ("→", "←") if feet_right else ("←", "→")
    middle = float((x.max() + x.min()) / 2)
    names = {True: f"{to_body} {text('axis.drive')}", False: f"{text('axis.recovery')} {to_feet}"}
    for on_top in (True, False):
        axes.annotate(
            names[on_top == drive_on_top],
            (middle, float(y.max() if on_top else y.min())),
            xytext=(0, 14 if on_top else -14), textcoords="offset points",
            ha="center", va="center", color=INK, fontsize=FONT_PT,
        )  # fmt: skip
    for at, name, side in ((0, text("axis.catch"), 1), (turn, text("axis.release"), -1)):
        outward = side if feet_right else -side
        axes.annotate(
            name, (float(x[at]), float(y[at])), xytext=(7 * outward, 0),
            textcoords="offset points", ha="left" if outward > 0 else "right", va="center",
            color=FAINT, fontsize=FONT_PT,
        )  # fmt: skip
    axes.margins(0.2, 0.3)
