"""A second review by another standard looks for no landmarks at all."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.coaching.standard import load_standard
from analysis.pose import estimate, landmarkers
from analysis.review import ReviewOptions, review_clip
from tests.pose.test_estimate import CLIP, needs_clip


@needs_clip
def test_another_standard_costs_no_landmarks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path))
    counted = {"estimated": 0, "Thunder": 0, "MediaPipe": 0}

    def count(owner: Any, attribute: str, name: str) -> None:
        real = getattr(owner, attribute)

        def counting(*words: Any, **more: Any) -> Any:
            counted[name] += 1
            return real(*words, **more)

        monkeypatch.setattr(owner, attribute, counting)

    count(estimate, "estimate_pose", "estimated")
    count(landmarkers.Thunder, "run", "Thunder")
    count(landmarkers.Landmarker, "run", "MediaPipe")
    options = ReviewOptions(to_s=7.0)
    first = review_clip(CLIP, load_standard("novice"), options)
    after_first = dict(counted)
    assert after_first["estimated"] == 1
    # They take turns, and look at every other frame at least.
    looked = after_first["Thunder"], after_first["MediaPipe"]
    frames = len(first.pose.t_s)
    assert 0.5 * frames < sum(looked) < 1.1 * frames and min(looked) > 0.2 * frames
    second = review_clip(CLIP, load_standard("trained"), options)
    assert counted == after_first
    assert np.array_equal(first.motion.angles_deg, second.motion.angles_deg, equal_nan=True)
    assert second.versions["standard"] != first.versions["standard"]
    for name, column in first.strokes.measures.items():
        assert np.array_equal(
            column.values, second.strokes.measures[name].values, equal_nan=True
        ), name


#: Reviews a clip by a standard, and tells what of what only figures and the fit need was loaded.
REVIEW = """
import sys
from pathlib import Path
from analysis.job import Job, perform
from analysis.review import ReviewOptions
clip, out, standard = sys.argv[1:]
job = Job(clip, out, "one", standard, ReviewOptions(to_s=7.0), draw=False)
print(perform(job, lambda share: None).status)
print([name for name in ("matplotlib.figure", "scipy.linalg") if name in sys.modules])
"""


@needs_clip
def test_another_standard_loads_neither_solver_nor_charts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "cache"))

    def review(standard: str) -> list[str]:
        words = [sys.executable, "-c", REVIEW, str(CLIP), str(tmp_path / "out"), standard]
        return subprocess.run(words, capture_output=True, text=True, check=True).stdout.split("\n")

    assert review("novice")[:2] == ["done", "['matplotlib.figure', 'scipy.linalg']"]
    assert review("trained")[:2] == ["done", "[]"]
