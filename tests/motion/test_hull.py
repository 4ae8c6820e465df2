"""The boat's path in the picture: from the feet where they are seen, from the background if not."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.hull import hull_path, legs_end

T_S = np.arange(0.0, 16.0, 0.04)
TRUNK_PX = 34.0


def camera() -> np.ndarray:
    """A hand-held pan: shift of the background, px."""
    shake = 4.0 * np.sin(2 * np.pi * 1.7 * T_S) + 3.0 * np.sin(2 * np.pi * 0.9 * T_S)
    return np.stack([-15.0 * T_S + shake, 5.0 * np.sin(2 * np.pi * 0.6 * T_S)], axis=1)


def boat() -> np.ndarray:
    """The feet in the picture: the camera's shift, and the boat's own way at an even speed."""
    return camera() + np.stack([15.0 * T_S + 100.0, np.full_like(T_S, 150.0)], axis=1)


def test_hidden_feet_leave_the_path_to_the_background() -> None:
    rng = np.random.default_rng(1)
    # Guesses wander with the stroke, as they do when the hull hides the feet.
    wander = 8.0 * np.sin(2 * np.pi * 1.3 * T_S)[:, None] + rng.normal(0, 6, (len(T_S), 2))
    ankle = boat() + wander
    ankle[rng.random(len(T_S)) < 0.15] = np.nan
    path = hull_path(T_S, ankle, camera(), TRUNK_PX)
    inner = (T_S > 2) & (T_S < 14)
    off = path - boat()
    assert np.abs(off[inner]).max() < 0.1 * TRUNK_PX
    # Following the ankles themselves would leave the wandering in.
    assert np.std(off[inner]) < 0.25 * np.nanstd((ankle - boat())[inner])


def test_seen_feet_are_followed_through_the_surge() -> None:
    # The boat's surge within a stroke, which the background does not know of.
    surge = np.stack([6.0 * np.sin(2 * np.pi * 0.4 * T_S), np.zeros_like(T_S)], axis=1)
    ankle = boat() - camera() + surge  # a camera that is held still
    path = hull_path(T_S, ankle, np.zeros_like(ankle), TRUNK_PX * 3)
    inner = (T_S > 1) & (T_S < 15)
    assert np.abs(path - ankle)[inner].max() < 0.5


def test_long_gap_and_gone_astray() -> None:
    rng = np.random.default_rng(2)
    ankle = boat() + rng.normal(0, 6, (len(T_S), 2))
    ankle[(T_S > 5) & (T_S < 8)] = np.nan
    ankle[rng.random(len(T_S)) < 0.1] += 60.0
    path = hull_path(T_S, ankle, camera(), TRUNK_PX)
    assert np.isfinite(path).all()
    assert np.abs(path - boat())[(T_S > 1) & (T_S < 15)].max() < 0.2 * TRUNK_PX


@pytest.mark.parametrize("seen", [1, 3])
def test_hardly_ever_seen(seen: int) -> None:
    ankle = np.full((len(T_S), 2), np.nan)
    ankle[100 : 100 + seen] = boat()[100 : 100 + seen]
    path = hull_path(T_S, ankle, camera(), TRUNK_PX)
    assert path.shape == (len(T_S), 2)
    assert np.isfinite(path).all()
    assert path[100] == pytest.approx(boat()[100], abs=2.0)


def legs(leg_px: float = 60.0) -> tuple[np.ndarray, np.ndarray]:
    """Hips and knees of a rower whose feet are fixed to `boat()`: two links, feet to the right."""
    foot = boat()
    hip = foot + np.stack(
        [-80.0 - 30.0 * np.cos(2 * np.pi * 0.4 * T_S), np.full_like(T_S, -0.45 * TRUNK_PX)], axis=1
    )
    gap = foot - hip
    reach = np.linalg.norm(gap, axis=1)
    rise = np.sqrt(leg_px**2 - (reach / 2) ** 2)
    up = np.stack([gap[:, 1], -gap[:, 0]], axis=1) / reach[:, None]
    return hip, (hip + foot) / 2 + up * rise[:, None]


def test_legs_end_at_the_feet() -> None:
    hip, knee = legs()
    assert legs_end(hip, knee, TRUNK_PX, "right") == pytest.approx(boat(), abs=1e-6)
    mirror = np.array([-1.0, 1.0])
    left = legs_end(hip * mirror, knee * mirror, TRUNK_PX, "left")
    assert left == pytest.approx(boat() * mirror, abs=1e-6)


@pytest.mark.parametrize("flips", [0, 12], ids=["camera read", "camera misread"])
def test_legs_tell_where_hidden_feet_do_not(flips: int) -> None:
    rng = np.random.default_rng(4)
    hip, knee = (x + rng.normal(0, 1.0, x.shape) for x in legs())
    shift = camera()
    for number, at_s in enumerate(np.linspace(1, 15, flips)):
        # For a while the water is followed instead of the bank, now one way, now the other.
        shift[:, 0] += 60.0 * (-1.0) ** number * np.clip(T_S - at_s, 0, 0.4)
    ankle = boat() + rng.normal(0, 8, (len(T_S), 2))
    ankle[rng.random(len(T_S)) < 0.3] += [-40.0, -25.0]  # on the knees, or on somebody else
    torso = hip - np.array([0.0, 20.0])
    inner = (T_S > 1) & (T_S < 15)
    ends = legs_end(hip, knee, TRUNK_PX, "right")
    told = hull_path(T_S, ankle, shift, TRUNK_PX, ends, torso) - boat()
    assert np.std(told[inner, 0]) < 0.1 * TRUNK_PX
    if flips:
        blind = hull_path(T_S, ankle, shift, TRUNK_PX) - boat()
        assert np.std(blind[inner, 0]) > 0.15 * TRUNK_PX


def test_a_misread_background_does_not_shake_feet_that_are_seen() -> None:
    hip, _ = legs()
    ankle = boat() - camera()  # a camera that goes along evenly
    shift = np.zeros_like(ankle)
    shift[:, 0] = 30.0 * np.abs((T_S / 0.8) % 1.0 - 0.5)  # but the background goes to and fro
    inner = (T_S > 1) & (T_S < 15)
    torso = hip - camera()
    told = hull_path(T_S, ankle, shift, 3 * TRUNK_PX, None, torso) - ankle
    assert np.std(told[inner, 0]) < 0.5
    assert np.std((hull_path(T_S, ankle, shift, 3 * TRUNK_PX) - ankle)[inner, 0]) > 2.0
