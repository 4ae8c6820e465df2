"""Charts as SVG that stands inside a page and takes its colours, light or dark, and its font.

Written as text: no drawing library is loaded for a few lines and words. The same chart gives the
same text.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.checks import FloatArray

#: The page's CSS variables.
INK, FAINT, LEGS, BODY, ARMS, GOOD, RULE, PAPER = (
    f"var(--{name})" for name in ("ink", "faint", "legs", "body", "arms", "good", "rule", "paper")
)

#: Size of a chart in units of its view box: small, so that its words stay readable on a phone.
WIDTH, HEIGHT = 316.8, 183.6
FONT = 11.0

#: How far below its middle a line of words stands, of the size of its font.
_BELOW_MIDDLE = 0.26
_TICK = 3.0
#: Steps between ticks that are easily read, for numbers of one digit.
_ROUND_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True)
class Box:
    """A part of the view box; y runs down."""

    left: float
    top: float
    right: float
    bottom: float


#: Where the axes lie, beside the words at the ticks; and without any.
PLOT = Box(39.6, 9.18, 310.464, 161.568)
BARE = Box(6.336, 5.508, 310.464, 178.092)


class Chart:
    """Axes from `x` to `y`, each (value at the start, value at the end), and what is drawn there.

    What is drawn later lies on top.
    """

    def __init__(self, x: tuple[float, float], y: tuple[float, float], box: Box = PLOT) -> None:
        self.x, self.y, self.box = x, y, box
        self._parts: list[str] = []

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Return where a point lies in the view box."""
        box, along, up = self.box, self.x, self.y
        return (
            box.left + (box.right - box.left) * (x - along[0]) / (along[1] - along[0]),
            box.bottom - (box.bottom - box.top) * (y - up[0]) / (up[1] - up[0]),
        )

    def line(
        self,
        x: Sequence[float] | FloatArray,
        y: Sequence[float] | FloatArray,
        colour: str,
        width: float,
        dashes: tuple[float, ...] = (),
        opacity: float = 1.0,
        inside: bool = True,
    ) -> None:
        """Draw a line, broken where a value is not known; `dashes` are in widths of the line."""
        style = f'fill="none" stroke="{colour}" stroke-width="{width:g}"'
        if dashes:
            style += f' stroke-dasharray="{" ".join(f"{width * one:.5g}" for one in dashes)}"'
        elif inside:
            style += ' stroke-linecap="square"'
        if opacity < 1.0:
            style += f' stroke-opacity="{opacity:g}"'
        for known in _known(np.asarray(x, float), np.asarray(y, float)):
            self._path(self._points(*known), style, inside=inside)

    def band(self, x: FloatArray, low: FloatArray, high: FloatArray, colour: str) -> None:
        """Fill what lies between two lines, where both are known, lightly."""
        for xs, lows, highs in _known(x, low, high):
            around = self._points(xs, lows) + self._points(xs[::-1], highs[::-1])
            self._path(around, f'fill="{colour}" fill-opacity="0.22"', inside=True)

    def bar(self, x: tuple[float, float], y: tuple[float, float], colour: str) -> None:
        """Fill a rectangle lightly."""
        self._path(
            self._points(np.array([*x, *x[::-1]]), np.repeat(y, 2)),
            f'fill="{colour}" fill-opacity="0.3"',
            inside=True,
        )

    def axes(
        self,
        x_ticks: Sequence[tuple[float, str]],
        y_ticks: Sequence[tuple[float, str]],
    ) -> None:
        """Draw both axes with what stands at their ticks; words below stay inside the axes."""
        box, last = self.box, len(x_ticks) - 1
        for number, (value, words) in enumerate(x_ticks):
            at = self.place(value, self.y[0])[0]
            self._path([(at, box.bottom), (at, box.bottom + _TICK)], _thin(FAINT))
            anchor: Anchor = "start" if number == 0 else "end" if number == last else "middle"
            self.words((at, box.bottom + 12.0), words, FAINT, anchor)
        for value, words in y_ticks:
            at = self.place(self.x[0], value)[1]
            self._path([(box.left, at), (box.left - _TICK, at)], _thin(FAINT))
            self.words((box.left - 6.5, at + 1.32), words, FAINT, "end")
        corner = [(box.left, box.top), (box.left, box.bottom), (box.right, box.bottom)]
        self._path(corner, f'fill="none" {_thin(RULE)} stroke-linecap="square"')

    def words(
        self,
        at: tuple[float, float],
        words: str,
        colour: str,
        anchor: Anchor = "middle",
        *,
        heading: bool = False,
    ) -> None:
        """Write words with their middle at a height of the view box.

        A `heading` is bold and keeps what lies below at a distance.
        """
        size = FONT + 1 if heading else FONT
        style = f'font-size="{size:g}" text-anchor="{anchor}" fill="{colour}"'
        if heading:
            style += (
                f' font-weight="700" stroke="{PAPER}" stroke-width="5" paint-order="stroke"'
                ' stroke-linejoin="round"'
            )
        x, y = at[0], at[1] + _BELOW_MIDDLE * size
        self._parts.append(f'<text x="{_short(x)}" y="{_short(y)}" {style}>{escaped(words)}</text>')

    def svg(self, key: str, title: str, alt: str, data: Mapping[str, str]) -> str:
        """Return the whole as text.

        Parameters
        ----------
        key : str
            Goes before every id, so that several charts can stand in one page.
        title, alt : str
            What it is, and what it shows in words, for those who cannot see it.
        data : mapping of str to str
            Goes into ``data-…`` attributes, beside where the axes lie: ``x`` and ``y``, each "value
            at the start, value at the end, place of the one, place of the other".
        """
        box = self.box
        ends = {
            "x": (*self.x, box.left, box.right),
            "y": (*self.y, box.bottom, box.top),
        }
        told = dict(data) | {
            name: " ".join(f"{value:.5g}" for value in values) for name, values in ends.items()
        }
        opening = (
            f'<svg class="figure" role="img" viewBox="0 0 {WIDTH:g} {HEIGHT:g}"'
            f' aria-labelledby="{key}-title {key}-alt"'
            + "".join(f' data-{name}="{escaped(value)}"' for name, value in told.items())
            + f'>\n<title id="{key}-title">{escaped(title)}</title>\n'
            f'<desc id="{key}-alt">{escaped(alt)}</desc>\n'
            f'<clipPath id="{key}-inside"><rect x="{_short(box.left)}" y="{_short(box.top)}"'
            f' width="{_short(box.right - box.left)}" height="{_short(box.bottom - box.top)}"/>'
            '</clipPath>\n<g stroke-linejoin="round">\n'
        )
        inside = "\n".join(self._parts).replace(_INSIDE, f'clip-path="url(#{key}-inside)"')
        return f"{opening}{inside}\n</g>\n</svg>"

    def _points(self, x: FloatArray, y: FloatArray) -> list[tuple[float, float]]:
        across, down = self.place(x, y)  # type: ignore[arg-type]
        return list(zip(np.asarray(across).tolist(), np.asarray(down).tolist(), strict=True))

    def _path(
        self, points: Sequence[tuple[float, float]], style: str, *, inside: bool = False
    ) -> None:
        told = " ".join(f"{_short(x)},{_short(y)}" for x, y in points)
        clipped = f" {_INSIDE}" if inside else ""
        self._parts.append(f'<path d="M{told}" {style}{clipped}/>')


_INSIDE = "{inside}"


def _thin(colour: str) -> str:
    return f'stroke="{colour}" stroke-width="0.8"'


def _short(value: float) -> str:
    """Return a length to a hundredth of a unit."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _known(*rows: FloatArray) -> list[list[FloatArray]]:
    """Cut rows of the same length into stretches in which all are known."""
    known = np.isfinite(np.stack(rows)).all(axis=0)
    cuts = np.flatnonzero(np.diff(known.astype(int))) + 1
    pieces = zip(*(np.split(row, cuts) for row in rows), np.split(known, cuts), strict=True)
    return [list(piece[:-1]) for piece in pieces if len(piece[-1]) and piece[-1][0]]


def round_ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Return easily read values between two ends: `most` steps at most, and at least half of it."""
    least = (high - low) / most
    scale = 10.0 ** math.floor(math.log10(least))
    step = next(one * scale for one in _ROUND_STEPS if one * scale >= least)
    first, last = math.ceil(low / step - 1e-10), math.floor(high / step + 1e-10)
    return [number * step for number in range(first, last + 1)]


def escaped(text: str) -> str:
    """Return `text` for use between tags and in attributes."""
    for sign, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(sign, name)
    return text
