import numpy as np
import pytest

from analysis.motion.back_line import LEVELS
from analysis.motion.back_rounding import (
    LEAN_DEG,
    OWN_USUALLY,
    back_rounding_deg,
    own_back,
    robust_line,
    terms_of,
)
from analysis.motion.learned import shipped

USUAL = shipped().back
T_S = np.arange(90) / 15.0
#: A trunk that swings between 10° behind and 30° before the vertical (made here).
TRUNK_DEG = 10.0 + 20.0 * np.cos(2 * np.pi * T_S / 2.5)
LOW = LEVELS < 0.15
MIDDLE = np.exp(-(((LEVELS - 0.45) / 0.25) ** 2))


def usual_edge(bow: float = 0.0, noise: float = 0.004, seed: int = 5) -> np.ndarray:
    """Return the edge (T, L) of a usual back, bowed out in the middle, with a little noise."""
    lean = np.column_stack([np.ones(len(T_S)), TRUNK_DEG / LEAN_DEG])
    edge = lean @ USUAL.line + bow * MIDDLE
    return edge + np.random.default_rng(seed).normal(scale=noise, size=edge.shape)


def rounding_deg(edge: np.ndarray) -> np.ndarray:
    return back_rounding_deg(own_back(edge, TRUNK_DEG, USUAL), T_S, TRUNK_DEG, USUAL)


def test_a_back_bowed_out_reads_rounder_and_hollow_the_other_way() -> None:
    plain, out, hollow = (np.median(rounding_deg(usual_edge(b))) for b in (0.0, 0.06, -0.04))
    # A parabola that bows out by b over a length l turns by 8 b / l from end to end: by 0.06 over
    # 0.86 of the trunk, about 30°; tangents span about half of it. No back bows so evenly: what
    # tells round backs of 23 to 29° without bias tells a third of this. So 8° at the least.
    assert out > plain + 8.0
    assert hollow < plain - 5.0


def test_a_neighbours_legs_are_left_out() -> None:
    clean = usual_edge()
    spoilt = clean.copy()
    behind = (TRUNK_DEG > 20.0) & (T_S > 2.0)
    spoilt[np.ix_(behind, LOW)] = 0.55
    assert 0.2 < behind.mean() < 0.5
    own = own_back(spoilt, TRUNK_DEG, USUAL)
    assert np.isnan(own.off[np.ix_(behind, LOW)]).all()
    # All other samples stay but a few that noise carries past three standard deviations.
    assert np.isfinite(own.off[~behind]).mean() > 0.99
    told = rounding_deg(spoilt)
    known = np.isfinite(told)
    assert known.mean() > 0.9
    assert told[known] == pytest.approx(rounding_deg(clean)[known], abs=1.5)


def test_a_spoilt_edge_makes_the_back_less_certain() -> None:
    clean = own_back(usual_edge(), TRUNK_DEG, USUAL)
    assert clean.share > 0.98 and clean.less_certain == 1.0
    spoilt = usual_edge()
    spoilt[::2, LOW] = 0.6
    own = own_back(spoilt, TRUNK_DEG, USUAL)
    counted = (LEVELS > -0.12) & (LEVELS < 1.02)
    true_share = 1.0 - 0.5 * (LOW & counted).sum() / counted.sum()
    assert own.share == pytest.approx(true_share, abs=0.02) and own.share < OWN_USUALLY
    assert own.less_certain > 2.0


def test_a_hip_and_shoulder_placed_too_far_back_change_nothing() -> None:
    edge = usual_edge()
    moved = edge.copy()
    moved[30:45] -= 0.05
    assert np.isfinite(own_back(moved, TRUNK_DEG, USUAL).off[30:45]).mean() > 0.95
    assert rounding_deg(moved) == pytest.approx(rounding_deg(edge), abs=1.0)


def test_what_is_hidden_here_and_there_is_as_in_the_rest_of_the_clip() -> None:
    edge = usual_edge(bow=0.03)
    hidden = edge.copy()
    hidden[40:60, (LEVELS > 0.4) & (LEVELS < 0.7)] = np.nan
    assert rounding_deg(hidden) == pytest.approx(rounding_deg(edge), abs=1.0)


def test_nothing_is_said_where_too_little_is_known() -> None:
    edge = usual_edge()
    edge[30:60, LEVELS < 0.6] = np.nan
    told = rounding_deg(edge)
    # The running median reaches 0.3 s, 4.5 frames, into what is hidden.
    assert np.isnan(told[35:55]).all() and np.isfinite(told[:25]).all()
    nothing = np.full_like(edge, np.nan)
    assert np.isnan(rounding_deg(nothing)).all()
    assert np.isnan(own_back(nothing, TRUNK_DEG, USUAL).share)


def test_a_bent_back_that_others_never_have_is_no_back() -> None:
    """An edge a trunk's half behind all usual ones, through the whole clip, is a machine's."""
    edge = usual_edge() + 0.5
    assert np.isnan(own_back(edge, TRUNK_DEG, USUAL).off).all()


def test_robust_line_passes_through_most_and_not_through_all() -> None:
    rng = np.random.default_rng(2)
    lean = np.column_stack([np.ones(200), rng.uniform(-1, 2, 200)])
    true = np.array([[0.05, -0.02], [0.01, -0.01]])
    off = lean @ true + rng.normal(scale=0.003, size=(200, 2))
    off[:60, 0] += 0.15
    line, se = robust_line(off, lean, np.full(2, 0.05))
    assert line == pytest.approx(true, abs=0.005)
    assert np.all(se < 0.02)


def test_terms_are_one_lean_and_the_line() -> None:
    edge = usual_edge(noise=0.0)
    terms = terms_of(own_back(edge, TRUNK_DEG, USUAL), T_S, TRUNK_DEG)
    assert terms.shape == (len(T_S), len(USUAL.weights))
    assert terms[:, 0] == pytest.approx(1.0) and terms[:, 1] == pytest.approx(TRUNK_DEG / 20.0)
    assert terms[:, 2:] == pytest.approx(edge, abs=1e-6)


def test_a_back_looked_for_in_every_fourth_frame_reads_the_same() -> None:
    edge, every_fourth = usual_edge(0.03), np.arange(0, len(T_S), 4)
    sparse = np.full_like(edge, np.nan)
    sparse[every_fourth] = edge[every_fourth]
    own = own_back(sparse, TRUNK_DEG, USUAL, every_fourth)
    told = back_rounding_deg(own, T_S, TRUNK_DEG, USUAL)
    assert np.isfinite(told).all()
    assert told == pytest.approx(rounding_deg(edge), abs=2.0)
    # In as few of all frames it would not do.
    assert np.isnan(rounding_deg(sparse)).all()
