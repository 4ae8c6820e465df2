"""The squad's page and the athletes': who needs what, what came and went, first and latest."""

from dataclasses import replace

import fake_squad
import made_season as made
import pytest

from analysis.coaching.findings import Readiness
from analysis.output.page import date_words as words
from analysis.output.season.athlete_page import athlete_page
from analysis.output.season.squad_page import squad_page
from analysis.output.season.write import RUNNING_PAGE, write_season_pages
from analysis.season import read
from analysis.season.store import Season

DAYS = fake_squad.DAYS


@pytest.fixture
def season(tmp_path):
    with Season(tmp_path / "season") as opened:
        yield opened


def put(season, athlete, day, seed, *, setting="erg", stills=True, **shown):
    record = made.record(seed, strokes=12, **shown)
    record = type(record)(**{**vars(record), "setting": setting})
    place = made.place(athlete, day, f"{athlete}_{day}_{seed}.mp4")
    season.save(place, record, made.STANDARD)
    folder = season.folder / place.pages
    folder.mkdir(parents=True)
    if stills:
        for name in ("catch.jpg", "release.jpg", "annotated.mp4"):
            (folder / name).touch()
    return folder.name


def page_of(season, name):
    (athlete,) = [a for a in read.athletes(season) if a.name == name]
    return athlete_page(season, athlete)


def test_what_came_and_what_went(season):
    put(season, "Ann", DAYS[0], 1, layback_deg=28.0)
    put(season, "Ann", DAYS[1], 2, layback_deg=28.0)
    put(season, "Ann", DAYS[2], 3, layback_deg=12.0, lunge_deg=12.0)
    page = page_of(season, "Ann")
    assert (page.come, page.gone) == (("Late reach at the front",), ("Lean at the finish",))
    levels = {row.label: [level for level, _, _ in row.cells] for row in page.checks}
    assert levels["Lean at the finish"] == ["work-on", "work-on", "steady"]
    assert levels["Late reach at the front"] == ["steady", "steady", "work-on"]
    write_season_pages(season)
    text = (season.folder / "athletes/ann/index.html").read_text()
    assert "<strong>Sound again:</strong> lean at the finish." in text
    assert "<strong>New to work on or watch:</strong> late reach at the front." in text


def test_too_few_strokes_are_no_not_yet(season):
    for name, clip_alone in (("Ann", True), ("Bo", False)):
        waits = Readiness("half_slide", "full_slide", False, ("x",), only_the_clip=clip_alone)
        record = replace(made.record(1, strokes=4), readiness=waits)
        season.save(made.place(name, DAYS[0], f"{name}.mp4"), record, made.STANDARD)
    write_season_pages(season)
    rows = (season.folder / "index.html").read_text().split("<tbody>")[1].split("</tr>")
    assert "Cannot tell yet" in rows[0] and "Not yet" not in rows[0]
    assert "Not yet" in rows[1]


def test_progress_begins_with_what_was_worked_on(season):
    put(season, "Ann", DAYS[0], 1)
    put(season, "Bo", DAYS[0], 1, layback_deg=28.0)
    for name in ("Ann", "Bo"):
        put(season, name, DAYS[1], 2)
    sound, mended = ([p.key for p in page_of(season, name).pictures] for name in ("Ann", "Bo"))
    assert mended[0] == "progress-layback_deg" != sound[0]
    assert sorted(mended) == sorted(sound)


def test_what_stays_is_neither_new_nor_gone(season):
    for seed, day in enumerate(DAYS):
        put(season, "Ann", day, seed, layback_deg=28.0)
    page = page_of(season, "Ann")
    assert (page.come, page.gone) == ((), ())


def test_stills_of_the_same_kind_of_day(season):
    put(season, "Ann", DAYS[0], 1, setting="boat")
    first = put(season, "Ann", DAYS[1], 2)
    last = put(season, "Ann", DAYS[2], 3)
    put(season, "Ann", DAYS[2], 4, stills=False)
    found = page_of(season, "Ann").stills
    assert [still.folder for still in found] == [first, last]
    assert all(still.where == "half slide, on the machine" for still in found)


def test_stills_of_different_kinds_are_named_as_such(season):
    put(season, "Ann", DAYS[0], 1)
    put(season, "Ann", DAYS[1], 2, setting="boat")
    assert [s.where for s in page_of(season, "Ann").stills] == [
        "half slide, on the machine", "half slide, in the boat",
    ]  # fmt: skip
    put(season, "Bo", DAYS[0], 3)
    assert len(page_of(season, "Bo").stills) == 1
    put(season, "Cy", DAYS[0], 4, stills=False)
    assert page_of(season, "Cy").stills == ()


def test_progress_of_days_at_the_present_stage(season):
    put(season, "Ann", DAYS[0], 1, stage="arms_only")
    put(season, "Ann", DAYS[1], 2)
    put(season, "Ann", DAYS[2], 3)
    page = page_of(season, "Ann")
    assert page.compared_at == "half slide, on the machine"
    assert {p.key for p in page.pictures} and all("9 Mar" in p.svg for p in page.pictures)
    assert not any("12 Jan" in p.svg for p in page.pictures)


def test_groups_ready_and_missing(season):
    for i, layback in enumerate((28.0, 28.0, 12.0)):
        put(season, f"r{i}", DAYS[0], i, layback_deg=layback)
    for day in DAYS[1:]:
        put(season, "r1", day, 10, layback_deg=28.0)
        put(season, "r2", day, 20)
    page = squad_page(season)
    (group,) = page.groups
    assert (group.title, group.names) == ("Lean at the finish", ("R0", "R1"))
    assert page.ready == (("Full slide", ("R2",)),)
    assert [name for name, _ in page.missing] == ["R0"]
    assert page.unconsented == ("R0", "R1", "R2")


def test_the_squad_page_leads_to_the_session_that_is_running(season):
    put(season, "Ann", DAYS[0], 1)
    assert RUNNING_PAGE not in write_season_pages(season).read_text()
    (season.folder / RUNNING_PAGE).touch()
    assert f'href="{RUNNING_PAGE}"' in write_season_pages(season).read_text()


def test_comparisons_are_called_by_their_days_and_by_clips_only_where_that_is_needed(season):
    for seed, day in enumerate((DAYS[0], DAYS[1], DAYS[1]), 1):
        put(season, "Ann", day, seed)
    first, *later = read.clips(season, athlete="Ann")
    home = season.folder / "athletes" / "ann"
    for clip in later:
        ends = f"{first.date}_{first.sha256[:8]}_to_{clip.date}_{clip.sha256[:8]}"
        made_page = home / f"compared_{ends}" / "index.html"
        made_page.parent.mkdir()
        made_page.touch()
    (home / f"compared_{first.date}_to_{later[0].date}").mkdir()
    (home / f"compared_{first.date}_to_{later[0].date}" / "index.html").touch()
    titles = [title for _, title in page_of(season, "Ann").comparisons]
    days = [words(day) for day in DAYS[:2]]
    assert sorted(titles) == sorted(
        [f"{days[0]} and {days[1]}"] + [f"{days[0]} and {days[1]} ({clip.file})" for clip in later]
    )
