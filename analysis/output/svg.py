"""matplotlib figures as SVG that stands inside a page and takes its colours, light or dark.

Stand-in colours are drawn and then exchanged for the page's CSS variables; text stays text, so it
uses the page's font and can be read aloud. No global state of pyplot is used, and matplotlib is
loaded only when a figure is made.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

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
    "#070707": "var(--rule)",
    "#080808": "var(--paper)",
}
INK, FAINT, LEGS, BODY, ARMS, GOOD, RULE, PAPER = STAND_INS

#: Size of a figure, in, at 72 px an inch: small, so that its words stay readable on a phone.
WIDTH_IN, HEIGHT_IN, DPI = 4.4, 2.55, 72
FONT_PT = 11.0

#: Where a figure's axes lie: left, bottom, width, height in shares of it.
AXES = (0.125, 0.12, 0.855, 0.83)


def load() -> None:
    """Load what figures are drawn with, ahead of the first of them."""
    import matplotlib.backends.backend_svg
    import matplotlib.figure  # noqa: F401


def new_figure() -> tuple[Figure, Axes]:
    """Return an empty figure with one pair of axes in the page's colours."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI)
    FigureCanvasSVG(figure)
    axes = figure.add_axes(AXES)
    axes.patch.set_alpha(0.0)
    figure.patch.set_alpha(0.0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(RULE)
    axes.tick_params(colors=FAINT, labelsize=FONT_PT, length=3)
    return figure, axes


def geometry(figure: Figure, axes: Axes) -> dict[str, str]:
    """Return where the axes lie in the SVG, for the page's script.

    Returns
    -------
    dict
        ``x`` and ``y``, each "value at the start, value at the end, place of the one, place of the
        other", places in units of the SVG's view box (y down).
    """
    axes.apply_aspect()  # all that drawing would still do to the axes' place
    height = HEIGHT_IN * DPI
    found = {}
    for name, ends in (("x", axes.get_xlim()), ("y", axes.get_ylim())):
        places = [
            float(axes.transData.transform((end, 0) if name == "x" else (0, end))["xy".index(name)])
            for end in ends
        ]
        if name == "y":
            places = [height - place for place in places]
        found[name] = " ".join(f"{value:.5g}" for value in (*ends, *places))
    return found


def place_px(along: float, value: float, limits: tuple[float, float]) -> tuple[float, float]:
    """Return where a point of `new_figure`'s axes lies in the SVG, in units of its view box.

    `along` is a share of the axes' width, `limits` are the values at its bottom and top.
    """
    left, bottom, width, height = AXES
    up = (value - limits[0]) / (limits[1] - limits[0])
    x = WIDTH_IN * DPI * (left + width * along)
    return x, HEIGHT_IN * DPI * (1.0 - bottom - height * up)


def svg_of(figure: Figure, key: str, title: str, data: Mapping[str, str] | None = None) -> str:
    """Return the SVG of a figure, the same text for the same content; `told` completes it.

    Parameters
    ----------
    figure : matplotlib Figure
    key : str
        Goes before every id, so that several figures can stand in one page.
    title : str
        What it is.
    data : mapping of str to str, optional
        Goes into ``data-…`` attributes of the SVG.
    """
    import matplotlib

    buffer = io.StringIO()
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": f"sideon-{key}"}):
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.S)
    view = re.search(r'viewBox="([^"]+)"', text)
    if view is None:
        raise ValueError("figure: expected a viewBox in the SVG, got none")
    opening = (
        f'<svg class="figure" role="img" viewBox="{view.group(1)}"'
        f' aria-labelledby="{key}-title {key}-alt"'
        + "".join(f' data-{name}="{escaped(value)}"' for name, value in (data or {}).items())
        + ">"
        f'<title id="{key}-title">{escaped(title)}</title>'
    )
    inside = text[text.index(">") + 1 :]
    inside = re.sub(r'\bid="([^"]+)"', rf'id="{key}-\1"', inside)
    inside = re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", inside)
    inside = re.sub(r'(?:xlink:)?href="#([^"]+)"', rf'href="#{key}-\1"', inside)
    for stand_in, variable in STAND_INS.items():
        inside = inside.replace(stand_in, variable)
    # The page's font instead of matplotlib's; only weight and size are kept.
    inside = re.sub(r"font: (?:(\d+|bold) )?([\d.]+)px [^;\"]+", _font, inside)
    return opening + inside


def told(svg: str, key: str, alt: str, under: str = "", over: str = "") -> str:
    """Return the SVG of a figure with what it shows in words, for those who cannot see it.

    `under` and `over` are more elements, to lie below and above what is drawn.
    """
    title, drawn = svg.split("</title>", 1)
    end = drawn.rindex("</svg>")
    words = f'<desc id="{key}-alt">{escaped(alt)}</desc>'
    return f"{title}</title>{words}{under}{drawn[:end]}{over}{drawn[end:]}"


def _font(found: re.Match[str]) -> str:
    weight = f"font-weight: {found.group(1)}; " if found.group(1) else ""
    return f"{weight}font-size: {found.group(2)}px"


def escaped(text: str) -> str:
    """Return `text` for use between tags and in attributes."""
    for sign, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(sign, name)
    return text
