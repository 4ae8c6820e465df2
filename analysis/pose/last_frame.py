"""The frame before this one, and how far a model saw points move since: where followers begin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray

Picture = NDArray[np.uint8]


class LastFrame:
    """Remembers the last picture, and where points were seen in the last two frames."""

    def __init__(self) -> None:
        self._picture: Picture | None = None
        self._points: list[FloatArray] = []

    def passed(self, picture: Picture, points: FloatArray) -> tuple[Picture | None, FloatArray]:
        """Return the last picture, and about how far points were from here in it.

        Parameters
        ----------
        picture : array [shape=(H, W)]
            This frame, which is the last one from now on.
        points : array [shape=(P, 2)]
            Where a model sees them in this frame, px; NaN where it does not.

        Returns
        -------
        picture : array [shape=(H, W)] or None
            None in the first frame.
        back : array [shape=(P, 2)]
            From here to there, px; 0 where nobody knows.
        """
        before, self._picture = self._picture, picture
        earlier, self._points = self._points, [*self._points[-1:], points]
        if not earlier:
            return None, np.zeros_like(points)
        # The models take turns and see a point in slightly different places: of the last frame but
        # one it is the same model's.
        return before, np.nan_to_num(earlier[0] - points) / len(earlier)
