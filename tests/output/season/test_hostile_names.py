"""A hostile cell of a session sheet stays text on every page of a season."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import fake_squad
import made_season as made
import pytest

from analysis.output.season.write import write_season_pages
from analysis.season.store import Season

NAMES = ['"><img src=x onerror=alert(1)>', "<svg onload=alert(2)>", "{{ 7*7 }}'\"&", "=1+1"]


class Tags(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.attributes: list[str] = []
        self.tags: list[str] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.text += data


def pages(folder: Path, name: str, note: str) -> list[Tags]:
    with Season(folder) as season:
        for seed, day in enumerate(fake_squad.DAYS):
            place = made.place(name, day, f"{name}_{day}_{seed}.mp4")
            season.save(place, made.record(seed, strokes=12), made.STANDARD)
            (season.folder / place.pages).mkdir(parents=True)
        season.write_note(name, fake_squad.DAYS[0], note)
        write_season_pages(season)
        found = sorted(season.folder.rglob("*.html"))
        return [Tags(path.read_text(encoding="utf-8")) for path in found]


@pytest.mark.parametrize("hostile", NAMES)
def test_names_and_notes_stay_text(tmp_path: Path, hostile: str) -> None:
    made_pages = pages(tmp_path / "a", hostile, hostile)
    plain = pages(tmp_path / "b", "Ann", "A note.")
    assert len(made_pages) == len(plain) >= 2
    assert any(hostile in page.text for page in made_pages)
    for one, other in zip(made_pages, plain, strict=True):
        assert one.tags == other.tags  # nothing was added to the page, nothing taken away
        assert set(one.attributes) == set(other.attributes)
