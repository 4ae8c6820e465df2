"""A picture of where to put the phone: from above and from the side, drawn by hand in lines."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.result import QualityPoint

#: Points of the filming check that another place of the phone puts right.
ABOUT_PLACE = ("side_on", "level", "in_frame", "size", "steady")

#: The picture in one sentence.
PHONE_PLACE = (
    "Put the phone four to six metres away, square to the side, chest high, level and still, "
    "with the whole athlete in the picture."
)

_ATHLETE_ABOVE = (
    '<rect x="92" y="40" width="116" height="6" rx="3"/>'
    '<circle cx="128" cy="43" r="9"/><path d="M128 36 L172 38 M128 50 L172 48"/>'
    '<rect x="188" y="36" width="8" height="14"/>'
)
_ATHLETE_SIDE = (
    '<path d="M306 118 H422"/><path d="M404 118 L412 98"/>'
    '<circle cx="345" cy="56" r="8"/>'
    '<path d="M340 106 L345 66 M340 106 L376 92 L404 108 M345 70 L372 80 L396 78"/>'
)


def picture_for(points: Iterable[QualityPoint]) -> str:
    """Return the picture when another place of the phone would put something right, else ''."""
    wrong = any(point.key in ABOUT_PLACE and point.level != "good" for point in points)
    return phone_place_svg() if wrong else ""


def phone_place_svg() -> str:
    """Return an inline SVG that takes the page's ink colour; no script, nothing loaded."""
    return (
        '<svg viewBox="0 0 470 220" width="470" role="img" class="phone-place" '
        f'lang="en" aria-label="{PHONE_PLACE}" xmlns="http://www.w3.org/2000/svg">'
        '<g fill="none" stroke="currentColor" stroke-width="2.5" stroke-linecap="round" '
        'stroke-linejoin="round">'
        + _ATHLETE_ABOVE
        + '<path d="M150 56 V168" stroke-dasharray="3 6"/><path d="M150 66 h10 v-10"/>'
        '<rect x="138" y="170" width="24" height="7" rx="2"/>'
        '<path d="M142 168 L84 34 M158 168 L216 34" stroke-width="1" stroke-dasharray="2 4"/>'
        + _ATHLETE_SIDE
        + '<path d="M286 78 H452" stroke-dasharray="3 6"/>'
        '<rect x="362" y="142" width="44" height="26" rx="4"/><path d="M384 168 V196 M370 200 '
        'L384 180 L398 200"/><path d="M370 150 h28 v10 h-28 z" stroke-width="1"/></g>'
        '<g fill="currentColor" font-size="12" text-anchor="middle" font-family="inherit">'
        '<text x="150" y="18">from above</text><text x="212" y="122">4 to 6 m</text>'
        '<text x="150" y="196">phone</text><text x="370" y="18">from the side</text>'
        '<text x="370" y="216">phone level, chest high, on something firm</text></g></svg>'
    )
