"""One frame of a clip: its time, and its picture turned upright."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

Rgb = NDArray[np.uint8]

#: Two times are those of the same frame when they differ by less, s.
SAME_TIME_S = 0.002


@dataclass(frozen=True)
class Upright:
    """How a stored picture becomes the upright one: swap axes, then mirror rows and columns.

    `width_px`, `height_px` are the size of the stored picture with square pixels.
    """

    width_px: int
    height_px: int
    swap: bool = False
    mirror_x: bool = False
    mirror_y: bool = False

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the upright picture."""
        if self.swap:
            return self.height_px, self.width_px
        return self.width_px, self.height_px

    @property
    def rotation_deg(self) -> int:
        """Clockwise turn that is applied: 0, 90, 180 or 270 (a mirror image counts as its turn)."""
        if self.swap:
            return 270 if self.mirror_y else 90
        return 180 if self.mirror_y else 0

    def apply(self, stored: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Turn a stored picture [shape=(H, W) or (H, W, 3)] upright; a view, not a copy."""
        picture = np.swapaxes(stored, 0, 1) if self.swap else stored
        if self.mirror_x:
            picture = picture[:, ::-1]
        return picture[::-1] if self.mirror_y else picture


@dataclass(frozen=True)
class Frame:
    """One shown frame.

    Attributes
    ----------
    index : int
        Count from the first frame given out, 0, 1, 2, …
    t_s : float
        Presentation time from the clip's first shown frame, s.
    """

    index: int
    t_s: float
    picture: av.VideoFrame
    upright: Upright

    @cached_property
    def rgb(self) -> Rgb:
        """The upright full-size picture [shape=(H, W, 3), uint8]; converted at first use."""
        return self.scaled(*self.upright.size_px)

    def scaled(self, width_px: int, height_px: int) -> Rgb:
        """Return the upright picture at another size [shape=(height_px, width_px, 3), uint8]."""
        return self._converted(width_px, height_px, "rgb24")

    def bgr(self, width_px: int, height_px: int) -> NDArray[np.uint8]:
        """Return the same with blue first [shape=(height_px, width_px, 3), uint8]."""
        return self._converted(width_px, height_px, "bgr24")

    def luma(self, width_px: int, height_px: int) -> NDArray[np.uint8]:
        """Return the brightness alone [shape=(height_px, width_px), uint8, 0 black]."""
        return self._converted(width_px, height_px, "gray")

    def _converted(self, width_px: int, height_px: int, pixels: str) -> NDArray[np.uint8]:
        stored = (height_px, width_px) if self.upright.swap else (width_px, height_px)
        smaller = stored[0] < self.picture.width
        converted = self.picture.reformat(
            width=stored[0],
            height=stored[1],
            format=pixels,
            interpolation="AREA" if smaller else "BILINEAR",
            # Threads started for so small a task wait longer for each other than they work.
            threads=1,
        )
        return np.ascontiguousarray(
            self.upright.apply(np.asarray(converted.to_ndarray(), np.uint8))
        )


def orientation(stream: Any, picture: Any) -> Upright:
    """Read turn, mirror and pixel shape from the first picture."""
    width, height = picture.width, picture.height
    aspect = stream.sample_aspect_ratio
    if aspect and abs(float(aspect) - 1.0) > 0.005 and 0.25 < float(aspect) < 4.0:
        width = round(width * float(aspect))
    matrix = _display_matrix(picture)
    if matrix is None:
        return Upright(width, height)
    # x' = a·x + c·y, y' = b·x + d·y with (a b; c d) the matrix's upper left corner.
    (a, b), (c, d) = matrix[:2, :2]
    if abs(a) + abs(d) >= abs(b) + abs(c):
        return Upright(width, height, mirror_x=bool(a < 0), mirror_y=bool(d < 0))
    return Upright(width, height, swap=True, mirror_x=bool(c < 0), mirror_y=bool(b < 0))


def _display_matrix(picture: Any) -> NDArray[np.float64] | None:
    """Return the picture's display matrix [shape=(3, 3)], None when it has none."""
    for side in picture.side_data:
        if side.type.name == "DISPLAYMATRIX":
            values = np.frombuffer(bytes(side), np.int32).astype(np.float64)
            if values.size == 9 and np.any(values[[0, 1, 3, 4]]):
                return values.reshape(3, 3)
    return None
