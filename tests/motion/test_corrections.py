import numpy as np
import pytest

from analysis.motion.corrections import TURNING, corrected, like_rowing, offset_terms
from analysis.motion.evidence import MODELS
from analysis.motion.learned import shipped
from analysis.motion.motion import JOINTS


def sitting(frames: int = 5) -> np.ndarray:
    """One position of a body, y up [shape=(T, J, 2)] (made here)."""
    one = np.array(
        [[5, 170], [0, 110], [35, 60], [90, 70], [0, 0], [90, 45], [170, -15], [165, -35],
         [200, -20]], dtype=float,
    )  # fmt: skip
    return np.tile(one, (frames, 1, 1))


@pytest.mark.parametrize("joint", TURNING)
def test_terms_turn_with_the_body(joint: str) -> None:
    """All but the two fixed vectors turn with the segments (a body turned as a whole)."""
    turn = np.radians(4.0)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    upright, turned = sitting(), sitting() @ matrix.T
    terms, after = offset_terms(upright, joint), offset_terms(turned, joint)
    swings = slice(2, 2 + 2 * len(TURNING[joint]))
    assert after[..., swings] == pytest.approx(
        np.einsum("ij,tjn->tin", matrix, terms)[..., swings], abs=1e-9
    )


def test_a_learned_offset_moves_only_its_joint() -> None:
    weights = np.zeros(offset_terms(sitting(), "hip").shape[2])
    weights[0] = 0.05  # straight up
    moved = corrected(sitting(), "thunder", 100.0, {("thunder", "hip"): weights}, {}) - sitting()
    assert moved[:, JOINTS.index("hip")] == pytest.approx(np.tile([0.0, 5.0], (5, 1)))
    others = np.delete(moved, JOINTS.index("hip"), axis=1)
    assert not others.any()


def test_no_correction_is_large() -> None:
    """Whatever the body does, a joint moves by at most 0.12 trunk lengths."""
    rng = np.random.default_rng(0)
    anyhow = rng.normal(scale=100.0, size=(500, len(JOINTS), 2))
    for model in MODELS:
        moved = corrected(anyhow, model, 100.0, shipped().offsets, {}) - anyhow
        assert np.max(np.linalg.norm(moved, axis=-1)) <= 12.0 + 1e-9
        assert np.max(np.abs(moved)) > 0.5


def test_missing_stays_missing() -> None:
    gone = sitting()
    gone[2] = np.nan
    assert np.isnan(
        corrected(gone, "thunder", 100.0, shipped().offsets, shipped().postures)[2]
    ).all()


def test_who_does_not_sit_as_a_rower_is_left_as_seen() -> None:
    """Standing, walking, lying: the offsets were not learned there."""
    numbers = shipped()
    standing = sitting()
    for name, at in {"hip": (100, 90), "knee": (102, 45), "ankle": (100, 0)}.items():
        standing[:, JOINTS.index(name)] = at
    lying = sitting()[..., ::-1] * [1.0, -1.0]
    for body in (standing, lying):
        for model in MODELS:
            moved = corrected(body, model, 100.0, numbers.offsets, numbers.postures) - body
            assert not np.nan_to_num(moved).any()


def test_a_little_outside_takes_a_little_away() -> None:
    trunk = {("hip", "shoulder"): (-30.0, 10.0)}
    at = dict(zip(JOINTS, range(len(JOINTS)), strict=True))
    body = sitting(4)
    for frame, lean in enumerate((0.0, 25.0, 35.0, 45.0)):
        way = 110.0 * np.array([np.sin(np.radians(lean)), np.cos(np.radians(lean))])
        body[frame, at["shoulder"]] = body[frame, at["hip"]] + way
    assert like_rowing(body, trunk) == pytest.approx([1.0, 1.0, 0.5, 0.0])
    body[3, at["hip"]] = np.nan
    assert like_rowing(body, trunk)[3] == 1.0
