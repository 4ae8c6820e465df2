import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.motion import plane


def test_upright_view_flips_y_only() -> None:
    origin = np.array([100.0, 200.0])
    assert plane.to_place(np.array([110.0, 150.0]), origin, 0.0, "right") == pytest.approx([10, 50])
    assert plane.to_place(np.array([110.0, 150.0]), origin, 0.0, "left") == pytest.approx([-10, 50])


@pytest.mark.parametrize("facing", ["left", "right"])
def test_leaning_upright_becomes_vertical(facing: str) -> None:
    lean = np.radians(7.0)
    top = np.array([np.sin(lean), -np.cos(lean)])  # clockwise lean, picture y down
    assert plane.to_place(top, np.zeros(2), 7.0, facing) == pytest.approx([0, 1], abs=1e-12)


@given(
    st.floats(-2000, 2000),
    st.floats(-2000, 2000),
    st.floats(-20, 20),
    st.sampled_from(["left", "right"]),
)
def test_there_and_back(x, y, tilt_deg, facing) -> None:
    point, origin = np.array([x, y]), np.array([320.0, 180.0])
    there = plane.to_place(point, origin, tilt_deg, facing)
    assert plane.to_picture(there, origin, tilt_deg, facing) == pytest.approx(point, abs=1e-9)
