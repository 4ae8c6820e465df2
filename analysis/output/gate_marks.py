"""What the standard asks for, marked on a chart of the stroke.

Laid over the chart instead of drawn in it, so that the chart stands by any standard.
"""

from __future__ import annotations

from collections.abc import Sequence

from analysis.output.curves import Gate
from analysis.output.svg import GOOD, STAND_INS, place_px

#: Half the width of a box and of the bars at its ends, in shares of the axis.
_BOX, _BAR = 0.018, 0.03


def gate_marks(gates: Sequence[Gate], turn: float, limits: tuple[float, float]) -> tuple[str, str]:
    """Return the SVG of the gates of one curve, for `svg.told`.

    Each is a barred box at its instant, open to the axis' end where there is no limit. The front
    of the stroke stands at both ends of the axis, and so does its box.

    Parameters
    ----------
    gates : sequence of Gate
    turn : float
        Where the release lies, 0…1.
    limits : (float, float)
        The least and the largest value on the curve's axis, in its own unit.

    Returns
    -------
    (str, str)
        Boxes, to lie below the curve, and bars, to lie above it.
    """
    boxes, bars = "", ""
    for one in gates:
        low = limits[0] if one.low is None else one.low
        high = limits[1] if one.high is None else one.high
        ends = [end for end in (one.low, one.high) if end is not None]
        for along in _places(one.along, turn):
            boxes += _box(along, low, high, limits)
            bars += "".join(_bar(along, end, limits) for end in ends)
    colour = STAND_INS[GOOD]
    return (
        f'<g fill="{colour}" fill-opacity="0.3">{boxes}</g>' if boxes else "",
        f'<g stroke="{colour}" stroke-width="2.4">{bars}</g>' if bars else "",
    )


def _places(along: float, turn: float) -> list[float]:
    """Return where a gate is marked, so far from the axis' ends that its box is whole."""
    at_release = abs(along - turn) < 1e-9
    places = [along] if at_release else [along, along + 1.0]
    return [min(max(place, _BOX), 1.0 - _BOX) for place in places if place <= 1.05]


def _box(along: float, low: float, high: float, limits: tuple[float, float]) -> str:
    left, bottom = place_px(along - _BOX, low, limits)
    right, top = place_px(along + _BOX, high, limits)
    size = f'width="{right - left:.2f}" height="{bottom - top:.2f}"'
    return f'<rect x="{left:.2f}" y="{top:.2f}" {size}/>'


def _bar(along: float, value: float, limits: tuple[float, float]) -> str:
    left, y = place_px(along - _BAR, value, limits)
    right, _ = place_px(along + _BAR, value, limits)
    return f'<line x1="{left:.2f}" y1="{y:.2f}" x2="{right:.2f}" y2="{y:.2f}"/>'
