"""A squad's clips into the season: once each, whatever happens in between."""

import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import fake_squad
import pytest

from analysis.errors import SettingsError
from analysis.job import perform
from analysis.season import read
from analysis.season.export import season_data
from analysis.season.store import Season
from analysis.squad.plan import SquadSettings, make_plan
from analysis.squad.run import run_squad

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and permissions")


def here(jobs, workers, on_event, *, review, stop=None):
    """Carry out jobs in this process, one after the other."""
    from analysis.job import Event

    outcomes = []
    for i, job in enumerate(jobs):
        if stop is not None and stop():
            break
        outcomes.append(perform(job, lambda share: None, review))
        on_event(Event(i, job, 1.0, outcomes[-1]))
    return outcomes


def run(paths, folder, **more):
    settings = SquadSettings(season=folder, **more.pop("settings", {}))
    with Season(folder) as season:
        return run_squad(
            paths, season, settings, review=fake_squad.review, runner=more.pop("runner", here),
            **more,
        )  # fmt: skip


def data(folder):
    with Season(folder, create=False) as season:
        assert season.check() == []
        return season_data(season)


@pytest.fixture
def places(tmp_path):
    return tmp_path / "clips", tmp_path / "season"


def test_a_session_is_reviewed_and_done_is_not_done_again(places):
    clips, season = places
    paths = fake_squad.film_squad(clips, 3)
    first = run(paths, season)
    assert (first.reviewed, first.failed) == (9, ())
    assert first.plan.new_athletes == ("rower00", "rower01", "rower02")
    before = data(season)
    second = run(paths, season)
    assert second.reviewed == 0
    assert len(second.plan.done) == 9
    assert data(season) == before
    page = first.page.read_text()
    assert page.count("athletes/rower01") >= 1  # a link to the athlete's own page
    assert page.count(">Rower01<") >= 1  # under the name as people write it


def test_what_changed_is_done_again(places):
    clips, season = places
    paths = fake_squad.film_squad(clips, 2)
    run(paths, season)
    fake_squad.film(clips, "rower00", fake_squad.DAYS[0], seed=77, layback_deg=15.0)
    result = run(paths, season)
    assert [p.place.file for p in result.plan.to_do] == [paths[0].name]
    assert len(read_clips(season)) == 6
    assert run(paths, season, settings={"standard": "trained"}).reviewed == 6
    assert run(paths, season, settings={"standard": "trained", "draw": False}).reviewed == 6
    assert run(paths, season, settings={"standard": "trained", "draw": False}).reviewed == 0
    again = {"standard": "trained", "draw": False, "again": True}
    assert run(paths, season, settings=again).reviewed == 6


def read_clips(folder):
    with Season(folder, create=False) as season:
        return read.clips(season)


def test_another_version_of_sideon_reviews_again(places, monkeypatch):
    clips, season = places
    paths = fake_squad.film_squad(clips, 1)
    run(paths, season)
    monkeypatch.setattr("analysis.squad.plan.__version__", "99.0")
    assert run(paths, season).reviewed == 3


def test_moved_clips_are_known_by_their_content(places):
    clips, season = places
    paths = fake_squad.film_squad(clips, 2)
    run(paths, season)
    moved = clips.with_name("archive")
    shutil.move(clips, moved)
    result = run(sorted(moved.iterdir()), season)
    assert result.reviewed == 0
    assert {clip.path for clip in read_clips(season)} == {f"../archive/{p.name}" for p in paths}


def test_failures_are_told_each_time_but_tried_again_only_when_it_may_help(places):
    clips, season = places
    good = fake_squad.film(clips, "ann", fake_squad.DAYS[0])
    bad = fake_squad.film(clips, "bo", fake_squad.DAYS[0], fails="Nobody rows here.")
    ill = fake_squad.film(clips, "cy", fake_squad.DAYS[0], strokes="six")
    first = run([good, bad, ill], season)
    assert first.reviewed == 1
    assert [file for file, _ in first.failed] == [bad.name, ill.name]
    second = run([good, bad, ill], season)
    assert [p.place.file for p in second.plan.to_do] == [ill.name]
    assert dict(second.failed)[bad.name] == "Nobody rows here."
    page = first.page.read_text()
    assert "Nobody rows here." in page


def test_pages_of_a_corrected_name_go(places):
    clips, season = places
    path = fake_squad.film(clips, "jonh", fake_squad.DAYS[0])
    run([path], season)
    assert (season / "athletes" / "jonh").exists()
    right = path.rename(path.with_name(path.name.replace("jonh", "john")))
    result = run([right], season)
    # Close to the name that the season knows: it is asked for.
    assert result.reviewed == 0
    assert "say --add" in result.plan.problems[0]
    assert run([right], season, settings={"added": ("john",)}).reviewed == 1
    assert [clip.athlete for clip in read_clips(season)] == ["john"]
    assert not list((season / "athletes" / "jonh").glob("*/report.html"))


def test_two_copies_of_one_clip(places):
    clips, season = places
    path = fake_squad.film(clips, "ann", fake_squad.DAYS[0])
    twin = shutil.copy(path, path.with_name("ann_2026-01-12_copy.mp4"))
    other = shutil.copy(path, path.with_name("bo_2026-01-12.mp4"))
    result = run([path, Path(twin), Path(other)], season)
    assert result.reviewed == 1
    assert result.plan.remarks == (
        "ann_2026-01-12_copy.mp4 is the same clip as ann_2026-01-12.mp4 and is left out.",
    )
    assert result.plan.problems == (
        "bo_2026-01-12.mp4 is the same clip as ann_2026-01-12.mp4: ann or bo?",
    )


def test_sheet_stage_and_note_reach_the_review(places, tmp_path):
    clips, season = places
    path = fake_squad.film(clips, "IMG", "1")
    sheet = tmp_path / "session.csv"
    sheet.write_text(
        f"file;athlete;date;stage;boat_or_erg;note\n{path.name};Ann;12.01.2026;full slide;erg;wet\n"
    )
    assert run([path], season, settings={"sheet": sheet}).reviewed == 1
    (clip,) = read_clips(season)
    assert (clip.athlete, clip.date, clip.stage, clip.note) == (
        "Ann", "2026-01-12", "full_slide", "wet",
    )  # fmt: skip
    with Season(season) as opened:
        assert opened.sheets() == ["../session.csv"]


def test_which_rower_reaches_the_review_and_another_one_is_another_review(places, tmp_path):
    clips, season = places
    path = fake_squad.film(clips, "IMG", "1")
    sheet = tmp_path / "session.csv"

    def planned(who):
        sheet.write_text(f"file,athlete,date,who\n{path.name},Ann,2026-01-12,{who}\n")
        return run([path], season, settings={"sheet": sheet})

    first = planned("left")
    assert [each.job.options.who for each in first.plan.to_do] == ["left"]
    assert planned("left").plan.to_do == ()
    assert [each.job.options.who for each in planned("2").plan.to_do] == [2]


@pytest.mark.parametrize("cells", ["Ann,2026-01-12,all,", "Ann,2026-01-12,,three quarters", ",,,"])
def test_a_line_that_is_unclear_is_told_once(places, tmp_path, cells):
    clips, season = places
    path = fake_squad.film(clips, "IMG", "1")
    sheet = tmp_path / "session.csv"
    sheet.write_text(f"file,athlete,date,who,stage\n{path.name},{cells}\n")
    (problem,) = run([path], season, settings={"sheet": sheet}).plan.problems
    assert problem.startswith("line 2: ")


def test_a_sheet_that_cannot_be_used_changes_nothing(places, tmp_path):
    clips, season = places
    path = fake_squad.film(clips, "ann", fake_squad.DAYS[0])
    with pytest.raises(SettingsError, match="cannot be read"):
        run([path], season, settings={"sheet": tmp_path / "none.csv"})
    assert read_clips(season) == []


def test_stop_leaves_the_rest_for_next_time(places):
    clips, season = places
    paths = fake_squad.film_squad(clips, 4, fake_squad.DAYS[:1])
    seen = []
    result = run(paths, season, on_event=seen.append, stop=lambda: len(seen) >= 2)
    assert (result.reviewed, result.stopped) == (2, 2)
    assert run(paths, season).reviewed == 2


@POSIX
def test_everything_in_the_season_is_for_its_owner_alone(places):
    clips, season = places
    run(fake_squad.film_squad(clips, 2), season)
    for path in season.rglob("*"):
        mode = stat.S_IMODE(path.stat().st_mode)
        assert mode & 0o077 == 0, f"{path}: {oct(mode)}"


def test_the_kept_standard_holds_nobody_elses_limits(places, tmp_path):
    clips, season = places
    own = tmp_path / "ours.toml"
    own.write_text(
        'schema = 1\nname = "ours"\nbased_on = "novice"\n'
        '[athlete."rower00".layback_deg]\nhigh = 25.0\n'
    )
    run(
        fake_squad.film_squad(clips, 2, fake_squad.DAYS[:1]),
        season,
        settings={"standard": str(own)},
    )
    texts = {row["digest"]: row["text"] for row in data(season)["standards"]}
    by_athlete = {clip.athlete: texts[clip.standard] for clip in read_clips(season)}
    assert "rower00" in by_athlete["rower00"]
    assert "rower00" not in by_athlete["rower01"]


KILLED = """
import sys
sys.path[:0] = {places!r}
if __name__ == "__main__":
    from pathlib import Path
    import fake_squad
    from analysis.season.store import Season
    from analysis.squad.plan import SquadSettings
    from analysis.squad.run import run_squad
    folder = Path(sys.argv[2])
    with Season(folder) as season:
        result = run_squad(
            sorted(Path(sys.argv[1]).iterdir()), season, SquadSettings(folder),
            workers=int(sys.argv[3]), review=fake_squad.review,
            on_event=lambda e: e.outcome and print(e.job.path, flush=True),
        )
    print("whole", result.reviewed)
"""


def begin(tmp_path, clips, season, workers=2):
    script = tmp_path / "run.py"
    beside = Path(__file__).parent
    places = [str(beside.parents[1]), str(beside.parent / "season"), str(beside)]
    script.write_text(KILLED.format(places=places))
    return subprocess.Popen(
        [sys.executable, str(script), str(clips), str(season), str(workers)],
        stdout=subprocess.PIPE,
        text=True,
    )


@POSIX
def test_sixty_clips_killed_in_the_middle_and_resumed(places, tmp_path):
    """Twenty athletes, three days; killed twice; the same database as an undisturbed run."""
    clips, season = places
    paths = fake_squad.film_squad(clips, 20)
    for path in paths:
        said = json.loads(path.read_text())
        path.write_text(json.dumps(said | {"takes_s": 0.02}))
    for kill_after in (11, 23):
        killed = begin(tmp_path, clips, season)
        assert killed.stdout is not None
        for _ in range(kill_after):
            assert killed.stdout.readline()
        time.sleep(0.011)
        os.kill(killed.pid, signal.SIGKILL)
        killed.communicate()
        done = len(read_clips(season))
        assert kill_after <= done < 60
    last = begin(tmp_path, clips, season)
    assert last.communicate()[0].splitlines()[-1] == f"whole {60 - done}"
    undisturbed = tmp_path / "undisturbed"
    assert run(paths, undisturbed).reviewed == 60
    assert data(season) == data(undisturbed)
    pages = [sorted(p.relative_to(s) for p in s.rglob("*.html")) for s in (season, undisturbed)]
    assert pages[0] == pages[1]
    assert (season / "index.html").read_text() == (undisturbed / "index.html").read_text()


@POSIX
def test_two_runs_at_once_share_the_work(places, tmp_path):
    clips, season = places
    paths = fake_squad.film_squad(clips, 8, fake_squad.DAYS[:1])
    for path in paths:
        path.write_text(json.dumps(json.loads(path.read_text()) | {"takes_s": 0.2}))
    both = [begin(tmp_path, clips, season, workers=1) for _ in range(2)]
    for one in both:
        one.communicate(timeout=60)
        assert one.returncode == 0
    assert len(read_clips(season)) == 8
    assert all(clip.reviewed for clip in read_clips(season))
    alone = tmp_path / "alone"
    run(paths, alone)
    assert data(season) == data(alone)


def test_plan_alone_writes_nothing(places):
    clips, folder = places
    paths = fake_squad.film_squad(clips, 2)
    with Season(folder) as season:
        plan = make_plan(paths, season, SquadSettings(folder))
        assert len(plan.to_do) == 6
        assert [p.place.date for p in plan.to_do] == sorted(p.place.date for p in plan.to_do)
        assert read.clips(season) == []


def test_another_language_is_another_page(tmp_path):
    """What was made in English is made again in German, once; the season's own key stays."""
    clips = fake_squad.film_squad(tmp_path / "clips", 1, fake_squad.DAYS[:1])
    with Season(tmp_path / "season") as season:
        english, german = (
            make_plan(clips, season, SquadSettings(season.folder, language=code))
            for code in ("en", "de")
        )
    jobs = [plan.to_do[0].job for plan in (english, german)]
    assert [job.language for job in jobs] == ["en", "de"]
    run(clips, tmp_path / "season")
    for code, again in (("en", 0), ("de", 1), ("de", 0)):
        result = run(clips, tmp_path / "season", settings={"language": code})
        assert len(result.plan.to_do) == again
