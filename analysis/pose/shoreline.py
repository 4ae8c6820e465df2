"""How far the camera is rolled, told by what lies level far off: a shore, waves, a hedge.

A boat goes along with no room around it, but what is far away lies near the horizon, and there a
level edge looks level however the camera is turned towards it. Near ones, such as the boat, do not.
"""

from __future__ import annotations

import math

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.straight_edges import Edges, level_leans

#: Edges within this of the picture's level may be level, and shorter ones say little, picture
#: widths.
MAX_LEAN_DEG, MIN_LENGTH_SHARE = 12.0, 0.03
#: Edges within this of a lean agree with it.
AGREE_DEG = 1.0
#: In each picture the agreeing edges must be this long, in picture widths, and this share of all.
MIN_TOTAL_WIDTHS, MIN_AGREEING_SHARE = 0.07, 0.25
#: Banks are not straight, and climb.
SE_DEG = 0.8


def shore_lean(edges: Edges, above_y_share: float) -> tuple[float, float]:
    """Combine far level edges into one lean.

    Parameters
    ----------
    edges : Edges
    above_y_share : float
        Only edges above this place count, 0 (top) … 1: the middle of the athlete's trunk, which
        is lower than the camera and higher than the boat.

    Returns
    -------
    tilt_deg, se_deg : float
        + clockwise, as for uprights; NaN when there is no witness.
    """
    ends, (width, height) = edges.ends_px, edges.size_px
    lean, length_px = level_leans(ends)
    length = length_px / width
    use = (np.abs(lean) <= MAX_LEAN_DEG) & (length >= MIN_LENGTH_SHARE)
    use &= (ends[:, 1] + ends[:, 3]) / 2 < above_y_share * height
    lean, length = lean[use], length[use]
    if len(lean) == 0:
        return math.nan, math.nan
    about = _agreement(lean, length)
    agree = np.abs(lean - about) <= AGREE_DEG
    total = float(length[agree].sum())
    if total < max(MIN_TOTAL_WIDTHS * edges.pictures, MIN_AGREEING_SHARE * float(length.sum())):
        return math.nan, math.nan
    return float(np.average(lean[agree], weights=length[agree])), SE_DEG


def _agreement(lean: FloatArray, length: FloatArray) -> float:
    """Lean on which most edge length lies."""
    # Of very many edges, as of waves, the longest stand for all.
    tried = lean[np.argsort(-length)[:200]]
    rest = (lean[None, :] - tried[:, None]) / AGREE_DEG
    return float(tried[np.argmax(np.maximum(0.0, 1.0 - rest**2) @ length)])
