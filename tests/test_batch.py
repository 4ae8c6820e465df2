"""Many clips at once, with every way in which one of them can go wrong."""

import multiprocessing
import os
import signal
import stat
import subprocess
import sys
import threading
import time
from pathlib import Path

import fake_reviews
import pytest

from analysis.batch import run_reviews, worker_count
from analysis.job import Job, Outcome, perform

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and permissions")


def jobs_of(tmp_path: Path, *contents: str, **more) -> list[Job]:
    made = []
    for i, content in enumerate(contents):
        clip = tmp_path / f"{i}.mp4"
        clip.write_text(content)
        made.append(Job(str(clip), str(tmp_path / "out"), f"clip{i}", **more))
    return made


def statuses(outcomes: list[Outcome]) -> list[str]:
    return [outcome.status for outcome in outcomes]


@POSIX
def test_one_bad_clip_never_stops_the_rest(tmp_path):
    contents = ["ok a", "nobody", "ok b", "bug", "die", "ok c", "memory", "unsendable", "ok d"]
    events = []
    jobs = jobs_of(tmp_path, *contents)
    found = run_reviews(jobs, 2, events.append, review=fake_reviews.by_content)
    assert [outcome.job for outcome in found] == jobs
    assert statuses(found) == [
        "done", "failed", "done", "crashed", "crashed", "done", "crashed", "crashed", "done",
    ]  # fmt: skip
    assert [o.gathered["said"] for o in found if o.status == "done"] == ["a", "b", "c", "d"]
    assert found[1].why == "Nobody rows in this clip: film from the side."
    assert "ZeroDivisionError: by nought (fake_reviews.py line" in found[3].why
    assert "twice" in found[4].why
    assert "memory" in found[6].why
    ended = [event.outcome for event in events if event.outcome is not None]
    assert sorted(outcome.job.path for outcome in ended) == sorted(job.path for job in jobs)


@POSIX
def test_who_was_only_beside_a_crash_is_reviewed(tmp_path):
    found = run_reviews(
        jobs_of(tmp_path, "die-once", "sleep 1.0", "ok"), 2, review=fake_reviews.by_content
    )
    assert statuses(found) == ["done", "done", "done"]


def test_native_threads_are_held_to_one_and_given_back(tmp_path, monkeypatch):
    monkeypatch.setenv("OMP_NUM_THREADS", "5")
    monkeypatch.delenv("MKL_NUM_THREADS", raising=False)
    found = run_reviews(jobs_of(tmp_path, "ok"), 1, review=fake_reviews.by_content)
    assert found[0].gathered["threads"] == "1"
    assert os.environ["OMP_NUM_THREADS"] == "5"
    assert "MKL_NUM_THREADS" not in os.environ
    assert found[0].gathered["pid"] != os.getpid()


def test_workers_are_replaced_after_some_clips(tmp_path, monkeypatch):
    monkeypatch.setattr("analysis.batch.CLIPS_PER_WORKER", 2)
    found = run_reviews(jobs_of(tmp_path, *["ok"] * 5), 1, review=fake_reviews.by_content)
    pids = [outcome.gathered["pid"] for outcome in found]
    assert pids[0] == pids[1] != pids[2] == pids[3] != pids[4]


def test_progress_is_told_in_between(tmp_path):
    events = []
    run_reviews(jobs_of(tmp_path, "sleep 0.8"), 1, events.append, review=fake_reviews.by_content)
    assert [e.share for e in events if e.outcome is None][-1] == pytest.approx(0.5)
    assert events[-1].outcome is not None


def test_stop_gives_up_what_is_in_work(tmp_path):
    jobs = jobs_of(tmp_path, "ok", "sleep 60", "ok")
    begun = Path(jobs[1].path + ".begun")
    start = time.monotonic()
    found = run_reviews(jobs, 1, review=fake_reviews.by_content, stop=begun.exists)
    assert statuses(found) == ["done"]
    assert time.monotonic() - start < 30
    assert not running(int(begun.read_text() or 0))


def running(pid: int) -> bool:
    """Tell whether a process is there and no mere zombie."""
    if not pid:
        return False
    for child in multiprocessing.active_children():
        child.join(0)
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"


# Whoever starts the tests in the background may have had Ctrl-C ignored: here it counts.
SCRIPT = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.path[:0] = [{root!r}, {here!r}]
if __name__ == "__main__":
    import fake_reviews
    from analysis.batch import run_reviews
    from analysis.job import Job
    jobs = [Job(path, sys.argv[1], f"clip{{i}}") for i, path in enumerate(sys.argv[2:])]
    try:
        run_reviews(jobs, 1, review=fake_reviews.by_content)
    except KeyboardInterrupt:
        print("stopped")
"""


def begin(tmp_path: Path) -> tuple[subprocess.Popen[str], int]:
    """Start a run in another process; return it and the worker that is at work."""
    here = Path(__file__).parent
    script = tmp_path / "run.py"
    script.write_text(SCRIPT.format(root=str(here.parent), here=str(here)))
    jobs = jobs_of(tmp_path, "sleep 60", "ok")
    run = subprocess.Popen(
        [sys.executable, str(script), str(tmp_path / "out"), *(job.path for job in jobs)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    begun = Path(jobs[0].path + ".begun")
    until(lambda: begun.exists() and begun.read_text())
    return run, int(begun.read_text())


def until(condition, seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.02)


@POSIX
def test_ctrl_c_ends_everything_without_a_word_from_the_workers(tmp_path):
    run, worker = begin(tmp_path)
    os.killpg(run.pid, signal.SIGINT)
    said, complained = run.communicate(timeout=30)
    assert said.strip() == "stopped"
    assert complained == ""
    until(lambda: not running(worker))


@POSIX
def test_workers_end_when_the_program_is_killed(tmp_path):
    run, worker = begin(tmp_path)
    os.kill(run.pid, signal.SIGKILL)
    run.communicate(timeout=30)
    until(lambda: not running(worker), 5.0)


@POSIX
def test_private_files_are_for_their_owner_alone(tmp_path):
    old = os.umask(0o022)
    try:
        jobs = jobs_of(tmp_path, "ok", private=True)
        (outcome,) = run_reviews(jobs, 1, review=fake_reviews.by_content)
        assert stat.S_IMODE((Path(outcome.folder) / "pid").stat().st_mode) == 0o600
        perform(jobs[0], lambda share: None, fake_reviews.by_content)
        assert os.umask(0o022) == 0o022
    finally:
        os.umask(old)


def test_a_clip_in_work_elsewhere_is_left_alone(tmp_path):
    lock = tmp_path / "lock"
    jobs = jobs_of(tmp_path, "sleep 2.0", "ok", lock=str(lock))
    # The same pages, another run: in this process, while a worker is at it.
    both: list[Outcome] = []
    thread = threading.Thread(
        target=lambda: both.extend(run_reviews(jobs[:1], 1, review=fake_reviews.by_content))
    )
    thread.start()
    until(Path(jobs[0].path + ".begun").exists)
    beside = perform(jobs[0], lambda share: None, fake_reviews.by_content)
    other = perform(jobs[1], lambda share: None, fake_reviews.by_content)
    thread.join()
    assert beside.status == "elsewhere"
    assert other.status == "done"
    assert statuses(both) == ["done"]
    assert perform(jobs[0], lambda share: None, fake_reviews.by_content).status == "done"


def test_how_many_workers(monkeypatch):
    monkeypatch.setattr("analysis.batch._free_bytes", lambda: 2_900_000_000)
    assert worker_count(100) <= 2
    assert worker_count(1) == 1
    assert worker_count(100, wanted=7) == 7
    assert worker_count(3, wanted=7) == 3
    monkeypatch.setattr("analysis.batch._free_bytes", lambda: 0)
    assert worker_count(100) == 1


def test_nothing_to_do():
    assert run_reviews([]) == []
