"""What ships of learned numbers is read as it stands in the file."""

from __future__ import annotations

import json
from importlib.resources import files

import numpy as np

from analysis.motion.learned import MODELS, read, shipped
from analysis.motion.motion import JOINTS

TEXT = (files("analysis.motion") / "learned.json").read_text(encoding="utf-8")


def test_what_a_setting_shifts_is_shifted_joint_by_joint_and_nothing_else_is() -> None:
    table = json.loads(TEXT)
    table["by_setting"] = {"erg": {}, "boat": {"mediapipe": {"ankle": [0.03, -0.09]}}}
    shift = read(json.dumps(table)).by_setting
    place = MODELS.index("mediapipe"), JOINTS.index("ankle")
    assert shift["boat"][place].tolist() == [0.03, -0.09]
    assert np.count_nonzero(shift["boat"]) == 2
    assert not shift["erg"].any()


def test_in_boats_knee_and_ankle_lie_lower_than_landmarks_say() -> None:
    # Feet behind the boat's side are placed too near to the knee (learned from 13 rendered boats).
    shift = shipped().by_setting["boat"]
    for joint in ("knee", "ankle"):
        assert (shift[:, JOINTS.index(joint), 1] < 0).all()
        assert (np.abs(shift[:, JOINTS.index(joint)]) < 0.15).all()
