"""How limbs turn from one frame to the next, followed in the picture itself.

A landmark is found anew in every frame, and with it its limb wanders by some degrees within a third
of a second. The limb's own picture goes along with it: laid over the frame before, it tells its
turn to a part of a degree. Along a sleeve little is to be seen, across it much, and what lies
across is what a turn moves: so a limb's strip of picture is laid over as a whole, not point by
point (Gauss–Newton on its brightness; what differs most, as a hand that passes, counts least).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.pose.last_frame import LastFrame, Picture
from analysis.pose.track import LIMB_ENDS, LIMBS

#: From where to where a strip goes along its limb, and how far to each side, in the limb's lengths.
#: The hand is a part of the forearm here; near shoulder, hip and foot a limb's picture is not only
#: its own.
_STRIPS = np.array(
    [
        {
            "upper_arm": (0.15, 1.0, 0.22),
            "forearm": (0.0, 1.15, 0.21),
            "thigh": (0.2, 0.95, 0.22),
            "shank": (0.05, 0.9, 0.2),
        }[name]
        for name in LIMBS
    ]
)
#: Samples of a strip along and across, in halves of its length and of its width.
_ALONG, _ACROSS = np.linspace(-1.0, 1.0, 32), np.linspace(-1.0, 1.0, 14)
#: What lies at a strip's edge counts less: it may be the room's.
_COUNTS = np.repeat(np.exp(-0.5 * (_ACROSS / 0.8) ** 2), len(_ALONG)).astype(np.float32)
#: A limb shorter than this is not followed, px.
_LEAST_PX = 8.0
#: Room around the joints for what moves, in lengths of the longest limb.
_ROOM = 0.5
#: Blur before the pictures are compared, px: they must differ smoothly.
_BLUR_PX = 1.5
#: Rounds at most, and the step at the strip's end that ends them, px.
_ROUNDS, _SMALL_STEP_PX = 6, 0.12
#: Grey levels by which pictures differ without anything having moved.
_NOISE = 1.0
#: A strip found further off than this, in limb lengths, has slid onto something else.
_SLID = 0.12
#: A turn less certain than this is not told, degrees.
_MOST_SE_DEG = 0.7

_SAMPLED = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP


class LimbFollower:
    """Follows the near limbs through one section of a clip, frame by frame.

    Parameters
    ----------
    scale : float
        Its pictures are so many times as large as the clip's.
    """

    def __init__(self, scale: float) -> None:
        self._scale = scale
        self._last = LastFrame()
        self._moved = np.full((len(LIMBS), 3), np.nan)

    def turned_deg(self, picture: Picture, joints: FloatArray) -> FloatArray:
        """Return how far limbs turned since the last frame.

        Parameters
        ----------
        picture : array [shape=(H, W)]
            The frame's brightness.
        joints : array [shape=(J, 2)]
            Where a model sees the near ``LIMB_JOINTS``, px of the clip's frame; NaN where it does
            not.

        Returns
        -------
        array [shape=(N,)]
            Degrees, + clockwise in the picture, in the order of ``LIMBS``; NaN where it cannot be
            told, and in the first frame.
        """
        before, back = self._last.passed(picture, joints)
        if before is None:
            return np.full(len(LIMBS), np.nan)
        then = joints + back
        self._moved = _moved(picture, before, joints * self._scale, then * self._scale, self._moved)
        return np.asarray(np.degrees(self._moved[:, 2]))


@dataclass(frozen=True)
class _Strips:
    """N strips of picture: middle and direction [shape=(N, 2)], half length, half width [(N,)].

    In px; the direction has length 1.
    """

    middle: FloatArray
    along: FloatArray
    half_long: FloatArray
    half_wide: FloatArray

    @property
    def across(self) -> FloatArray:
        """Direction across [shape=(N, 2)], clockwise of the one along."""
        return np.stack([-self.along[:, 1], self.along[:, 0]], axis=1)

    def back(self, moved: FloatArray) -> _Strips:
        """Return them where they were before they shifted and turned [shape=(N, 3), px, radians].

        Where that is NaN they stay.
        """
        known = np.nan_to_num(moved)
        cos, sin = np.cos(known[:, 2:]), np.sin(known[:, 2:])
        along = cos * self.along - sin * self.across
        return replace(self, middle=self.middle - known[:, :2], along=along)

    def on(self, corner: FloatArray) -> _Strips:
        """Return them in a part of the picture that begins at `corner` [shape=(2,)]."""
        return replace(self, middle=self.middle - corner)

    def moved(self, step: FloatArray) -> _Strips:
        """Return them shifted along and across and turned [shape=(N, 3), px at a strip's end]."""
        across = self.across
        along = self.along + (step[:, 2] / self.half_long)[:, None] * across
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        middle = self.middle + step[:, :1] * self.along + step[:, 1:2] * across
        return replace(self, middle=middle, along=along)


def _moved(
    now: Picture, then: Picture, at: FloatArray, was_at: FloatArray, last: FloatArray
) -> FloatArray:
    """Return how far limbs shifted and turned [shape=(N, 3), px and radians], NaN where not told.

    Their joints are `at`, and were about `was_at` [shape=(J, 2), px]: looked for is where they were
    if they moved as in the frame before, `last`, where that is known; a landmark is further off.
    """
    moved = np.full((len(LIMBS), 3), np.nan)
    seen = _followable(at, was_at, now.shape)
    if not seen.any():
        return moved
    joints, strips, last = LIMB_ENDS[seen], _STRIPS[seen], last[seen]
    ends, were = at[joints], was_at[joints]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    here, there = _laid(ends, strips, length), _laid(were, strips, length)
    there = _chosen(np.isfinite(last[:, :1]), here.back(last), there)
    part, corner = _around(np.concatenate([ends, were]).reshape(-1, 2), length.max(), now.shape)
    a, b = (
        cv2.GaussianBlur(each[part], (5, 5), _BLUR_PX).astype(np.float32) for each in (now, then)
    )
    found, se = _laid_over(a, b, here.on(corner), there.on(corner))
    found = found.on(-corner)
    off = np.linalg.norm(found.middle - there.middle, axis=1)
    told = (off < _SLID * length) & (np.degrees(se) < _MOST_SE_DEG)
    turn = _direction(here.along) - _direction(found.along)
    turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
    moved[seen] = np.where(
        told[:, None], np.column_stack([here.middle - found.middle, turn]), np.nan
    )
    return moved


def _chosen(where: BoolArray, one: _Strips, other: _Strips) -> _Strips:
    """Return the `one` strips where told [shape=(N, 1)], else the `other`."""
    middle = np.where(where, one.middle, other.middle)
    return replace(other, middle=middle, along=np.where(where, one.along, other.along))


def _followable(at: FloatArray, was_at: FloatArray, shape: tuple[int, ...]) -> BoolArray:
    """Tell which limbs are long enough, and have their middle in the picture [shape=(N,)]."""
    middle = at[LIMB_ENDS].mean(axis=1)
    with np.errstate(invalid="ignore"):
        long = [
            np.linalg.norm(joints[LIMB_ENDS[:, 1]] - joints[LIMB_ENDS[:, 0]], axis=1) > _LEAST_PX
            for joints in (at, was_at)
        ]
        within = ((middle > 0) & (middle < np.array(shape[1::-1]) - 1)).all(axis=1)
    return np.asarray(long[0] & long[1] & within)


def _laid(ends: FloatArray, strips: FloatArray, length: FloatArray) -> _Strips:
    """Lay strips on limbs with given ends [shape=(N, 2, 2)], of given `length` [shape=(N,)]."""
    low, high, aside = strips.T
    way = ends[:, 1] - ends[:, 0]
    along = way / np.linalg.norm(way, axis=1, keepdims=True)
    # About the middle of the limb: of two frames one length is taken for both.
    middle = ends.mean(axis=1) + ((low + high - 1.0) / 2.0 * length)[:, None] * along
    return _Strips(middle, along, (high - low) / 2.0 * length, aside * length)


def _around(
    points: FloatArray, length: float, shape: tuple[int, ...]
) -> tuple[tuple[slice, slice], FloatArray]:
    """Return the part of a picture around points [shape=(M, 2), px], and its corner (x, y)."""
    low = np.maximum(np.floor(points.min(axis=0) - _ROOM * length), 0).astype(int)
    high = np.ceil(points.max(axis=0) + _ROOM * length).astype(int) + 1
    return np.s_[low[1] : high[1], low[0] : high[0]], low.astype(float)


def _direction(along: FloatArray) -> FloatArray:
    return np.asarray(np.arctan2(along[:, 1], along[:, 0]))


def _laid_over(
    now: NDArray[np.float32], then: NDArray[np.float32], here: _Strips, guess: _Strips
) -> tuple[_Strips, FloatArray]:
    """Return where strips of one picture lie in another, and the error of their turn, radians."""
    wanted = _cut(now, here)
    slopes = _slopes(wanted, here)
    found = guess
    for _ in range(_ROUNDS):
        off = _cut(then, found) - wanted
        spread = _NOISE + _usual(off)
        # Geman and McClure's way: what is far off has hardly a say.
        counts = _COUNTS / (1.0 + (off / (2.0 * spread)) ** 2) ** 2
        weighed = slopes * counts[..., None]
        squares = (np.swapaxes(weighed, 1, 2) @ slopes).astype(float) + 1e-2 * np.eye(4)
        right = (np.swapaxes(weighed, 1, 2) @ off[..., None]).astype(float)
        step = np.asarray(np.linalg.solve(squares, right)[..., 0], np.float64)
        # So moved, the strip of now looks like that of then: where it is then, it is undone.
        found = found.moved(-step[:, :3])
        if np.abs(step[:, :3]).max() < _SMALL_STEP_PX:
            break
    se = spread[:, 0] * np.sqrt(np.linalg.inv(squares)[:, 2, 2]) / here.half_long
    return found, np.asarray(se)


def _cut(picture: NDArray[np.float32], strips: _Strips) -> NDArray[np.float32]:
    """Return the picture along strips [shape=(N, across · along)]."""
    right = strips.along * strips.half_long[:, None]
    down = strips.across * strips.half_wide[:, None]
    step_right, step_down = 2.0 / (len(_ALONG) - 1), 2.0 / (len(_ACROSS) - 1)
    corner = strips.middle - right - down
    places = np.stack([right * step_right, down * step_down, corner], axis=2)
    out = np.empty((len(places), len(_ACROSS), len(_ALONG)), np.float32)
    for place, one in zip(places, out, strict=True):
        cv2.warpAffine(picture, place, one.shape[::-1], one, _SAMPLED, cv2.BORDER_REPLICATE)
    return out.reshape(len(out), -1)


def _slopes(wanted: NDArray[np.float32], strips: _Strips) -> NDArray[np.float32]:
    """Return by how much each sample changes [shape=(N, across · along, 4)].

    Per px at the strip's end: of a shift along, a shift across, a turn, and a stretch along, which
    a limb that comes out of the plane has.
    """
    picture = wanted.reshape(-1, len(_ACROSS), len(_ALONG))
    long, wide = strips.half_long[:, None, None], strips.half_wide[:, None, None]
    along = np.gradient(picture, axis=2) * (len(_ALONG) - 1) / (2.0 * long)
    across = np.gradient(picture, axis=1) * (len(_ACROSS) - 1) / (2.0 * wide)
    turn = across * _ALONG - along * _ACROSS[:, None] * (wide / long)
    slopes = np.stack([along, across, turn, along * _ALONG], axis=-1)
    return slopes.reshape(len(wanted), -1, 4).astype(np.float32)


def _usual(off: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the robust spread of rows of differences [shape=(N, 1)], of every third one."""
    size = np.abs(off[:, ::3])
    middle = size.shape[1] // 2
    size.partition(middle, axis=1)
    return np.asarray(1.4826 * size[:, middle : middle + 1], np.float32)
