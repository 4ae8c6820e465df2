"""One made-up review and what is written of it, for all tests of this folder."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_review import made_review

from analysis.output.annotated import write_annotated
from analysis.output.timing import Timing
from analysis.output.write import write_review
from analysis.result import Review


@pytest.fixture(scope="session")
def review(tmp_path_factory: pytest.TempPathFactory) -> Review:
    return made_review(
        tmp_path_factory.mktemp("clip"), strokes=3, stroke_s=1.5, fps=24.0, size=(320, 180)
    )


@pytest.fixture(scope="session")
def annotated(review: Review, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Timing]:
    path = tmp_path_factory.mktemp("annotated") / "annotated.mp4"
    return path, write_annotated(review, path)


@pytest.fixture(scope="session")
def written(review: Review, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_review(review, tmp_path_factory.mktemp("out"))
