"""What is made to be shared: the right clips, a warning, and a last look for names."""

from pathlib import Path

import fake_squad
import pytest
from test_squad_run import run

from analysis.errors import SettingsError
from analysis.output.season.write import write_season_pages
from analysis.season import read
from analysis.season.forget import forget, remains, traces
from analysis.season.store import Season
from analysis.squad.share import clips_to_share, share, unconsented


@pytest.fixture
def season(tmp_path):
    run(fake_squad.film_squad(tmp_path / "clips", 2), tmp_path / "season")
    with Season(tmp_path / "season") as opened:
        yield opened


def test_athletes_and_clips_are_found_once(season):
    clips = clips_to_share(season, ["Rower00", "clips/rower01_2026-01-12.mp4", "rower00"])
    assert [(c.athlete, c.date) for c in clips] == [
        *(("rower00", day) for day in fake_squad.DAYS),
        ("rower01", "2026-01-12"),
    ]
    for word in ("nobody", "2026-01-12"):
        with pytest.raises(SettingsError, match=r"neither an athlete .* are: rower00, rower01\."):
            clips_to_share(season, [word])


def test_who_has_not_consented(season):
    names = [clip.athlete for clip in read.clips(season)] + ["Nobody Known"]
    assert unconsented(season, names) == ["Nobody Known", "rower00", "rower01"]
    season.consent("rower00", "2026-01-01", "a parent")
    assert unconsented(season, ["Rower00", "rower01"]) == ["rower01"]


def test_shared_without_a_name(season, tmp_path):
    clips = clips_to_share(season, ["rower00"])
    made = share(season, clips, tmp_path / "out", workers=1, review=fake_squad.review_for_sharing)
    assert [outcome.status for outcome in made.outcomes] == ["done"] * 3
    assert made.named == ()
    assert {outcome.job.language for outcome in made.outcomes} == {"en"}
    clips = clips[:1]
    german = share(season, clips, tmp_path / "de", language="de", workers=1,
                   review=fake_squad.review_for_sharing)  # fmt: skip
    assert german.outcomes[0].job.language == "de"
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["clip-1", "clip-2", "clip-3"]


def test_the_same_clip_goes_to_the_same_folder_and_another_never_over_it(season, tmp_path):
    out = tmp_path / "out"

    def shared(*words):
        clips = clips_to_share(season, words)
        made = share(season, clips, out, workers=1, review=fake_squad.review_for_sharing)
        return [Path(outcome.folder).name for outcome in made.outcomes]

    (out / "clip-2").mkdir(parents=True)
    assert shared("rower01_2026-01-12.mp4") == ["clip-1"]
    assert shared("rower01") == ["clip-1", "clip-3", "clip-4"]
    assert shared("rower00_2026-01-12.mp4") == ["clip-5"]
    assert {path for path, _ in season.shared()} == {f"../out/clip-{i}" for i in (1, 3, 4, 5)}
    found = traces(season, "rower01")
    assert [folder.name for folder in found.shared] == ["clip-1", "clip-3", "clip-4"]
    forget(season, found)
    write_season_pages(season)
    assert remains(season, found) == []
    assert sorted(p.name for p in out.iterdir()) == ["clip-2", "clip-5"]
    assert {path for path, _ in season.shared()} == {"../out/clip-5"}


def test_a_name_that_slipped_through_is_found(season, tmp_path):
    clips = clips_to_share(season, ["rower00"])[:1]
    made = share(season, clips, tmp_path / "out", workers=1, review=fake_squad.review)
    assert [path.name for path in made.named] == ["report.html"]


def test_a_clip_that_has_gone(season, tmp_path):
    (tmp_path / "clips" / "rower00_2026-01-12.mp4").unlink()
    with pytest.raises(SettingsError, match="not where it was"):
        clips_to_share(season, ["rower00"])
