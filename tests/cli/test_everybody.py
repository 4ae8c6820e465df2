"""``--who all``: one review for each rower of a clip, each in a folder of their own."""

from __future__ import annotations

from pathlib import Path

import pytest

import analysis.pose.crew as crew
from analysis.errors import NoRowerError, UnreadableClipError
from analysis.job import Job
from analysis.review import ReviewOptions
from cli.review_run import _label, run


def reviews(monkeypatch, tmp_path: Path, counts: dict[str, int | Exception], **how) -> list[Job]:
    """Run over clips in which so many row; nobody is really reviewed."""
    asked: list[Job] = []

    def count(path: Path, **_: object) -> int:
        found = counts[path.name]
        if isinstance(found, Exception):
            raise found
        return found

    def refuse(job: Job, tell) -> None:
        asked.append(job)
        raise NoRowerError("Nobody rows.")

    def here(jobs, workers, on_event, *, review):
        from analysis.job import Outcome

        for job in jobs:
            asked.append(job)
        return [Outcome(job, "failed", why="Nobody rows.") for job in jobs]

    monkeypatch.setattr(crew, "count_rowers", count)
    monkeypatch.setattr("analysis.batch.run_reviews", here)
    for name in counts:
        (tmp_path / name).write_bytes(b"")
    run(
        [tmp_path / name for name in counts],
        tmp_path / "out",
        how.pop("options", ReviewOptions()),
        standard_name="novice",
        draw=False,
        as_json=False,
        quiet=True,
        everybody=True,
        review=refuse,
    )
    return asked


def test_each_rower_has_a_review_and_a_folder(monkeypatch, tmp_path) -> None:
    jobs = reviews(monkeypatch, tmp_path, {"four_2026.mp4": 4, "ana.mp4": 1})
    assert [job.options.who for job in jobs if job.options] == [1, 2, 3, 4, "auto"]
    assert len({job.out_name for job in jobs}) == 5
    names = [job.options.athlete for job in jobs if job.options]
    assert names[0] == "four, seat 1 from the bow" and names[4] is None


def test_a_rower_who_cannot_be_reviewed_is_told_by_seat(monkeypatch, tmp_path, capsys) -> None:
    reviews(monkeypatch, tmp_path, {"pair.mp4": 2})
    index = (tmp_path / "out" / "index.html").read_text()
    assert "pair.mp4 (seat 1 from the bow)" in index and "pair.mp4 (seat 2 from the bow)" in index
    seats = [_label(Job("a/pair.mp4", "out", "pair", "novice", options=ReviewOptions(who=who)))
             for who in (2, "auto", "left")]  # fmt: skip
    assert seats == ["pair.mp4 (seat 2 from the bow)", "pair.mp4", "pair.mp4"]


def test_clip_that_cannot_be_read_is_left_to_its_review(monkeypatch, tmp_path) -> None:
    jobs = reviews(monkeypatch, tmp_path, {"bad.mp4": UnreadableClipError("No video.")})
    assert [job.options for job in jobs] == [ReviewOptions()]


@pytest.mark.parametrize("rowers", [2, 8])
def test_given_name_stays_in_front(monkeypatch, tmp_path, rowers: int) -> None:
    jobs = reviews(
        monkeypatch, tmp_path, {"boat.mp4": rowers}, options=ReviewOptions(athlete="Club")
    )
    assert len(jobs) == rowers
    assert all(job.options and job.options.athlete.startswith("Club, seat") for job in jobs)
