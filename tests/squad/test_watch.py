"""A folder watched: clips as they come, bad ones, stops, restarts, somebody forgotten meanwhile."""

import functools
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import fake_squad
import pytest

from analysis.errors import SettingsError
from analysis.output.season.running_page import RUNNING_PAGE
from analysis.season import read
from analysis.season.forget import forget, traces
from analysis.season.store import Season
from analysis.squad import arrivals
from analysis.squad.plan import SquadSettings
from analysis.squad.watch import Watch

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
DAY = fake_squad.DAYS[0]


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """Stand-in clips are no containers: they only have to be quiet, and not for long."""
    for name in ("QUIET_S", "LONG_QUIET_S"):
        monkeypatch.setattr(arrivals, name, 0.3)
    monkeypatch.setattr("analysis.squad.watch.LOOK_S", 0.1)
    monkeypatch.setattr("analysis.squad.watch.PAGE_S", 0.1)


class Session:
    """A watch in a thread of its own."""

    def __init__(self, tmp_path, **settings):
        self.folder, self.season = tmp_path / "sync", tmp_path / "season"
        self.folder.mkdir(exist_ok=True)
        self.said = []
        self._stop, self._failed = threading.Event(), []
        self._settings = settings
        self._thread = threading.Thread(target=self._run)

    def _run(self):
        try:
            with Season(self.season) as season:
                settings = SquadSettings(self.season, **self._settings)
                watch = Watch(
                    self.folder, season, settings, workers=2, tell=self.said.append,
                    review=fake_squad.review,
                )  # fmt: skip
                watch.run(self._stop.is_set)
        except BaseException as error:
            self._failed.append(error)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._stop.set()
        self._thread.join(30)
        assert not self._thread.is_alive()
        if self._failed:
            raise self._failed[0]

    def until(self, condition, seconds=30.0):
        end = time.monotonic() + seconds
        while not condition():
            assert not self._failed, self._failed
            assert time.monotonic() < end, (self.said, self.page())
            time.sleep(0.05)

    def page(self):
        path = self.season / RUNNING_PAGE
        return path.read_text() if path.exists() else ""

    def clips(self):
        with Season(self.season) as season:
            return {clip.file: clip for clip in read.clips(season)}


def test_clips_are_reviewed_as_they_come(tmp_path):
    with Session(tmp_path) as session:
        session.until(lambda: "Nothing yet" in session.page())
        assert 'http-equiv="refresh"' in session.page()
        slow = fake_squad.film(session.folder, "ann", DAY, takes_s=2.0, layback_deg=26.0)
        session.until(lambda: "<progress" in session.page())
        # Another one comes while the first is in work, and does not wait for it.
        fake_squad.film(session.folder, "bo", DAY, seed=2)
        session.until(lambda: "bo_2026-01-12.mp4" in session.clips())
        assert slow.name not in session.clips()
        session.until(lambda: slow.name in session.clips())
        session.until(lambda: session.page().count("/report.html") == 2)
        page = session.page()
        assert "layback_deg title" in page and "Nothing to fix first" in page
        assert ">Ann<" in (session.season / "index.html").read_text()
        assert any(line.startswith("ann: Work on layback first.") for line in session.said)
    page = session.page()
    assert "Stopped at" in page and "refresh" not in page


def test_what_was_in_work_when_it_stopped_is_still_on_the_page(tmp_path):
    with Session(tmp_path) as session:
        slow = fake_squad.film(session.folder, "ann", DAY, takes_s=20.0)
        session.until(lambda: "<progress" in session.page())
    assert slow.name in session.page() and "<progress" not in session.page()
    assert session.clips() == {}


def test_bad_ones_are_told_once_and_tried_again_when_they_change(tmp_path):
    with Session(tmp_path) as session:
        bad = fake_squad.film(session.folder, "ann", DAY, fails="Nobody rows here.")
        ill = fake_squad.film(session.folder, "bo", DAY, strokes="six")
        session.until(lambda: len(session.clips()) == 2)
        session.until(lambda: "Nobody rows here." in session.page())
        fake_squad.film(session.folder, "cy", DAY, seed=3)
        session.until(lambda: len(session.clips()) == 3)
        for file in (bad.name, ill.name):
            assert sum(line.startswith(file) for line in session.said) == 1
        fake_squad.film(session.folder, "ann", DAY, seed=4)
        session.until(lambda: session.clips()[bad.name].reviewed)
        session.until(lambda: "Nobody rows here." not in session.page())
    # What crashed is not tried at every start; the squad command does, and so does a changed file.
    with Session(tmp_path) as again:
        again.until(lambda: "could not" in again.page().lower())
        time.sleep(1.0)
        assert again.said == []


def test_unclear_names_wait_until_they_are_clear(tmp_path):
    sheet = tmp_path / "session.csv"
    sheet.write_text(f"file;athlete;date\nlater.mp4;Cy;{DAY}\n")
    with Session(tmp_path, sheet=sheet) as session:
        (session.folder / "IMG_0001.mp4").write_text(json.dumps({"seed": 1}))
        session.until(lambda: "IMG_0001.mp4 is not in the sheet" in session.page())
        # A line whose clip has not come yet is no problem.
        assert "later.mp4" not in session.page()
        sheet.write_text(f"file;athlete;date\nlater.mp4;Cy;{DAY}\nIMG_0001.mp4;Ann;{DAY}\n")
        session.until(lambda: "IMG_0001.mp4" in session.clips())
        session.until(lambda: "not in the sheet" not in session.page())


def test_a_stop_gives_up_what_is_in_work_and_the_next_session_goes_on(tmp_path):
    with Session(tmp_path) as session:
        fake_squad.film(session.folder, "ann", DAY, seed=1)
        session.until(lambda: len(session.clips()) == 1)
        long = fake_squad.film(session.folder, "bo", DAY, takes_s=60.0)
        session.until(lambda: "<progress" in session.page())
    assert list(session.clips()) == ["ann_2026-01-12.mp4"]
    assert not list(session.season.rglob("*.part"))
    long.write_text(long.read_text().replace("60.0", "0.0"))
    with Session(tmp_path) as again:
        again.until(lambda: len(again.clips()) == 2)
        assert sum("ann" in line for line in again.said) == 0  # done is not done again


def test_changed_or_taken_away_while_in_work(tmp_path):
    with Session(tmp_path) as session:
        changed = fake_squad.film(session.folder, "ann", DAY, takes_s=1.5, seed=1, strokes=5)
        gone = fake_squad.film(session.folder, "bo", DAY, takes_s=1.5, seed=2)
        session.until(lambda: session.page().count("<progress") == 2)
        fake_squad.film(session.folder, "ann", DAY, seed=1, strokes=7)
        gone.unlink()
        session.until(lambda: changed.name in session.clips())
        assert session.clips()[changed.name].strokes == 7
        time.sleep(1.0)
        assert list(session.clips()) == [changed.name]


def test_somebody_forgotten_meanwhile_does_not_come_back(tmp_path):
    with Session(tmp_path) as session:
        fake_squad.film(session.folder, "ann", DAY, seed=1)
        kept = fake_squad.film(session.folder, "bo", DAY, seed=2)
        session.until(lambda: session.page().count("/report.html") == 2)
        with Season(session.season) as season:
            forget(season, traces(season, "bo"), keep_clips=True)
        fake_squad.film(session.folder, "cy", DAY, seed=3)
        session.until(lambda: "cy_2026-01-12.mp4" in session.clips())
        time.sleep(1.0)
        assert sorted(session.clips()) == ["ann_2026-01-12.mp4", "cy_2026-01-12.mp4"]
        assert kept.exists()
        assert "Bo<" not in session.page() and kept.name not in session.page()


def test_a_folder_that_is_not_there(tmp_path):
    session = Session(tmp_path)
    session.folder.rmdir()
    with pytest.raises(SettingsError, match="cannot be read"), session:
        session._thread.join(10)


SCRIPT = """
import sys
sys.path[:0] = {places!r}
if __name__ == "__main__":
    import functools
    import fake_squad
    from analysis.squad import arrivals, watch
    from cli.main import main
    arrivals.QUIET_S = arrivals.LONG_QUIET_S = 0.3
    watch.LOOK_S = watch.PAGE_S = 0.1
    watch.Watch = functools.partial(watch.Watch, review=fake_squad.review)
    main()
"""


@POSIX
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_the_command_stops_cleanly_and_killed_goes_on(tmp_path, number):
    script, folder, season = tmp_path / "run.py", tmp_path / "sync", tmp_path / "season"
    tests = Path(__file__).parents[1]
    script.write_text(
        SCRIPT.format(places=[str(tests.parent), str(tests / "season"), str(tests / "squad")])
    )
    begin = functools.partial(
        subprocess.Popen,
        [sys.executable, str(script), "watch", str(folder), "--season", str(season)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    fake_squad.film(folder, "ann", DAY, seed=1)
    running = begin()
    end = time.monotonic() + 60
    while (
        not (season / RUNNING_PAGE).exists()
        or "/report.html" not in (season / RUNNING_PAGE).read_text()
    ):
        assert time.monotonic() < end and running.poll() is None, running.communicate()
        time.sleep(0.05)
    long = fake_squad.film(folder, "bo", DAY, takes_s=60.0)
    while "<progress" not in (season / RUNNING_PAGE).read_text():
        assert time.monotonic() < end
        time.sleep(0.05)
    os.killpg(running.pid, number)
    said, complained = running.communicate(timeout=30)
    if number != signal.SIGKILL:
        assert (running.returncode, complained) == (0, "")
        assert said.splitlines()[-1] == "Stopped; what was finished is kept."
    long.write_text(long.read_text().replace("60.0", "0.0"))
    running = begin()
    while len((season / RUNNING_PAGE).read_text().split("/report.html")) != 3:
        assert time.monotonic() < end
        time.sleep(0.05)
    os.killpg(running.pid, signal.SIGTERM)
    assert running.communicate(timeout=30)[1] == ""
    with Season(season) as opened:
        assert opened.check() == []
        assert [clip.reviewed for clip in read.clips(opened)] == [True, True]
