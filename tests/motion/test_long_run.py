"""A series that keeps to steps for a while and to places in the long run."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.motion.long_run import joined

T_S = np.arange(0.0, 6.0, 1 / 30)
TRUE = 50.0 * np.sin(2 * np.pi * T_S / 2.5)
SURE = np.ones(len(T_S) - 1)


def test_places_and_steps_that_agree_come_back() -> None:
    assert joined(T_S, TRUE, np.diff(TRUE), SURE, 0.5) == pytest.approx(TRUE)


def test_what_wanders_for_less_than_the_long_run_is_put_right() -> None:
    wander = 3.0 * np.sin(2 * np.pi * T_S / 0.4)
    found = joined(T_S, TRUE + wander, np.diff(TRUE), SURE, 0.5)
    assert np.std(found - TRUE) < 0.1 * np.std(wander)


def test_what_drifts_for_longer_is_not_followed() -> None:
    drifting = np.diff(TRUE) + 0.02
    found = joined(T_S, TRUE, drifting, SURE, 0.5)
    # A drift of 0.6 a second: away from the ends the lag at both sides cancels.
    assert np.abs(found - TRUE)[30:-30].max() < 0.05
    assert np.abs(found - TRUE).max() < 0.6 * 0.5 * 1.1


def test_without_steps_it_is_the_places_and_without_places_nothing() -> None:
    unknown = np.full(len(T_S) - 1, np.nan)
    assert joined(T_S, TRUE, unknown, SURE, 0.5) == pytest.approx(TRUE)
    hidden = TRUE.copy()
    hidden[40:50] = np.nan
    found = joined(T_S, hidden, np.diff(TRUE), SURE, 0.5)
    assert np.isnan(found[40:50]).all()
    assert np.isfinite(np.delete(found, np.arange(40, 50))).all()
