"""The network's arithmetic, beside SciPy's correlation and sums done by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import correlate

from analysis.motion.laid_limbs import ACROSS, ALONG
from analysis.motion.small_net import STRIDES, steps_across
from tests.motion.made_net import MIXED, any_net


def any_pictures(count: int = 4, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).uniform(0.0, 255.0, (count, len(ACROSS), len(ALONG)))


def by_scipy(pictures: np.ndarray, kernel: np.ndarray, bias: np.ndarray, stride: tuple[int, int]):
    """Correlate every picture with every kernel, take every n-th place, and nothing below 0."""
    room = [(0, 0), (kernel.shape[2] // 2,) * 2, (kernel.shape[3] // 2,) * 2]
    out = []
    for picture in pictures:
        wide = np.pad(picture, room)
        found = [correlate(wide, one, mode="valid")[0] for one in kernel]
        out.append(np.array(found)[:, :: stride[0], :: stride[1]] + bias[:, None, None])
    return np.maximum(np.array(out), 0.0)


def test_what_is_seen_is_three_correlations_and_a_sum() -> None:
    net, pictures = any_net(), any_pictures()
    found = steps_across(pictures)[:, None].astype(np.float64)
    for n, stride in enumerate(STRIDES, start=1):
        found = by_scipy(found, getattr(net, f"kernel_{n}"), getattr(net, f"bias_{n}"), stride)
    mixed = np.array([net.mixed @ each.ravel() + net.mixed_bias for each in found])
    assert net.seen(pictures) == pytest.approx(np.maximum(mixed, 0.0), abs=1e-4)
    assert (net.seen(pictures) > 0).any()


def test_degrees_are_told_by_the_mean_of_what_is_seen_and_the_bend() -> None:
    net = any_net()
    seen = np.float32([[1, 0, 0, 0, 0], [3, 0, 0, 0, 2]])
    # Means 2 and 1; 160° is one step of 40° from 120°.
    by_hand = 2 * net.told[0] + 1 * net.told[4] + 1 * net.told[5] + net.told_bias
    assert net.off_deg(seen, 160.0) == pytest.approx(float(by_hand))


def test_the_room_s_light_does_not_matter() -> None:
    pictures = 60.0 + any_pictures() / 4.0
    assert steps_across(pictures + 50.0) == pytest.approx(steps_across(pictures), abs=1e-4)


def test_a_picture_of_nothing_shows_no_edge() -> None:
    assert not steps_across(np.full((2, len(ACROSS), len(ALONG)), 90.0)).any()


def test_changes_are_across_the_limb_in_the_sense_of_its_rows() -> None:
    picture = np.zeros((1, len(ACROSS), len(ALONG)))
    picture[:, 30:] = 200.0  # bright beyond row 30, dark before
    change = steps_across(picture)[0]
    assert (change[29:31] > 0).all()
    assert not np.delete(change, [29, 30], axis=0).any()
    assert (steps_across(255.0 - picture)[0, 29:31] < 0).all()


def test_weights_that_do_not_fit_each_other_are_refused() -> None:
    with pytest.raises(ValueError, match="told"):
        replace(any_net(), told=np.zeros(MIXED, np.float32))
    with pytest.raises(ValueError, match="mixed_bias"):
        replace(any_net(), mixed_bias=np.zeros(MIXED + 1, np.float32))
