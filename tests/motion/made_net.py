"""A network of random weights."""

from __future__ import annotations

import numpy as np

from analysis.motion.laid_limbs import ALONG
from analysis.motion.small_net import PARTS, SmallNet

CHANNELS, MIXED = 3, 5


def any_net(seed: int = 0) -> SmallNet:
    """A network of random weights, smaller than what ships."""
    rng = np.random.default_rng(seed)
    places = 7 * len(ALONG) // 4
    shapes = {
        "kernel_1": (CHANNELS, 1, 5, 3),
        "kernel_2": (CHANNELS, CHANNELS, 5, 3),
        "kernel_3": (CHANNELS, CHANNELS, 3, 3),
        "mixed": (MIXED, CHANNELS * places),
        "mixed_bias": (MIXED,),
        "told": (MIXED + 1,),
        "told_bias": (),
    } | {f"bias_{n}": (CHANNELS,) for n in (1, 2, 3)}
    return SmallNet(*(np.float32(rng.normal(0.0, 0.3, shapes[part])) for part in PARTS))
