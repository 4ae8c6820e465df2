"""The season's contents: written whole or not at all, by one run or two, killed or not."""

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import made_season as made
import pytest

from analysis.coaching.change import Summary
from analysis.errors import SettingsError
from analysis.season import read
from analysis.season.record import clip_folder_name, folder_name, name_key
from analysis.season.store import Season

HERE = Path(__file__).parent


@pytest.fixture
def season(tmp_path):
    with Season(tmp_path / "season") as opened:
        yield opened


def test_what_goes_in_comes_out(season):
    record = made.record(3, layback_deg=26.0)
    assert season.save(made.place(note="windy"), record, made.STANDARD) == []
    (clip,) = read.clips(season)
    assert (clip.athlete, clip.date, clip.note) == ("Ann", "2026-01-12", "windy")
    assert (clip.stage, clip.setting, clip.strokes) == ("half_slide", "erg", 6)
    assert clip.first_check == record.first_check == "layback"
    assert clip.drill_name == "The layback drill"
    assert (clip.next_stage, clip.ready, clip.missing) == ("full_slide", False, ("x",))
    assert clip.quality == record.quality
    assert read.findings(season, clip) == list(record.findings)
    assert read.hints(season, clip) == list(record.hints)
    back = read.measures(season, clip)
    assert list(back) == list(record.measures)
    told = {name: pair for name, pair in record.measures.items() if name != "head_deg"}
    assert {name: back[name] for name in told} == told
    assert back["head_deg"][1].n == 0


def test_what_cannot_be_told_stays_untold(season):
    season.save(made.place(), made.record(), made.STANDARD)
    (clip,) = read.clips(season)
    unit, summary = read.measures(season, clip)["head_deg"]
    assert unit == "deg"
    assert isinstance(summary, Summary)
    assert summary.mean != summary.mean


def test_a_clip_again_takes_the_place_of_the_first(season):
    season.save(made.place(), made.record(1), made.STANDARD)
    season.save(made.place(key="k2"), made.record(2), made.STANDARD)
    assert season.known(made.place().sha256).settings_key == "k2"
    assert len(read.clips(season)) == 1
    counted = season.database.execute("SELECT count(*) FROM strokes").fetchone()[0]
    assert counted == 6


def test_new_content_under_an_old_path_replaces_it(season):
    old, new = made.place(content="first"), made.place(content="second")
    season.save(old, made.record(1), made.STANDARD)
    assert season.save(new, made.record(2), made.STANDARD) == [old.pages]
    assert [clip.sha256 for clip in read.clips(season)] == [new.sha256]


def test_a_clip_given_to_another_athlete_moves(season):
    wrong = made.place("Anne", content="same")
    right = made.place("Ann", content="same")
    season.save(wrong, made.record(), made.STANDARD)
    assert season.save(right, made.record(), made.STANDARD) == [wrong.pages]
    assert season.athletes() == ["Ann"]


def test_a_failure_is_kept_with_its_reason(season):
    season.save(made.place(), "Only sound in this file.", made.STANDARD, again=True)
    (clip,) = read.clips(season)
    assert not clip.reviewed
    assert clip.error == "Only sound in this file."
    assert season.known(clip.sha256).again


def test_one_athlete_in_two_spellings(season):
    season.save(made.place("Ann Lee"), made.record(), made.STANDARD)
    season.save(made.place(" ann  lee", file="b.mp4"), made.record(), made.STANDARD)
    assert season.athletes() == ["Ann Lee"]
    assert len(read.clips(season, athlete="ANN LEE")) == 2


def test_nobody_of_that_name(season):
    season.save(made.place("Bo"), made.record(), made.STANDARD)
    with pytest.raises(SettingsError, match="known are: Bo"):
        read.clips(season, athlete="Cy")


def test_consent_comes_and_goes(season):
    season.save(made.place("Ann"), made.record(), made.STANDARD)
    season.consent("Bo", "2026-01-02", "a parent")
    season.consent("Ann", "2026-01-03", "herself")
    assert [(a.name, a.consent_date, a.consent_by) for a in read.athletes(season)] == [
        ("Ann", "2026-01-03", "herself"),
        ("Bo", "2026-01-02", "a parent"),
    ]
    season.withdraw_consent("Ann")
    assert not read.athletes(season)[0].consented


def test_notes_newest_first(season):
    season.save(made.place(), made.record(), made.STANDARD)
    season.write_note("Ann", "2026-01-02", "Sits tall.")
    season.write_note("Ann", "2026-01-09", "Hands quick.")
    assert read.notes(season, "ann") == [
        ("2026-01-09", "Hands quick."),
        ("2026-01-02", "Sits tall."),
    ]


def test_a_save_that_fails_changes_nothing(season):
    season.save(made.place(), made.record(1), made.STANDARD)
    twice = made.record(2)
    broken = type(twice)(**{**vars(twice), "findings": (twice.findings[0], twice.findings[0])})
    with pytest.raises(Exception, match="UNIQUE"):
        season.save(made.place(key="k2"), broken, made.STANDARD)
    assert season.known(made.place().sha256).settings_key == "k1"
    assert season.check() == []


def test_it_opens_elsewhere(tmp_path):
    with Season(tmp_path / "here") as season:
        season.save(made.place(), made.record(), made.STANDARD)
        before = read.clips(season)
    shutil.move(tmp_path / "here", tmp_path / "there")
    with Season(tmp_path / "there", create=False) as season:
        assert read.clips(season) == before
        assert season.check() == []
        for row in season.database.execute("SELECT path, pages FROM clips"):
            assert not Path(row["path"]).is_absolute()
            assert not Path(row["pages"]).is_absolute()


def test_repeats_of_a_day_give_the_sem(season):
    for i, layback in enumerate((10.0, 12.0)):
        season.save(made.place(file=f"{i}.mp4"), made.record(i, layback_deg=layback), made.STANDARD)
    season.save(made.place("Bo", file="b.mp4"), made.record(5), made.STANDARD)
    season.save(made.place(file="other.mp4"), made.record(6, stage="full_slide"), made.STANDARD)
    one, two = (read.measures(season, c)["layback_deg"][1].mean for c in read.clips(season)[:2])
    found = read.measured_sem(season)["layback_deg"]
    # Two repeats: the pooled spread is |difference| / √2.
    assert found.df == 1
    assert found.sem == pytest.approx(abs(one - two) / 2**0.5)


WRITER = """
import sys
sys.path[:0] = [{root!r}, {here!r}]
import made_season as made
from pathlib import Path
from analysis.season.store import Season
who = sys.argv[2]
with Season(Path(sys.argv[1])) as season:
    print("open", flush=True)
    for i in range(int(sys.argv[3])):
        season.save(made.place(who, file=f"{{who}}{{i}}.mp4"), made.record(i), made.STANDARD)
        print(i, flush=True)
"""


def writer(folder, who, clips):
    root = str(HERE.parent.parent)
    code = WRITER.format(root=root, here=str(HERE))
    return subprocess.Popen(
        [sys.executable, "-c", code, str(folder), who, str(clips)],
        stdout=subprocess.PIPE,
        text=True,
    )


def test_two_runs_at_once_take_turns(tmp_path):
    runs = [writer(tmp_path / "season", who, 25) for who in ("Ann", "Bo")]
    assert [run.communicate()[0].split()[-1] for run in runs] == ["24", "24"]
    with Season(tmp_path / "season", create=False) as season:
        assert season.check() == []
        assert len(read.clips(season)) == 50


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_killed_while_writing_loses_nothing_that_was_written(tmp_path):
    run = writer(tmp_path / "season", "Ann", 100_000)
    assert run.stdout is not None
    for line in run.stdout:
        if line.strip() == "30":
            break
    time.sleep(0.013)
    os.kill(run.pid, signal.SIGKILL)
    rest = run.communicate()[0].split()
    told = int(rest[-1]) if rest else 30
    with Season(tmp_path / "season", create=False) as season:
        assert season.check() == []
        found = read.clips(season)
        assert len(found) in (told + 1, told + 2)
        assert {len(read.findings(season, clip)) for clip in found} == {3}
        assert {len(read.measures(season, clip)) for clip in found} == {5}


@pytest.mark.parametrize(
    ("name", "folder"),
    [("Ann", "ann"), ("ann", "ann"), ("Ann Lee", "ann-lee")],
)
def test_folder_names(name, folder):
    assert folder_name(name) == folder


def test_folder_names_keep_athletes_apart():
    names = ["Zoe", "Zoë", "Ann Lee", "Ann-Lee", "李", "Ann/Lee", "..", "ann.lee"]
    assert len({folder_name(name) for name in names}) == len({name_key(n) for n in names})
    assert all(f.replace("-", "").isalnum() and f.isascii() for f in map(folder_name, names))


def test_clip_folder_name():
    assert clip_folder_name("2026-01-12", "IMG 01.MOV", "ab" * 32) == "2026-01-12_img-01_abababab"


def test_a_new_season_can_be_opened_by_many_at_once(tmp_path):
    """Whoever comes while another makes the file waits for it, and is not sent away."""
    for number in range(25):
        folder = tmp_path / f"season{number}"
        start = threading.Barrier(6)

        def open_it(folder=folder, start=start):
            start.wait()
            with Season(folder) as season:
                return season.check()

        with ThreadPoolExecutor(6) as pool:
            found = [each.result() for each in [pool.submit(open_it) for _ in range(6)]]
        assert found == [[]] * 6
