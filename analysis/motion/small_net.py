"""A small network that looks at pictures of one limb, laid along it, and tells how it lies in them.

Its weights are learned (``tests/accuracy/learn_looks.py``); here is only its arithmetic, which is
three convolutions and two sums.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from analysis.checks import FloatArray, require_shape

Weights = NDArray[np.float32]

#: From one place of each convolution's kernel to the next, down and along a picture.
STRIDES = (2, 1), (2, 2), (2, 2)
#: Brightness differing by much less than this is noise.
_NOISE = 4.0
#: A picture without any edge is not blown up to have some.
_LEAST_SCATTER = 0.05
#: Bends are told as so far from here, in such steps, degrees.
BEND_FROM_DEG, BEND_STEP_DEG = 120.0, 40.0


@dataclass(frozen=True)
class SmallNet:
    """What was learned.

    ``kernel_n`` [shape=(O, I, H, W)] and ``bias_n`` [shape=(O,)] of three convolutions;
    ``mixed`` [shape=(M, O · places)] and ``mixed_bias`` [shape=(M,)] of what is seen in a picture;
    ``told`` [shape=(M + 1,)] and ``told_bias`` [shape=()] of the mean of that, and of the bend.
    """

    kernel_1: Weights
    bias_1: Weights
    kernel_2: Weights
    bias_2: Weights
    kernel_3: Weights
    bias_3: Weights
    mixed: Weights
    mixed_bias: Weights
    told: Weights
    told_bias: Weights

    def __post_init__(self) -> None:
        """Refuse weights that do not fit each other."""
        size = len(self.mixed)
        require_shape("mixed_bias", self.mixed_bias, (size,))
        require_shape("told", self.told, (size + 1,))

    def seen(self, laid: FloatArray) -> Weights:
        """Return what is seen in each picture [shape=(K, M)].

        Of brightness across and along the limb [shape=(K, R, C)], 0 to 255.
        """
        found = steps_across(laid)[:, None]
        for kernel, bias, stride in zip(
            (self.kernel_1, self.kernel_2, self.kernel_3),
            (self.bias_1, self.bias_2, self.bias_3),
            STRIDES,
            strict=True,
        ):
            found = _convolved(found, kernel, bias, stride)
        mixed = found.reshape(len(found), -1) @ self.mixed.T + self.mixed_bias
        return np.asarray(np.maximum(mixed, 0.0))

    def off_deg(self, seen: Weights, bend_deg: float) -> float:
        """Return by how much the limb is to be turned, + clockwise of who faces right, degrees.

        By what is seen in pictures alike [shape=(K, M)], so bent on the mean.
        """
        bend = (bend_deg - BEND_FROM_DEG) / BEND_STEP_DEG
        return float(self.told @ np.append(seen.mean(axis=0), bend) + self.told_bias)


#: In the order in which they are kept.
PARTS = tuple(field.name for field in fields(SmallNet))


def steps_across(laid: FloatArray) -> Weights:
    """Return how brightness changes across the limb [shape=(K, R, C)], alike in any light.

    Large changes count as their logarithm does, so that a bright stripe does not drown an arm.
    """
    change = np.zeros(laid.shape, np.float32)
    change[:, 1:-1] = laid[:, 2:] - laid[:, :-2]
    change = np.sign(change) * np.log1p(np.abs(change) / np.float32(_NOISE))
    scatter = change.std(axis=(1, 2), ddof=1, keepdims=True) + np.float32(_LEAST_SCATTER)
    return np.asarray(change / scatter, np.float32)


def _convolved(found: Weights, kernel: Weights, bias: Weights, stride: tuple[int, int]) -> Weights:
    """Return a convolution of pictures [shape=(K, I, R, C)], none below 0; 0 beyond their edges."""
    height, width = kernel.shape[2:]
    room = ((0, 0), (0, 0), (height // 2, height // 2), (width // 2, width // 2))
    window = sliding_window_view(np.pad(found, room), (height, width), axis=(2, 3))
    window = window[:, :, :: stride[0], :: stride[1]]
    mixed = np.tensordot(window, kernel, axes=((1, 4, 5), (1, 2, 3))) + bias
    return np.asarray(np.maximum(np.moveaxis(mixed, 3, 1), 0.0))
