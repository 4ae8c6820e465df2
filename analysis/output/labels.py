"""Whose clip it is, and the sign that the picture is slowed."""

from __future__ import annotations

from analysis.output.moment import Moment
from analysis.output.text import Picture, blend, can_set, plate


class Labels:
    """Draws the clip's title (a note takes its place) and the slow sign at the top right.

    Parameters
    ----------
    title : str
        Left out when the font lacks one of its letters: no boxes instead of a name.
    """

    def __init__(self, title: str) -> None:
        shown = title if len(title) <= 40 else title[:39] + "…"
        self._title = shown if can_set(shown) else ""

    def draw(self, frame_bgr: Picture, moment: Moment) -> None:
        """Draw onto `frame_bgr` in place."""
        unit, edge = moment.unit, 12 * moment.unit
        if self._title and not moment.notes:
            blend(frame_bgr, plate(self._title, round(22 * unit), opacity=0.6), edge, edge)
        if moment.slowed > 1.0:
            sign = plate(
                moment.text("clip.slower", times=f"{moment.slowed:g}"),
                round(27 * unit),
                sign="slow",
            )
            blend(frame_bgr, sign, frame_bgr.shape[1] - sign.width - edge, edge)
