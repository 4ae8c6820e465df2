"""Words on a frame: set once with a real font on a readable plate, kept, and blended in.

The font is DejaVu Sans, which matplotlib carries: it has the letters of most names.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from analysis.output.palette import INK, PAPER, Bgr

#: [shape=(H, W, 3)], blue, green, red.
Picture = NDArray[np.uint8]

#: Letters that the font is known to have: most texts are told to be settable without reading it.
USUAL = frozenset(map(chr, (*range(0x20, 0x7F), *range(0xA1, 0x180), 0x2026)))


@dataclass(frozen=True)
class Plate:
    """A piece of text ready to be blended: its light times its opacity, and what shows through.

    ``ink`` and ``through`` [shape=(H, W, 3)] are uint8.
    """

    ink: Picture
    through: Picture

    @property
    def width(self) -> int:
        """Width, px."""
        return int(self.ink.shape[1])

    @property
    def height(self) -> int:
        """Height, px."""
        return int(self.ink.shape[0])


@lru_cache(maxsize=32)
def font(size_px: int, bold: bool = True) -> ImageFont.FreeTypeFont:
    """Return the font at `size_px`."""
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(_font_file(name)), size_px)


@lru_cache(maxsize=2)
def _font_file(name: str) -> Path:
    """Return a font's file without loading matplotlib, which figures alone need."""
    found = find_spec("matplotlib")
    assert found is not None and found.origin is not None
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / name


@lru_cache(maxsize=1)
def _known_letters() -> frozenset[int]:
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(str(_font_file("DejaVuSans-Bold.ttf"))).get_charmap())


def can_set(text: str) -> bool:
    """Tell whether the font has every letter of `text`."""
    return all(letter in USUAL or ord(letter) in _known_letters() for letter in text)


def wrap(text: str, size_px: int, width_px: int) -> list[str]:
    """Break `text` into lines no wider than `width_px` where words allow."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font(size_px).getlength(longer) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


@lru_cache(maxsize=768)
def plate(
    text: str,
    size_px: int,
    *,
    colour: Bgr = PAPER,
    ground: Bgr = INK,
    opacity: float = 0.8,
    sign: str = "",
    width_px: int = 0,
) -> Plate:
    """Set `text` on a rounded plate.

    Parameters
    ----------
    text : str
    size_px : int
        Font size, px.
    colour, ground : (int, int, int)
    opacity : float
        Of the plate; the letters are always opaque.
    sign : str
        ``"warn"`` puts a triangle, ``"slow"`` a clock before the text: said without colour too.
    width_px : int
        Longest line, px; 0 for a single line.
    """
    lines = wrap(text, size_px, width_px) if width_px else [text]
    face = font(size_px)
    pad_x, pad_y = round(0.5 * size_px), round(0.28 * size_px)
    step = round(1.22 * size_px)
    lead = round(1.25 * size_px) if sign else 0
    wide = max((int(np.ceil(face.getlength(line))) for line in lines), default=0)
    size = (wide + lead + 2 * pad_x, step * max(1, len(lines)) + 2 * pad_y)
    picture = Image.new("RGBA", size, (0, 0, 0, 0))
    draw = ImageDraw.Draw(picture)
    box = (0, 0, size[0] - 1, size[1] - 1)
    draw.rounded_rectangle(box, round(0.3 * size_px), (*ground, round(255 * opacity)))
    if sign:
        _draw_sign(draw, sign, pad_x, pad_y + 0.5 * step, size_px, colour, ground)
    for row, line in enumerate(lines):
        at = (pad_x + lead, pad_y + (row + 0.5) * step)
        draw.text(at, line, font=face, fill=(*colour, 255), anchor="lm")
    return _ready(np.asarray(picture))


def _draw_sign(
    draw: Any, sign: str, left: float, middle: float, size: float, colour: Bgr, ground: Bgr
) -> None:
    width = 0.95 * size
    fill, line = (*colour, 255), max(2, round(0.1 * size))
    if sign == "warn":
        top, bottom = middle - 0.45 * size, middle + 0.4 * size
        draw.polygon([(left, bottom), (left + width, bottom), (left + width / 2, top)], fill)
        face = font(max(6, round(0.62 * size)))
        centre = (left + width / 2, middle + 0.1 * size)
        draw.text(centre, "!", font=face, fill=(*ground, 255), anchor="mm")
        return
    radius = 0.44 * size
    centre_x = left + radius
    ring = (centre_x - radius, middle - radius, centre_x + radius, middle + radius)
    draw.ellipse(ring, outline=fill, width=line)
    draw.line([(centre_x, middle - 0.6 * radius), (centre_x, middle)], fill, line)
    draw.line([(centre_x, middle), (centre_x + 0.5 * radius, middle)], fill, line)


def _ready(rgba: Picture) -> Plate:
    alpha = rgba[..., 3:].astype(np.uint16)
    ink = (rgba[..., :3].astype(np.uint16) * alpha + 127) // 255
    through = np.broadcast_to(255 - alpha, ink.shape)
    return Plate(
        np.ascontiguousarray(ink.astype(np.uint8)), np.ascontiguousarray(through.astype(np.uint8))
    )


def blend(frame: Picture, what: Plate, left: float, top: float) -> tuple[int, int, int, int]:
    """Blend a plate into `frame`, moved inside when it would stick out; return its box.

    The box is left, top, right, bottom, px.
    """
    high, wide = frame.shape[:2]
    x0 = int(min(max(0, round(left)), max(0, wide - what.width)))
    y0 = int(min(max(0, round(top)), max(0, high - what.height)))
    x1, y1 = min(wide, x0 + what.width), min(high, y0 + what.height)
    ink, through = what.ink[: y1 - y0, : x1 - x0], what.through[: y1 - y0, : x1 - x0]
    part = frame[y0:y1, x0:x1]
    part[:] = cv2.add(cv2.multiply(part, through, scale=1 / 255), ink)
    return x0, y0, x1, y1
