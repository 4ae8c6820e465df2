"""The square crop that follows the athlete."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.checks import FloatArray, IntArray
from analysis.pose.linking import PersonTrack
from analysis.pose.people import TORSO, trunk_length

#: Left, top and side of a crop, px of the full picture.
Square = tuple[float, float, float]

#: The crop holds every place that the athlete's box has within this time either way: most of a
#: stroke, so layback and outstretched arms fit without the crop moving to and fro with them.
REACH_S = 1.5
#: Room around that, share of its larger side.
MARGIN = 0.15
#: The background is believed to jerk the athlete by at most this, in trunk lengths.
JERK = 0.4
#: Points below this do not widen the box.
MIN_SCORE = 0.3


@dataclass(frozen=True)
class Crops:
    """A square for every time: corner and side, px of the full picture."""

    t_s: FloatArray
    centre_px: FloatArray
    side_px: FloatArray

    def at(self, t_s: float) -> Square:
        """Return left, top and side at a time, px; ends are held."""
        side = float(np.interp(t_s, self.t_s, self.side_px))
        x, y = (float(np.interp(t_s, self.t_s, self.centre_px[:, k])) for k in (0, 1))
        return x - side / 2, y - side / 2, side


def plan_close(track: PersonTrack, t_s: FloatArray, shift_px: FloatArray) -> Crops:
    """Lay a square that goes along with the trunk, so that a small athlete fills it.

    Parameters
    ----------
    track : PersonTrack
        Seen at least once.
    t_s : array [shape=(T,)]
        Times of all frames, s.
    shift_px : array [shape=(T, 2)]
        Shift of the background since the first frame, px: between the frames looked at the
        athlete is jerked along with it.
    """
    seen = track.seen
    trunk = track.xy_px[:, TORSO].mean(axis=1)
    room = JERK * float(np.median([trunk_length(xy) for xy in track.xy_px[seen]]))
    trunk = _between(track.t_s, track.t_s[seen], trunk[seen])
    still = replace(
        track,
        box_px=track.box_px - np.tile(trunk, 2),
        xy_px=track.xy_px - trunk[:, None],
    )
    about = plan(still)
    looked = nearest_times(t_s, track.t_s)
    jerk = shift_px - _between(t_s, t_s[looked], shift_px[looked])
    centre = _between(t_s, track.t_s, trunk + about.centre_px) + np.clip(jerk, -room, room)
    return Crops(t_s, centre, np.interp(t_s, track.t_s, about.side_px))


def plan(track: PersonTrack, *, held: bool = False) -> Crops:
    """Lay a slowly moving square around a person's boxes and sure keypoints.

    Parameters
    ----------
    track : PersonTrack
        Seen at least once.
    held : bool
        The camera is held, and the person stays in one place: while they are not surely seen, for
        somebody covers them, they may be wherever they were before and after.
    """
    t_s = track.t_s
    sure = track.score[..., None] >= MIN_SCORE
    boxes = track.box_px
    # An unsure point is no limit on either side; fmin and fmax pass over NaN boxes.
    low = np.fmin(boxes[:, :2], np.where(sure, track.xy_px, np.inf).min(axis=1))
    high = np.fmax(boxes[:, 2:], np.where(sure, track.xy_px, -np.inf).max(axis=1))
    seen = track.seen
    if not seen.any():
        raise ValueError("plan: expected a track that is seen at least once")
    wide_low, wide_high = np.empty_like(low), np.empty_like(high)
    sure_at = np.flatnonzero(seen & ~track.unsure)
    for i, t in enumerate(t_s):
        within = np.abs(t_s - t) <= REACH_S
        near = seen & within
        if held:
            nearest = np.argsort(np.abs(t_s[sure_at] - t), kind="stable")
            near[sure_at[nearest[: within.sum()]]] = True
        if not near.any():
            near = np.zeros_like(seen)
            near[np.flatnonzero(seen)[np.argmin(np.abs(t_s[seen] - t))]] = True
        # Second to last, where there are enough: one stray box does not blow the crop up.
        wide_low[i] = _second(low[near], smallest=True)
        wide_high[i] = _second(high[near], smallest=False)
    side = (wide_high - wide_low).max(axis=1) * (1 + 2 * MARGIN)
    centre = (wide_low + wide_high) / 2
    return Crops(t_s, _smooth(t_s, centre), np.maximum(_smooth(t_s, side[:, None])[:, 0], 16.0))


def cut(picture: NDArray[np.uint8], square: Square, out_px: int) -> NDArray[np.uint8]:
    """Cut a square out of a picture and scale it; black beyond the picture's edge.

    Parameters
    ----------
    picture : array [shape=(H, W, 3), uint8]
    square : (left, top, side)
        px of `picture`, in pixel-edge coordinates (0 is the left edge of the first pixel).
    out_px : int
        Side of the result.
    """
    import cv2

    left, top, side = square
    scale = out_px / side
    if scale < 0.5:
        # Far larger than needed: average whole pixels first, so that none is skipped.
        return _cut_by_area(picture, square, out_px)
    matrix = np.array(
        [
            [scale, 0, -left * scale + 0.5 * scale - 0.5],
            [0, scale, -top * scale + 0.5 * scale - 0.5],
        ]
    )
    return np.asarray(cv2.warpAffine(picture, matrix, (out_px, out_px), flags=cv2.INTER_LINEAR))


def in_crop(xy_px: FloatArray, square: Square, out_px: int) -> FloatArray:
    """Return where points of a picture [shape=(…, 2), px] are in a crop of `out_px` a side."""
    left, top, side = square
    return np.asarray((xy_px - np.array([left, top])) * out_px / side)


def _cut_by_area(picture: NDArray[np.uint8], square: Square, out_px: int) -> NDArray[np.uint8]:
    import cv2

    factor = int(square[2] / out_px)
    height, width = picture.shape[:2]
    small = cv2.resize(
        picture[: height // factor * factor, : width // factor * factor],
        (width // factor, height // factor),
        interpolation=cv2.INTER_AREA,
    )
    left, top, side = (value / factor for value in square)
    return cut(np.asarray(small), (left, top, side), out_px)


def _between(t_s: FloatArray, known_s: FloatArray, values: FloatArray) -> FloatArray:
    """Values [shape=(S, 2)] at other times, by straight lines; ends are held."""
    return np.stack([np.interp(t_s, known_s, values[:, k]) for k in (0, 1)], axis=1)


def _second(values: FloatArray, *, smallest: bool) -> FloatArray:
    ordered = np.sort(values, axis=0)
    if not smallest:
        ordered = ordered[::-1]
    return np.asarray(ordered[1 if len(ordered) >= 6 else 0])


def nearest_times(known_s: FloatArray, t_s: FloatArray) -> IntArray:
    """Return for each time the index of the nearest known one [shape=(T,)]; of two, the earlier.

    `known_s` [shape=(S,)] increases. No table of all against all: a clip may be long.
    """
    after = np.clip(np.searchsorted(known_s, t_s), 1, max(len(known_s) - 1, 1))
    before = after - 1
    if len(known_s) == 1:
        return np.zeros(len(t_s), np.int64)
    closer = t_s - known_s[before] <= known_s[after] - t_s
    return np.asarray(np.where(closer, before, after), np.int64)


def _smooth(t_s: FloatArray, values: FloatArray) -> FloatArray:
    """Gaussian mean over time, 0.5 s wide."""
    out = np.empty_like(values)
    for i, t in enumerate(t_s):
        # Beyond eight widths nothing is left: 1e-14 of the weight.
        near = slice(*np.searchsorted(t_s, (t - 4.0, t + 4.0)))
        weight = np.exp(-0.5 * ((t_s[near] - t) / 0.5) ** 2)
        out[i] = weight @ values[near] / weight.sum()
    return out
