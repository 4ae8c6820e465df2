"""The season's pages in a real browser: no page wider than a phone, and what axe finds."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pages import Watched, no_browser

from analysis.output.season.compare_page import write_compare
from analysis.output.season.write import write_season_pages
from analysis.season import read
from analysis.season.compare import compare_sides
from analysis.season.store import Season

sys.path.insert(0, str(Path(__file__).parents[1] / "season"))
import made_season as made


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Path]]:
    """Squad, athlete and comparison of two athletes over three days."""
    home = tmp_path_factory.mktemp("season")
    with Season(home) as season:
        for a, name in enumerate(("Ann", "Bartholomäus-Maximilian")):
            for d, day in enumerate(("2026-01-12", "2026-02-09", "2026-03-09")):
                record = made.record(10 * a + d, strokes=8, layback_deg=28.0 - 7.0 * d)
                season.save(made.place(name, day, f"{name}_{day}.mp4"), record, made.STANDARD)
        clips = read.clips(season, athlete="Ann")
        compared, _ = write_compare(season, compare_sides(season, clips[:1], clips[2:]), draw=False)
        write_season_pages(season)
        yield [home / "index.html", home / "athletes" / "ann" / "index.html", compared]


def test_no_sideways_scrolling(watched: Watched, pages: list[Path]) -> None:
    for file in pages:
        watched.page.goto(file.as_uri())
        for summary in watched.page.locator("summary").all():
            summary.click()
        for width in (320, 390, 820, 1440):
            watched.page.set_viewport_size({"width": width, "height": 780})
            wide = watched.page.evaluate("() => document.documentElement.scrollWidth")
            assert wide <= width, file
    assert watched.complaints == []


def test_the_verdict_is_seen_without_scrolling_the_table(
    watched: Watched, pages: list[Path]
) -> None:
    for width in (390, 1440):
        watched.page.set_viewport_size({"width": width, "height": 780})
        watched.page.goto(pages[2].as_uri())
        box = watched.page.locator(".verdict").first.bounding_box()
        assert box is not None and box["x"] + box["width"] <= width


def test_axe_finds_nothing_serious(watched: Watched, pages: list[Path]) -> None:
    try:
        from axe_playwright_python import sync_playwright as axe
    except ImportError:
        no_browser("the package axe-playwright-python is not installed (pip install '.[test]')")
    for file in pages:
        watched.page.goto(file.as_uri())
        for scheme, width in (("light", 1280), ("dark", 360)):
            watched.page.emulate_media(color_scheme=scheme)
            watched.page.set_viewport_size({"width": width, "height": 800})
            found = axe.Axe().run(watched.page).response["violations"]
            worst = [
                (v["id"], v["help"], [n["html"][:160] for n in v["nodes"][:4]])
                for v in found
                if v["impact"] in ("serious", "critical")
            ]
            assert worst == [], (file, scheme, width)
