"""A written review in Debian's chromium, or in whatever chromium is on the path.

Without one these tests are skipped; with SIDEON_NEED_BROWSER=1 that is a failure instead.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from analysis.output.write import write_review
from analysis.result import Review

sys.path.insert(0, str(Path(__file__).parents[1] / "output"))
from made_review import made_review
from pages import Watched, no_browser

NAMES = ("chromium", "chromium-browser", "google-chrome")


# One a file, not one a session: Playwright's event loop must not outlive the tests of this folder.
@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        no_browser("the package playwright is not installed (pip install '.[test]')")
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        no_browser(f"none of {', '.join(NAMES)} is on the path (apt-get install chromium)")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=found,
            args=["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required"],
        )
        yield started
        started.close()


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Review:
    return made_review(
        tmp_path_factory.mktemp("clip"), strokes=3, stroke_s=1.2, fps=20.0, size=(320, 180)
    )


@pytest.fixture(scope="session")
def folder(made: Review, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_review(made, tmp_path_factory.mktemp("out"))


@pytest.fixture
def watched(browser: Any) -> Iterator[Watched]:
    context = browser.new_context(
        viewport={"width": 1280, "height": 900}, reduced_motion="reduce", accept_downloads=True
    )
    context.set_default_timeout(8000)
    seen = Watched(context.new_page())
    yield seen
    context.close()
