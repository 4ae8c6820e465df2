"""What is kept of a model's looks at the rower."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pose.landmarkers import Landmarker, Thunder
from tests.pose import made_people as made

T_S = np.arange(0.0, 3.0, 0.05)
XY = np.array([made.person(made.rowing(t), stature_px=300.0).xy_px for t in T_S])


@pytest.mark.parametrize("source", [Thunder, Landmarker])
def test_either_models_looks_make_a_person_of_the_same_points(source) -> None:
    company = T_S > 2.0
    person = made.filled(source, XY).person(T_S, company)
    assert person.t_s == pytest.approx(np.arange(0.0, 2.95, 0.1))  # ten times a second
    at = np.searchsorted(T_S, person.t_s - 1e-6)
    assert np.allclose(person.xy_px, XY[at])
    assert (person.score == 0.9).all()
    assert (person.unsure == company[at]).all()


def test_a_frame_not_looked_at_takes_from_the_nearest_that_was() -> None:
    filling = made.filled(Thunder, XY)
    filling.asked[[10, 11]] = False
    held = filling.held_coco_px(T_S)
    assert np.allclose(held[[10, 11]], XY[[9, 12]])
    assert np.allclose(np.delete(held, [10, 11], axis=0), np.delete(XY, [10, 11], axis=0))
