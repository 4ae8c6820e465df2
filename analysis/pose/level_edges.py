"""Level edges of the room and of machines, which tell how square-on the camera stands."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.lasting import LASTS_SHARE, found_in, lasting
from analysis.pose.straight_edges import Edges, level_leans

#: Edges within this of the picture's level may be level ones along the machine: a rolled camera's
#: by its roll, those far below or above a camera that stands aside by half as much again.
MAX_LEAN_DEG = 14.0
#: Shortest edge that counts, share of the picture's width.
MIN_LENGTH_SHARE = 0.04
#: So many are kept, the longest.
MOST = 100


def level_edges(edges: Edges) -> FloatArray:
    """Return nearly level edges that last [shape=(E, 4), px].

    Each is there once, as long as it was seen in any picture, the longest first.

    Parameters
    ----------
    edges : Edges
        Of a camera that is held.
    """
    at_rest_px, picture = edges.at_rest_px, edges.picture
    if at_rest_px is None or picture is None:
        return np.empty((0, 4))
    width = edges.size_px[0]
    lean_deg, length = level_leans(at_rest_px)
    use = (np.abs(lean_deg) <= MAX_LEAN_DEG) & (length >= MIN_LENGTH_SHARE * width)
    ends, off_px = at_rest_px[use], LASTS_SHARE * width
    lasts = lasting(ends, picture[use], edges.pictures, off_px)
    ends = ends[lasts][np.argsort(-length[use][lasts], kind="stable")]
    kept: list[FloatArray] = []
    while len(ends) and len(kept) < MOST:
        kept.append(ends[0])
        ends = ends[1:][~found_in(ends[:1], ends[1:], off_px)]
    return np.array(kept).reshape(-1, 4)
