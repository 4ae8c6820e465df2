"""What strokes are measured on: named signals of the motion, and smooth curves through them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import ANGLES, Motion
from analysis.stroke.smooth import apply, even_grid, smoothing_matrix

if TYPE_CHECKING:
    from scipy.sparse import csr_array

#: Step of the curves, s: short against any movement; instants are read between its points.
GRID_S = 0.005

#: Factor and longest half-window [s] of a signal's window. The handle's turns must be timed out of
#: noise; what else is read off a curve is better a little noisy than bent, for noise averages out
#: over strokes and a bend does not. The handle's height has the quickest features.
_WINDOWS = {"handle_x": (1.4, 0.35), "handle_y": (0.8, 0.14)}
_OTHER_WINDOWS = (1.0, 0.18)
_SHORTEST_S = 0.06

#: Quickness of an ordinary turn, s (:func:`half_windows_s`), taken until the turns are known.
USUAL_QUICKNESS_S = 0.7

#: How slowly pose errors change that leave no fine wiggles, s (correlation exp(−Δt²/2s²)): about
#: what a low-pass near 6 Hz leaves of them. What lasts longer is counted as bias.
SLOW_NOISE_S = 0.06

PLACES = ("handle_x", "handle_y", "seat_x", "hip_y", "shoulder_y", "belly_x")
SIGNALS = PLACES + ANGLES


@dataclass(frozen=True)
class Signal:
    """One signal at the frames.

    Attributes
    ----------
    values : array [shape=(T,)]
        px of the athlete's frame, or degrees; NaN where not measured.
    se, bias_se : array [shape=(T,)]
        Standard error in one frame, frame-to-frame part and lasting part, same unit.
    white_share : float
        Share of the frame-to-frame variance that is new in every frame; the rest changes slowly.
    half_window_s : array [shape=(M,)]
        Half-window of the curve through it at each time of the grid, s.
    """

    values: FloatArray
    se: FloatArray
    bias_se: FloatArray
    white_share: float
    half_window_s: FloatArray


@dataclass(frozen=True)
class Curves:
    """Smooth curves on an even grid.

    Attributes
    ----------
    t_s : array [shape=(M,)]
        Times, s, every ``GRID_S``.
    values : mapping of str to array [shape=(M,)]
        One curve for each of ``SIGNALS``; NaN where the instant is not covered by frames.
    """

    t_s: FloatArray
    values: Mapping[str, FloatArray]

    def at(self, name: str, time_s: float) -> float:
        """Return one curve's value at an instant; NaN when not covered."""
        if not math.isfinite(time_s):
            return math.nan
        place = (float(time_s) - float(self.t_s[0])) / GRID_S
        low = math.floor(place)
        values = self.values[name]
        if low < 0 or low + 1 >= len(values):
            return float(values[-1]) if low + 1 == len(values) else math.nan
        share = place - low
        return float(values[low]) * (1.0 - share) + float(values[low + 1]) * share

    def span(self, name: str, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
        """Return times and values [shape=(n,)] from `start_s` to `end_s`, both included."""
        if not (math.isfinite(start_s) and math.isfinite(end_s)) or end_s <= start_s:
            return np.array([start_s]), np.array([np.nan])
        first_s = float(self.t_s[0])
        low = math.ceil((start_s - first_s) / GRID_S + 1e-6)
        high = math.floor((end_s - first_s) / GRID_S - 1e-6) + 1
        inner = self.values[name][low:high]
        times, values = np.empty((2, len(inner) + 2))
        times[0], times[1:-1], times[-1] = start_s, self.t_s[low:high], end_s
        values[0], values[1:-1], values[-1] = self.at(name, start_s), inner, self.at(name, end_s)
        return times, values


@dataclass(frozen=True)
class Signals:
    """All signals of one clip.

    Attributes
    ----------
    t_s : array [shape=(T,)]
        Frame times, s.
    by_name : mapping of str to Signal
        In the order of ``SIGNALS``.
    """

    t_s: FloatArray
    by_name: Mapping[str, Signal]

    @cached_property
    def grid_s(self) -> FloatArray:
        """Times of the curves [shape=(M,), s]."""
        return even_grid(self.t_s, GRID_S)

    @cached_property
    def _matrices(self) -> dict[str, csr_array]:
        # Most signals are measured in the same frames and read through the same windows, and of a
        # long clip these matrices are the largest of all arrays.
        made: dict[tuple[bytes, bytes], csr_array] = {}
        matrices = {}
        for name, signal in self.by_name.items():
            measured, half_window_s = np.isfinite(signal.values), signal.half_window_s
            key = measured.tobytes(), half_window_s.tobytes()
            if key not in made:
                made[key] = smoothing_matrix(self.t_s, measured, self.grid_s, half_window_s)
            matrices[name] = made[key]
        return matrices

    @cached_property
    def _slow_noise(self) -> csr_array:
        return slow_noise_matrix(self.t_s)

    @cached_property
    def curves(self) -> Curves:
        """The curves through the measured values."""
        return Curves(
            self.grid_s,
            {name: apply(self._matrices[name], s.values) for name, s in self.by_name.items()},
        )

    def curve_noise(self, name: str) -> float:
        """Return the SD of the noise that is left in a curve, in its unit; median over the clip."""
        signal, matrix = self.by_name[name], self._matrices[name]
        kept = np.sqrt(np.median(matrix.power(2).sum(axis=1)[np.diff(matrix.indptr) > 0]))
        share = signal.white_share
        return float(np.median(signal.se) * np.sqrt(share * kept**2 + 1.0 - share))

    def shaken_curves(self, rng: np.random.Generator) -> Curves:
        """Return the curves as they would be with another draw of the frame-to-frame noise."""
        shaken = {}
        for name, signal in self.by_name.items():
            white = rng.standard_normal(len(self.t_s))
            slow = self._slow_noise @ rng.standard_normal(self._slow_noise.shape[1])
            share = signal.white_share
            noise = signal.se * (np.sqrt(share) * white + np.sqrt(1.0 - share) * slow)
            shaken[name] = self.curves.values[name] + self._matrices[name] @ np.nan_to_num(noise)
        return Curves(self.grid_s, shaken)

    def bent_curves(self, name: str, share: FloatArray) -> Curves:
        """Return the curves with one signal off by its bias error × `share` [shape=(M,)]."""
        bias = np.interp(self.grid_s, self.t_s, self.by_name[name].bias_se)
        values = dict(self.curves.values)
        values[name] = values[name] + bias * share
        return Curves(self.grid_s, values)

    def only(self, name: str) -> Signals:
        """Return one of the signals alone."""
        return Signals(self.t_s, {name: self.by_name[name]})

    def fitted_to(self, turn_s: FloatArray, quickness_s: FloatArray) -> Signals:
        """Return the same signals with windows that suit how quickly the handle turns.

        Parameters
        ----------
        turn_s, quickness_s : array [shape=(K,)]
            When the handle turns, and how quickly (:func:`half_windows_s`), s; between the turns
            it is interpolated.
        """
        quick = np.interp(self.grid_s, turn_s, quickness_s)
        fitted = {
            name: replace(s, half_window_s=half_windows_s(name, self.t_s, s.values, quick))
            for name, s in self.by_name.items()
        }
        return Signals(self.t_s, fitted)


def signals_of(motion: Motion) -> Signals:
    """Take the signals that strokes are measured on from a motion."""
    hip, shoulder = motion.place("hip"), motion.place("shoulder")
    values: dict[str, FloatArray] = {
        "handle_x": motion.handle_px[:, 0],
        "handle_y": motion.handle_px[:, 1],
        "seat_x": motion.seat_px,
        "hip_y": hip[:, 1],
        "shoulder_y": shoulder[:, 1],
        "belly_x": motion.belly_x_px,
    } | {name: motion.angle(name) for name in ANGLES}
    frames = len(motion.t_s)
    out = {}
    for name in SIGNALS:
        if name in PLACES:
            se = np.full(frames, motion.place_se_px)
            bias = np.full(frames, motion.place_bias_se_px)
        else:
            bias = _filled(motion.angle_bias_se(name))
            se = np.sqrt(np.clip(_filled(motion.angle_se(name)) ** 2 - bias**2, 0.0, None))
        out[name] = _signal(name, motion.t_s, values[name], se, bias)
    return Signals(motion.t_s, out)


def half_windows_s(
    name: str, t_s: FloatArray, values: FloatArray, quickness_s: FloatArray
) -> FloatArray:
    """Return the half-windows that suit a signal's noise and pace [shape=(M,), s].

    Parameters
    ----------
    t_s, values : array [shape=(T,)]
        Frame times, s, and the signal.
    quickness_s : array [shape=(M,)]
        √(2 × travel ÷ acceleration) of the movement at each time of the grid, s.

    Notes
    -----
    A longer window bends a quick turn, a shorter one lets more noise through. Where they balance,
    the window follows the pace of the movement and a root of the noise, which is counted against
    the travel and per √(frame interval); the root (4th) and the factor were found on made motion.
    """
    seen = np.isfinite(values)
    step = float(np.median(np.diff(t_s)))
    noise = 0.0
    if seen.sum() >= 8:
        travel = float(np.subtract(*np.percentile(values[seen], [95, 5])))
        noise = white_noise(t_s, values) / max(travel, 1e-9)
    factor, longest = _WINDOWS.get(name, _OTHER_WINDOWS)
    wanted = factor * quickness_s**0.875 * (noise * np.sqrt(step)) ** 0.25
    fitting: FloatArray = np.clip(wanted, max(_SHORTEST_S, 3.2 * step), max(longest, 3.2 * step))
    return fitting


def white_noise(t_s: FloatArray, values: FloatArray) -> float:
    """Return the SD of white noise that would explain the finest wiggles of `values`.

    From fourth divided differences, which no cubic touches, scaled to unit variance; median over
    the clip, so that a few jumps do not count. 0 when there are too few frames.
    """
    seen = np.isfinite(values)
    t, x = t_s[seen], values[seen]
    if len(t) < 8:
        return 0.0
    times = np.lib.stride_tricks.sliding_window_view(t, 5)
    scaled = (times - times[:, :1]) / (times[:, -1:] - times[:, :1])
    apart = scaled[:, :, None] - scaled[:, None, :] + np.eye(5)
    weights = 1.0 / np.prod(apart, axis=2)
    weights /= np.linalg.norm(weights, axis=1, keepdims=True)
    wiggle = np.sum(weights * np.lib.stride_tricks.sliding_window_view(x, 5), axis=1)
    near = times[:, -1] - times[:, 0] < 6 * np.median(np.diff(t))
    return float(np.median(np.abs(wiggle[near])) / 0.6745) if near.any() else 0.0


def slow_noise_matrix(t_s: FloatArray) -> csr_array:
    """Return what turns K independent unit numbers into slow unit noise at the frames.

    Returns
    -------
    csr_array [shape=(T, K)]
        Gaussian bumps of width s/√2 on an even row of knots, rows of unit length: their sum has a
        correlation of exp(−Δt²/2s²), s = ``SLOW_NOISE_S``.
    """
    from scipy.sparse import csr_array

    width = SLOW_NOISE_S / np.sqrt(2.0)
    step = width / 2
    reach = 6
    place = (t_s - t_s[0]) / step
    columns = np.rint(place).astype(np.int64)[:, None] + np.arange(2 * reach + 1)
    bumps = np.exp(-(((columns - reach - place[:, None]) * step / width) ** 2) / 2)
    bumps /= np.linalg.norm(bumps, axis=1, keepdims=True)
    rows = np.repeat(np.arange(len(t_s)), 2 * reach + 1)
    return csr_array((bumps.ravel(), (rows, columns.ravel())))


def _signal(
    name: str, t_s: FloatArray, values: FloatArray, se: FloatArray, bias: FloatArray
) -> Signal:
    """Complete a signal: noise that plainly shows in it is believed over a smaller claim."""
    wiggle = white_noise(t_s, values)
    typical = float(np.median(se))
    if wiggle > typical:
        se = np.hypot(se, np.sqrt(wiggle**2 - typical**2))
    share = 1.0 if wiggle >= typical else (wiggle / typical) ** 2
    usual = np.full(len(even_grid(t_s, GRID_S)), USUAL_QUICKNESS_S)
    return Signal(values, se, bias, share, half_windows_s(name, t_s, values, usual))


def _filled(se: FloatArray) -> FloatArray:
    """Return `se` with its gaps filled by its median, 0 when it is missing throughout."""
    seen = np.isfinite(se)
    return np.where(seen, se, np.median(se[seen]) if seen.any() else 0.0)
