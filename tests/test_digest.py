"""Fingerprints of values: nothing that differs is called the same."""

from dataclasses import dataclass

import numpy as np
import pytest

from analysis.digest import digest


@dataclass(frozen=True)
class One:
    a: float
    b: tuple[int, ...] = ()


@dataclass(frozen=True)
class Other:
    a: float
    b: tuple[int, ...] = ()


DIFFERENT = [
    None,
    True,
    1,
    1.0,
    np.nextafter(1.0, 2.0),
    -0.0,
    0.0,
    "1",
    b"1",
    "",
    (),
    ("1",),
    ("a", "b"),
    ("ab",),
    (("a",), "b"),
    ("a", ("b",)),
    {},
    {"a": 1},
    {"a": 2},
    {"b": 1},
    One(1.0),
    One(2.0),
    One(1.0, (1,)),
    Other(1.0),
    np.array([1.0, 2.0]),
    np.array([[1.0, 2.0]]),
    np.array([1.0, 2.0], np.float32),
    np.array([2.0, 1.0]),
    np.array([1.0, np.nan]),
    np.array(["a", "b"]),
]


def test_different_values_have_different_fingerprints() -> None:
    found = [digest(value) for value in DIFFERENT]
    assert len(set(found)) == len(DIFFERENT)
    assert digest("a", "b") != digest("ab")


def test_equal_values_have_the_same() -> None:
    assert digest({"a": 1, "b": (2.0,)}) == digest({"b": (2.0,), "a": 1})
    assert digest(float("nan")) == digest(-float("nan"))
    assert digest(One(0.1 + 0.2)) == digest(One(0.30000000000000004))
    turned = np.arange(6.0).reshape(2, 3).T
    assert digest(turned) == digest(np.ascontiguousarray(turned))
    assert digest(np.float64(1.5)) == digest(1.5)


@pytest.mark.parametrize(
    "value", [object(), {1, 2}, np.array([object()]), One(1.0, b={1})], ids=str
)
def test_what_cannot_be_told_apart_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        digest(value)
