"""The handle's path: where the fit has the hand, moving as the hand's own picture shows.

A fitted wrist is right on the whole and wanders by a centimetre within a few frames, which near
the catch is a 30th of a second. The picture of the hand tells its movement from frame to frame far
better, and nothing of its place. The path goes along with the picture, and with the fit in the
long run.
"""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.filters import median_of_known
from analysis.motion.long_run import joined
from analysis.motion.motion import JOINTS

#: The grip is this far beyond the wrist, in forearms: so hands are as high at the release, and as
#: far from the body, as in rendered clips of known truth.
_GRIP = 0.15
#: The path follows the picture within this time, and the fit over longer ones, s.
_LONG_RUN_S = 0.7
#: Fewest points of the hand that must agree.
_LEAST_POINTS = 4
#: A point that moves otherwise than the fit by more than this, in forearms, or by this share of
#: its way, is of something else: of the room, of a knee that passes.
_OTHERWISE, _OTHERWISE_SHARE = 0.05, 0.5
#: Of the others about this share are taken for the hand's own, those least like the room.
_OF_THE_HAND = 0.5
#: Where the picture tells nothing, the fit's own movement counts this share of the picture's.
_FIT_INSTEAD = 0.2
#: Frames worked on at once: a clip may be long.
_BLOCK = 500


def grip(joints: FloatArray) -> FloatArray:
    """Return where the hand holds the handle [shape=(T, 2)], of joints [shape=(T, J, 2)]."""
    wrist, elbow = (joints[:, JOINTS.index(name)] for name in ("wrist", "elbow"))
    return np.asarray(wrist + _GRIP * (wrist - elbow))


def handle_path(
    t_s: FloatArray,
    hand: FloatArray,
    hand_px: FloatArray,
    px_of_place: FloatArray,
    moved_px: FloatArray,
    room_px: FloatArray,
    forearm_px: float,
) -> FloatArray:
    """Return the handle's path in the athlete's frame.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    hand : array [shape=(T, 2)]
        Fitted place of the hand in the athlete's frame, px; NaN stays NaN.
    hand_px : array [shape=(T, 2)]
        The same in the picture.
    px_of_place : array [shape=(T, 2, 2)]
        By how much a place's picture moves [row: x, y] when it moves by 1 [column: x, y].
    moved_px : array [shape=(T, P, 2)]
        How far points of the hand came since the frame before, px of the picture.
    room_px : array [shape=(T, 2)]
        Movement of the room in the picture since the first frame: zeros with a still camera.
    forearm_px : float

    Returns
    -------
    array [shape=(T, 2)]
        px.
    """
    by_fit_px = np.diff(hand_px, axis=0)
    by_room_px = np.diff(room_px, axis=0)
    parts = [slice(start, start + _BLOCK) for start in range(0, len(by_fit_px), _BLOCK)]
    seen_px = np.concatenate(
        [np.zeros((0, 2))]
        + [_moved_together(moved_px[1:][k], by_fit_px[k], by_room_px[k], forearm_px) for k in parts]
    )
    told = np.isfinite(seen_px).all(axis=1)
    more = np.zeros_like(seen_px)
    more[told] = np.linalg.solve(px_of_place[1:][told], (seen_px - by_fit_px)[told, :, None])[
        ..., 0
    ]
    steps = np.diff(hand, axis=0) + more
    weight = np.where(told, 1.0, _FIT_INSTEAD)
    return np.column_stack(
        [joined(t_s, hand[:, k], steps[:, k], weight, _LONG_RUN_S) for k in (0, 1)]
    )


def _moved_together(
    moved_px: FloatArray, by_fit_px: FloatArray, room_px: FloatArray, forearm_px: float
) -> FloatArray:
    """Return how far the hand came [shape=(T − 1, 2), px]; NaN where its picture does not tell.

    The median over those points that go along with the fit, and of these over the part that
    stands out most from how the room moves [shape=(T − 1, 2)]: at a hand's edge the room shows.
    """
    way = np.linalg.norm(by_fit_px, axis=1)
    most = np.maximum(_OTHERWISE * forearm_px, _OTHERWISE_SHARE * way)
    with np.errstate(invalid="ignore"):
        along = np.linalg.norm(moved_px - by_fit_px[:, None], axis=2) < most[:, None]
    away = np.where(along, np.linalg.norm(moved_px - room_px[:, None], axis=2), -1.0)
    count = along.sum(axis=1)
    rank = (-away).argsort(axis=1, kind="stable").argsort(axis=1, kind="stable")
    of_the_hand = along & (rank < np.maximum(np.rint(_OF_THE_HAND * count), 3)[:, None])
    kept = np.where(of_the_hand[..., None], moved_px, np.nan)
    middle = median_of_known(np.swapaxes(kept, 0, 1))
    middle[count < _LEAST_POINTS] = np.nan
    return middle
