"""A planar rower of known sequence, made without video.

``made_motion(technique, ...)`` moves a small stick figure (foot fixed, seat on its rail, trunk,
two-link arm) by a chosen timing and gives a :class:`MadeMotion`:

* ``made.motion``: what the motion stage would hand on (:class:`analysis.motion.motion.Motion`),
  with frame times, noise, gaps and facing as asked for;
* ``made.truth``: :class:`tests.made_truth.Truth`: event times and every measure of each whole
  stroke, from the continuous motion at 2 kHz, by the definitions, without noise.

    technique = Technique(rate_spm=24, catch_trunk_deg=45)     # one parameter = one fault
    made = made_motion(technique, strokes=6, fps=30, noise_px=1.0, seed=3)
    made.truth.measures["catch_trunk_deg"]                     # array, one value a stroke

A list of techniques gives each stroke its own. ``tuned(technique, "slide_rush",
"front_speed_share", 1.3, (0, 1))`` finds the parameter at which a measure has a value, so that a
fault can be planted at exactly limit + 1½ steps; ``planted("lunge_deg", 11)`` does so with the
parameter that ``PLANTS`` names for that measure. ``STAGES`` holds one sound technique for each
step of the build-up, ``ORDERS`` odd sequences, ``still_motion`` somebody who does not row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import brentq

from analysis.motion.motion import ANGLES, JOINTS, Motion
from tests.made_rower import (
    BELLY_M,
    NEUTRAL_RAW_DEG,
    SEGMENTS_M,
    Rower,
    angles_of,
    belly_x,
    full_slide_m,
    signals_of,
)
from tests.made_technique import ORDERS, STAGES, Technique
from tests.made_truth import Truth, truth_of

__all__ = [
    "NEUTRAL_RAW_DEG",
    "ORDERS",
    "PLANTS",
    "STAGES",
    "MadeMotion",
    "Technique",
    "made_motion",
    "planted",
    "still_motion",
    "tuned",
]

#: For a measure: the parameter that moves it, and the range in which it does.
PLANTS: dict[str, tuple[str, tuple[float, float]]] = {
    "ratio": ("drive_s", (0.4, 1.8)),
    "slide_time_share": ("slide_start", (0.2, 0.9)),
    "front_speed_share": ("slide_rush", (0.0, 1.0)),
    "catch_dwell_s": ("front_hold_s", (0.0, 1.0)),
    "catch_trunk_deg": ("catch_trunk_deg", (-5.0, 60.0)),
    "body_over_share": ("body_end", (0.38, 1.0)),
    "arms_away_share": ("arms_away_end", (0.25, 0.9)),
    "lunge_deg": ("lunge_deg", (0.0, 30.0)),
    "shin_catch_deg": ("shin_catch_deg", (-40.0, 25.0)),
    "elbow_catch_deg": ("elbow_straight_deg", (110.0, 178.0)),
    "rounding_catch_deg": ("rounding_front_deg", (-10.0, 50.0)),
    "rounding_drive_deg": ("rounding_drive_deg", (0.0, 50.0)),
    "rounding_release_deg": ("rounding_back_deg", (-10.0, 50.0)),
    "legs_at_back_open": ("back_start", (-0.1, 0.33)),
    "legs_at_arm_bend": ("arms_start", (0.0, 0.8)),
    "seat_slip_share": ("slip_share", (0.0, 0.4)),
    "knee_release_deg": ("knee_release_deg", (110.0, 178.0)),
    "layback_deg": ("layback_deg", (-15.0, 50.0)),
    "handle_level_share": ("level_m", (0.0, 0.2)),
    "handle_loop_share": ("loop_m", (-0.02, 0.25)),
    "handle_dip_share": ("dip_m", (0.0, 0.15)),
    "hand_height_share": ("hand_height", (0.32, 0.9)),
    "head_deg": ("head_deg", (-60.0, 60.0)),
}


@dataclass(frozen=True)
class MadeMotion:
    """A made clip and what is true of it."""

    motion: Motion
    truth: Truth


def made_motion(
    technique: Technique | Sequence[Technique],
    *,
    strokes: int = 5,
    fps: float = 30.0,
    time_jitter: float = 0.0,
    drop_share: float = 0.0,
    gaps_s: Sequence[tuple[float, float]] = (),
    gap_joints: Sequence[str] = JOINTS,
    noise_px: float = 0.0,
    noise_tau_s: float = 0.0,
    noise_smooth_s: float = 0.0,
    bias_px: float = 0.0,
    front_bias_px: float = 0.0,
    rounding_noise_deg: float = 0.0,
    px_per_m: float = 220.0,
    facing: str = "right",
    setting: str = "erg",
    start_phase: float = 1.3,
    end_phase: float = 0.5,
    neutral_rounding_deg: float = float("nan"),
    seed: int = 0,
) -> MadeMotion:
    """Row `strokes` whole strokes and film them.

    Parameters
    ----------
    technique : Technique or sequence of Technique
        One for all strokes, or one each; the stroke before and the one after, of which the clip
        shows a part, copy the first and the last.
    time_jitter : float
        Each frame's time is off by up to ± this share (< 0.5) of the frame interval.
    drop_share : float
        Share of frames that are missing altogether.
    gaps_s, gap_joints
        Spells (from, to; s on the clip's clock) in which `gap_joints` and their angles are NaN.
    noise_px, noise_tau_s : float
        SD of each joint coordinate's noise, px, and its correlation time, s (0: white).
    noise_smooth_s : float
        Instead of `noise_tau_s`: the noise has no fine wiggles, as after smoothing; its
        correlation falls as exp(−Δt²/2s²).
    bias_px : float
        SD of an offset of each joint coordinate that stays through the clip, px.
    front_bias_px : float
        SD of a further offset that grows with the handle's way forward: none at the release,
        whole at the catch, as when a model misplaces the hip of somebody who is folded up.
    start_phase, end_phase : float
        Where the clip starts in the stroke before, and ends in the stroke after: 0…1 drive,
        1…2 recovery. Near 0 and near 2 these are whole themselves, and then so in the truth.
    """
    listed = [technique] * strokes if isinstance(technique, Technique) else list(technique)
    rower = Rower([listed[0], listed[0], *listed, listed[-1], listed[-1]])
    rng = np.random.default_rng(seed)
    begin = rower.time_of_phase(1, start_phase)
    end = rower.time_of_phase(len(listed) + 2, end_phase)
    t = _frame_times(end - begin, fps, time_jitter, drop_share, rng)
    places, rounding = rower.places(t + begin)
    truth = truth_of(
        lambda at: signals_of(*rower.places(at + begin)),
        starts_s=rower.starts[:-1] - begin,
        end_s=end - begin,
        segments_m=SEGMENTS_M,
        full_slide_m=full_slide_m(),
        neutral_deg=NEUTRAL_RAW_DEG if np.isnan(neutral_rounding_deg) else neutral_rounding_deg,
    )

    px = places * px_per_m
    px += noise_px * _noise(t, noise_tau_s, px.shape[1:], rng, noise_smooth_s)
    px += bias_px * rng.standard_normal(px.shape[1:])
    if front_bias_px:
        handle = places[:, JOINTS.index("wrist"), 0]
        forward = (handle - handle.min()) / np.ptp(handle)
        px += forward[:, None, None] * front_bias_px * rng.standard_normal(px.shape[1:])
    rounding = rounding + rounding_noise_deg * _noise(t, noise_tau_s, (), rng, noise_smooth_s)
    for start, stop in gaps_s:
        gone = (t >= start) & (t <= stop)
        px[np.ix_(gone, [JOINTS.index(name) for name in gap_joints])] = np.nan
        rounding[gone] = np.nan
    angles = angles_of(px, rounding)
    belly = belly_x(px, BELLY_M * px_per_m)
    return MadeMotion(
        _motion(t, px, angles, belly, noise_px, float(np.hypot(bias_px, front_bias_px)),
                rounding_noise_deg, px_per_m, facing, setting, neutral_rounding_deg),
        truth,
    )  # fmt: skip


def tuned(
    technique: Technique, parameter: str, measure: str, value: float, within: tuple[float, float]
) -> Technique:
    """Return `technique` with `parameter` set so that its true `measure` is `value`."""

    def miss(x: float) -> float:
        made = made_motion(replace(technique, **{parameter: x}), strokes=1, fps=25)
        return float(made.truth.measures[measure][0]) - value

    return replace(technique, **{parameter: brentq(miss, *within, xtol=1e-4)})


def planted(measure: str, value: float, technique: Technique | None = None) -> Technique:
    """Return a sound technique (or `technique`) but for one measure, which is `value`."""
    parameter, within = PLANTS[measure]
    return tuned(technique or Technique(), parameter, measure, value, within)


def still_motion(
    *, seconds: float = 12.0, fps: float = 30.0, noise_px: float = 1.0, wander_px: float = 0.0,
    wander_tau_s: float = 1.0, px_per_m: float = 220.0, seed: int = 0,
) -> Motion:  # fmt: skip
    """Somebody who sits there and does not row: jitter, and hands that wander about."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, seconds, 1.0 / fps)
    rower = Rower([Technique(), Technique()])
    px = rower.places(np.full(len(t), rower.starts[0] + 0.5))[0] * px_per_m
    px += noise_px * _noise(t, 0.0, px.shape[1:], rng)
    wander = wander_px * _noise(t, wander_tau_s, (2,), rng)
    for name, share in (("wrist", 1.0), ("elbow", 0.5)):
        px[:, JOINTS.index(name)] += share * wander
    rounding = np.full(len(t), NEUTRAL_RAW_DEG)
    return _motion(t, px, angles_of(px, rounding), belly_x(px, BELLY_M * px_per_m),
                   noise_px, 0.0, 0.0, px_per_m, "right", "erg", float("nan"))  # fmt: skip


def _frame_times(seconds: float, fps: float, jitter: float, drop: float, rng) -> np.ndarray:
    t = np.arange(0.0, seconds, 1.0 / fps)
    t = t + rng.uniform(-jitter, jitter, len(t)) / fps
    keep = rng.random(len(t)) >= drop
    keep[[0, -1]] = True
    return t[keep] - t[0]


def _noise(t: np.ndarray, tau_s: float, shape: tuple[int, ...], rng, smooth_s: float = 0.0):
    """Unit noise [shape=(T, *shape)] whose correlation falls as exp(−Δt/τ) or exp(−Δt²/2s²)."""
    if smooth_s > 0:
        step = smooth_s / 8
        fine = np.arange(t[0] - 8 * smooth_s, t[-1] + 8 * smooth_s, step)
        white = rng.standard_normal((len(fine), *shape))
        # A Gaussian window of width w gives a correlation of width √2·w.
        noise = gaussian_filter1d(white, smooth_s / np.sqrt(2) / step, axis=0)
        noise *= np.sqrt(2 * np.sqrt(np.pi) * smooth_s / np.sqrt(2) / step)
        return make_interp_spline(fine, noise, k=3)(t)
    noise = rng.standard_normal((len(t), *shape))
    if tau_s > 0:
        for i in range(1, len(t)):
            keep = np.exp(-(t[i] - t[i - 1]) / tau_s)
            noise[i] = keep * noise[i - 1] + np.sqrt(1 - keep**2) * noise[i]
    return noise


def _angle_se(px: np.ndarray, sd_px: float, rounding_sd: float) -> np.ndarray:
    """SD of each angle [shape=(T, A), deg] for `sd_px` in every coordinate, by finite change."""
    base = angles_of(px, np.zeros(len(px)))
    square = np.zeros_like(base)
    for j in range(len(JOINTS)):
        for axis in range(2):
            moved = px.copy()
            moved[:, j, axis] += 0.01
            square += ((angles_of(moved, np.zeros(len(px))) - base) * sd_px / 0.01) ** 2
    se = np.sqrt(square)
    se[:, ANGLES.index("back_rounding_deg")] = rounding_sd
    return se


def _motion(t, px, angles, belly, noise_px, bias_px, rounding_noise_deg, px_per_m, facing, setting,
            neutral_rounding_deg) -> Motion:  # fmt: skip
    noise_se = _angle_se(px, noise_px, rounding_noise_deg)
    bias_se = _angle_se(px, bias_px, 0.0)
    place = px - np.nanmean(px[:, [JOINTS.index("ankle")]], axis=0, keepdims=True)
    sign = 1.0 if facing == "right" else -1.0
    return Motion(
        t_s=t,
        joints_px=np.array([640.0, 500.0]) + px * np.array([sign, -1.0]),
        place_px=place,
        handle_px=place[:, JOINTS.index("wrist")],
        place_se_px=noise_px,
        place_bias_se_px=bias_px,
        filled=np.zeros(px.shape[:2], dtype=bool),
        angles_deg=angles,
        angle_se_deg=np.hypot(noise_se, bias_se),
        angle_bias_se_deg=bias_se,
        belly_x_px=belly - np.nanmean(px[:, JOINTS.index("ankle"), 0]),
        segments_px={name: length * px_per_m for name, length in SEGMENTS_M.items()},
        facing=facing,
        setting=setting,
        neutral_rounding_deg=neutral_rounding_deg,
    )
