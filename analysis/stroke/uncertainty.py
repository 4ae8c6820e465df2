"""How sure each value is: what noise and lasting errors of the motion do to it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from analysis.checks import FloatArray
from analysis.stroke.reading import Rowing, measures_that_read, read_measures
from analysis.stroke.signals import Signals

#: Draws of the frame-to-frame noise from which each value's standard error is taken. With 40 the
#: standard error is itself good to about 11 %.
DRAWS = 40
_SEED = 20_23


def noise_se(signals: Signals, rowing: Rowing, values: FloatArray) -> FloatArray:
    """Return the standard error of every value from frame-to-frame noise [shape=(N, measures)].

    Half of what lies between the 16th and the 84th percentile of the draws: the curves hold one
    helping of noise already, and the second on top of it now and then crosses a threshold that
    no clip would, which must not count as the common case. Noise also moves the middle of a
    largest value or a clipped share; what it moves it by counts too.
    """
    rng = np.random.default_rng(_SEED)
    draws = np.array([read_measures(signals.shaken_curves(rng), rowing)[1] for _ in range(DRAWS)])
    told = np.sum(np.isfinite(draws), axis=0) >= DRAWS / 2
    se = np.full(values.shape, np.nan)
    low, middle, high = np.nanpercentile(draws[:, told], [15.87, 50.0, 84.13], axis=0)
    se[told] = np.hypot((high - low) / 2, np.nan_to_num(middle - values[told]))
    return se


def bias_se(signals: Signals, rowing: Rowing, values: FloatArray) -> FloatArray:
    """Return the standard error of what all strokes share [shape=(measures,)].

    Each signal in turn is off by its lasting error, at the front and at the back of the stroke
    independently; so are the times of all catches and all releases, and the lengths that shares
    are told in.
    """
    handle = signals.curves.values["handle_x"]
    places = handle[rowing.turns.index]
    front = float(np.nanmedian(places[rowing.turns.front]))
    back = float(np.nanmedian(places[~rowing.turns.front]))
    forward = np.clip(np.nan_to_num((handle - back) / (front - back)), 0.0, 1.0)
    square = np.zeros(values.shape[1])
    readers = measures_that_read(signals.curves, rowing)
    for name, signal in signals.by_name.items():
        if not np.any(signal.bias_se > 0):
            continue
        read = sorted(readers[name])
        for share in (forward, 1.0 - forward):
            changed = read_measures(signals.bent_curves(name, share), rowing, only=readers[name])[1]
            square[read] += _shift(changed[:, read], values[:, read]) ** 2
    late = {"catch_late_s": rowing.late.catch_se_s, "release_late_s": rowing.late.release_se_s}
    for event, se_s in late.items():
        if se_s > 0:
            later: dict[str, Any] = {event: se_s}
            changed = read_measures(signals.curves, rowing, **later)[1]
            square += _shift(changed, values) ** 2
    lengths = float(np.max(signals.by_name["handle_x"].bias_se)) * np.sqrt(2.0)
    if lengths > 0:
        for name in ("forearm_px", "reach_px"):
            body = replace(rowing.body, **{name: getattr(rowing.body, name) + lengths})
            changed = read_measures(signals.curves, replace(rowing, body=body))[1]
            square += _shift(changed, values) ** 2
    return np.sqrt(square)


def _shift(changed: FloatArray, values: FloatArray) -> FloatArray:
    """Return the median change over the strokes [shape=(measures,)], 0 where nothing is told."""
    change = changed - values
    return np.array([np.nanmedian(c) if np.isfinite(c).any() else 0.0 for c in change.T])
