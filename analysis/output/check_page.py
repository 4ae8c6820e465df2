"""The page of a filming check: what to film better, and where to put the phone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.filming import Checked
from analysis.output.html import environment
from analysis.output.phone_place import picture_for
from analysis.output.places import plain_errors

#: Sign and word of a level: colour is never the only sign.
_SAID = {"good": ("✓", "good"), "fair": ("!", "fair"), "poor": ("✗", "poor")}


@dataclass(frozen=True)
class _Shown:
    """One clip on the page; ``points`` are (sign, point, word)."""

    checked: Checked
    points: tuple[tuple[str, object, str], ...]
    view: str
    picture: str


#: An oblique view that changes every angle by less is not worth a sentence, degrees.
TELLS_FROM_DEG = 0.5


def view_sentence(checked: Checked) -> str:
    """Return how square the camera stood and what that does to angles, in one sentence.

    Empty when the point on it says so already, and when it changes no angle that anybody sees.
    """
    if any(point.key == "side_on" and point.costs for point in checked.points):
        return ""
    if not math.isfinite(checked.yaw_deg):
        return "How square the camera stood cannot be told."
    if max(map(abs, checked.yaw_effects_deg.values())) < TELLS_FROM_DEG:
        return ""
    stood = f"The camera stood {abs(checked.yaw_deg):.0f}° off square"
    effects = ", ".join(
        f"{name} {off:+.1f}°".replace("-", "−") for name, off in checked.yaw_effects_deg.items()
    )
    return f"{stood}; before it is corrected for, that changes {effects}."


def render_check(checked: Sequence[Checked], problems: Sequence[tuple[str, str]]) -> str:
    """Return the HTML of the page.

    Parameters
    ----------
    checked : sequence of Checked
    problems : sequence of (file, why)
        Clips that could not be checked.
    """
    shown = []
    for one in checked:
        points = tuple((_SAID[p.level][0], p, _SAID[p.level][1]) for p in one.points)
        shown.append(_Shown(one, points, view_sentence(one), picture_for(one.points)))
    template = environment().get_template("check.html.j2")
    return template.render(shown=shown, problems=problems)


def write_check(
    checked: Sequence[Checked], problems: Sequence[tuple[str, str]], path: Path
) -> None:
    """Write the page; an earlier one is replaced when the new one is whole.

    Raises
    ------
    SideonError
        When it cannot be written there or the disk is full.
    """
    part = path.with_name(f".{path.name}.part")
    with plain_errors(path.parent):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            part.write_text(render_check(checked, problems), encoding="utf-8")
            part.replace(path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
