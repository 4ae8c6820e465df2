"""The colours of everything that is drawn, chosen to survive colour blindness.

On video each colour lies on a dark casing or plate. Legs, body and arms also differ in
lightness, so they stay apart in grey; and no meaning hangs on colour alone (shape, dash, sign or
word goes with it). The pages keep their own pairs for light and dark in ``static/page.css``.
"""

from __future__ import annotations

#: Blue, green, red, 0…255: pictures are drawn on in OpenCV's order, which is coded sooner too.
Bgr = tuple[int, int, int]

INK: Bgr = (33, 24, 14)
PAPER: Bgr = (240, 247, 250)
LEGS: Bgr = (255, 156, 72)
BODY: Bgr = (58, 190, 255)
ARMS: Bgr = (236, 240, 236)
VERTICAL: Bgr = (240, 247, 250)
ALERT: Bgr = (87, 200, 255)


def relative_luminance(colour: Bgr) -> float:
    """Return the WCAG relative luminance of an sRGB `colour`, 0 (black) … 1 (white)."""
    blue, green, red = (linear(v) for v in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def linear(value: float) -> float:
    """Return linear light 0…1 of an sRGB channel 0…255 (IEC 61966-2-1, as WCAG uses it)."""
    v = value / 255.0
    return float(v / 12.92) if v <= 0.04045 else float(((v + 0.055) / 1.055) ** 2.4)


def contrast(one: Bgr, other: Bgr) -> float:
    """Return the WCAG contrast ratio of two colours, 1 … 21."""
    low, high = sorted((relative_luminance(one), relative_luminance(other)))
    return (high + 0.05) / (low + 0.05)
