"""Before and after from the season: the right clips, the right limits, the right verdicts."""

import made_season as made
import pytest

from analysis.errors import SettingsError
from analysis.season import read
from analysis.season.compare import compare_sides, find_side
from analysis.season.store import Season
from tests.accuracy.change_bench import CASES, told_share

DAYS = ("2026-01-12", "2026-03-09")


@pytest.fixture
def season(tmp_path):
    with Season(tmp_path / "season") as opened:
        yield opened


def put(season, athlete, day, seed, *, file=None, facing="right", **shown):
    record = made.record(seed, **shown)
    record = type(record)(**{**vars(record), "facing": facing})
    place = made.place(athlete, day, file or f"{athlete}_{day}_{seed}.mp4")
    season.save(place, record, made.STANDARD)


def by_measure(found):
    return {m.measure: m for m in found.measures}


def test_a_change_for_the_better_and_the_rest_unchanged(season):
    put(season, "Ann", DAYS[0], 1, strokes=12, layback_deg=28.0)
    put(season, "Ann", DAYS[1], 2, strokes=12, layback_deg=14.0)
    sides = [find_side(season, day, "ann") for day in DAYS]
    found = compare_sides(season, *sides)
    told = by_measure(found)
    assert told["layback_deg"].change.verdict == "better"
    assert told["layback_deg"].change.change == pytest.approx(-14.0, abs=1.5)
    assert (told["layback_deg"].low, told["layback_deg"].high) == (3.0, 20.0)
    assert told["lunge_deg"].change.verdict == "no change"
    assert not told["rate_spm"].judged
    assert "head_deg" not in told
    assert found.alike
    assert [m.measure for m in found.told] == ["layback_deg"]
    assert found.by_chance == pytest.approx(0.05 * 3)
    back = compare_sides(season, *sides[::-1])
    assert by_measure(back)["layback_deg"].change.verdict == "worse"
    # The verdict stands as asked for, and it is said what may have been meant.
    assert "the other way round" in back.remarks[0]
    assert not any("the other way round" in said for said in found.remarks)


def test_days_pool_their_clips_of_one_kind(season):
    for seed in (1, 2):
        put(season, "Ann", DAYS[0], seed, layback_deg=28.0)
    put(season, "Ann", DAYS[0], 3, stage="arms_only")
    put(season, "Ann", DAYS[1], 4, layback_deg=14.0)
    found = compare_sides(season, *[find_side(season, day, "Ann") for day in DAYS])
    assert len(found.before) == 2
    assert by_measure(found)["layback_deg"].change.before.n == 12
    assert found.remarks[0] == "1 clip is of another stage or place and left out."


def test_filmed_from_the_other_side_less_can_be_told(season):
    put(season, "Ann", DAYS[0], 1)
    put(season, "Ann", DAYS[1], 2)
    put(season, "Bo", DAYS[0], 1)
    put(season, "Bo", DAYS[1], 2, facing="left")
    same, other = (
        compare_sides(season, *[find_side(season, day, name) for day in DAYS])
        for name in ("Ann", "Bo")
    )
    assert same.alike and not other.alike
    assert "different sides" in other.remarks[0]
    for measure, found in by_measure(other).items():
        assert found.change.mdc95 > by_measure(same)[measure].change.mdc95


def test_two_athletes_are_compared_with_a_word_of_caution(season):
    put(season, "Ann", DAYS[0], 1, file="ann.mp4")
    put(season, "Bo", DAYS[0], 2, file="bo.mov")
    found = compare_sides(season, find_side(season, "ann.mp4", None), find_side(season, "bo", None))
    assert not found.alike
    assert "Two athletes" in found.remarks[0]


def test_repeats_of_the_season_are_used(season):
    for athlete in range(9):
        for seed, layback in ((1, 6.0), (2, 18.0)):
            put(season, f"r{athlete}", "2026-02-01", 10 * athlete + seed, layback_deg=layback)
    put(season, "Ann", DAYS[0], 1, layback_deg=28.0)
    put(season, "Ann", DAYS[1], 2, layback_deg=19.0)
    found = compare_sides(season, *[find_side(season, day, "Ann") for day in DAYS])
    change = by_measure(found)["layback_deg"].change
    # Clips of one day differ by 12°: SEM 12/√2, so that 9° cannot be told.
    assert change.basis == "repeats"
    assert change.sem == pytest.approx(12 / 2**0.5, rel=0.1)
    assert change.verdict == "no change"


def test_how_the_squad_changed_is_used_where_nobody_has_repeats(season):
    # Twelve others went up by 2° on average, by 5° more or less than that: SD of the differences
    # 5 · √(12/11), SEM that ÷ √2. The 2° they have in common play no part.
    for i in range(12):
        put(season, f"r{i}", DAYS[0], 10 * i, layback_deg=10.0, strokes=40)
        shift = 2.0 + (5.0 if i % 2 else -5.0)
        put(season, f"r{i}", DAYS[1], 10 * i + 1, layback_deg=10.0 + shift, strokes=40)
    put(season, "Ann", DAYS[0], 7, layback_deg=28.0, strokes=40)
    put(season, "Ann", DAYS[1], 8, layback_deg=19.0, strokes=40)
    found = compare_sides(season, *[find_side(season, day, "Ann") for day in DAYS])
    change = by_measure(found)["layback_deg"].change
    assert change.basis == "squad"
    assert change.sem == pytest.approx(5 * (12 / 11) ** 0.5 / 2**0.5, rel=0.1)
    assert change.verdict == "no change"
    assert found.remarks == ()


def test_other_kinds_of_days_and_the_athlete_alone_tell_nothing(season):
    for i in range(12):
        put(season, f"r{i}", DAYS[0], 10 * i)
        put(season, f"r{i}", DAYS[1], 10 * i + 1, stage="arms_only", facing="left")
    put(season, "Ann", DAYS[0], 1)
    put(season, "Ann", DAYS[1], 2)
    found = compare_sides(season, *[find_side(season, day, "Ann") for day in DAYS])
    assert by_measure(found)["layback_deg"].change.basis == "taken on trust"
    assert "Film two clips a day" in found.remarks[0]
    put(season, "Ann", DAYS[0], 3)
    put(season, "Ann", DAYS[1], 4)
    found = compare_sides(season, *[find_side(season, day, "Ann") for day in DAYS])
    assert found.remarks == ()


def test_what_cannot_be_found_or_compared(season):
    put(season, "Ann", DAYS[0], 1, file="a.mp4")
    put(season, "Ann", DAYS[1], 2, file="a.mp4", stage="arms_only")
    season.save(made.place("Ann", DAYS[1], "bad.mp4"), "Nobody rows.", made.STANDARD)
    for words, athlete, said in (
        (DAYS[0], None, "--athlete"),
        ("2026-05-05", "Ann", "there are: "),
        (DAYS[0], "Cy", "not known"),
        ("none.mp4", None, "neither a day"),
        ("bad.mp4", "Ann", "neither a day"),
    ):
        with pytest.raises(SettingsError, match=said):
            find_side(season, words, athlete)
    with pytest.raises(SettingsError, match="same clip"):
        compare_sides(season, read.clips(season)[:1], read.clips(season)[:1])


def test_a_name_that_several_clips_have(season):
    for name in ("Ann", "Bo"):
        record = made.record(1)
        place = made.place(name, DAYS[0], "IMG_1.mov", content=name)
        place = type(place)(**{**vars(place), "path": f"{name}/IMG_1.mov"})
        season.save(place, record, made.STANDARD)
    with pytest.raises(SettingsError, match="Several clips are called IMG_1"):
        find_side(season, "IMG_1.mov", None)
    assert find_side(season, "IMG_1.mov", "Bo")[0].athlete == "Bo"


def test_stages_that_have_nothing_in_common(season):
    put(season, "Ann", DAYS[0], 1)
    put(season, "Ann", DAYS[1], 2, stage="arms_only")
    with pytest.raises(SettingsError, match="before is half slide"):
        compare_sides(season, *[find_side(season, day, "Ann") for day in DAYS])


@pytest.mark.parametrize(("times", "least", "most"), [(0.0, 0.0, 0.05), (3.0, 0.95, 1.0)])
def test_planted_changes_through_the_season(times, least, most):
    """A small part of tests/accuracy/change_bench.py, from the database to the verdict."""
    found = told_share(CASES[1], times, 75)
    told = 1 - found.get("no change", 0.0) - found.get("cannot tell", 0.0)
    slack = 3 * (0.05 * 0.95 / 75) ** 0.5
    assert least - slack <= told <= most + slack
