"""The colours of everything that is drawn, chosen to survive colour blindness.

On video each colour lies on a dark casing or plate. Legs, body and arms also differ in
lightness, so they stay apart in grey; and no meaning hangs on colour alone (shape, dash, sign or
word goes with it). The pages keep their own pairs for light and dark in ``static/page.css``.
"""

from __future__ import annotations

Rgb = tuple[int, int, int]

INK: Rgb = (14, 24, 33)
PAPER: Rgb = (250, 247, 240)
LEGS: Rgb = (72, 156, 255)
BODY: Rgb = (255, 190, 58)
ARMS: Rgb = (236, 240, 236)
VERTICAL: Rgb = (250, 247, 240)
ALERT: Rgb = (255, 200, 87)


def relative_luminance(colour: Rgb) -> float:
    """Return the WCAG relative luminance of an sRGB `colour`, 0 (black) … 1 (white)."""
    red, green, blue = (linear(v) for v in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def linear(value: float) -> float:
    """Return linear light 0…1 of an sRGB channel 0…255 (IEC 61966-2-1, as WCAG uses it)."""
    v = value / 255.0
    return float(v / 12.92) if v <= 0.04045 else float(((v + 0.055) / 1.055) ** 2.4)


def contrast(one: Rgb, other: Rgb) -> float:
    """Return the WCAG contrast ratio of two colours, 1 … 21."""
    low, high = sorted((relative_luminance(one), relative_luminance(other)))
    return (high + 0.05) / (low + 0.05)
