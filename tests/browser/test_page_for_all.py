"""The athlete's page in a real browser: for every screen, on paper, for everyone, and alone."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pages import Watched, no_browser, open_page

from analysis.coaching.drills import choose_drill
from analysis.coaching.findings import Readiness
from analysis.coaching.words import CHECK_WORDS, words
from analysis.output.index import entry_of
from analysis.output.language import languages, text_of
from analysis.output.said import translated
from analysis.output.write import write_index, write_review
from analysis.result import Review

WIDTHS = (360, 768, 1440)


def test_no_sideways_scrolling(watched: Watched, folder: Path) -> None:
    page = open_page(watched, folder / "report.html")
    for summary in page.locator("summary").all():
        summary.click()
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 780})
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width


def test_targets_are_large_enough_on_a_phone(watched: Watched, folder: Path) -> None:
    """At least 24 × 24 CSS px (WCAG 2.2, 2.5.8), and 44 px high for what plays (our own rule)."""
    watched.page.set_viewport_size({"width": 360, "height": 780})
    page = open_page(watched, folder / "report.html")
    for summary in page.locator("summary").all():
        summary.click()
    for control in page.locator("button, select, textarea, summary, input").all():
        box = control.bounding_box()
        if box is None:
            continue
        label = control.evaluate("e => e.closest('label')")
        if label is not None:
            box = control.locator("xpath=ancestor::label").bounding_box()
        assert box["width"] >= 24 and box["height"] >= 24, control.evaluate("e => e.outerHTML")
    assert page.locator("#play").bounding_box()["height"] >= 44


def test_the_clip_stays_in_view_beside_its_curves(watched: Watched, folder: Path) -> None:
    for width in (360, 1440):
        watched.page.set_viewport_size({"width": width, "height": 780})
        page = open_page(watched, folder / "report.html")
        page.locator("#curve-elbow-title").locator("xpath=..").scroll_into_view_if_needed()
        box = page.locator(".screen").bounding_box()
        assert box["y"] > -1 and box["y"] + box["height"] < 780
        assert box["height"] > 120


def test_prints_one_page(watched: Watched, folder: Path) -> None:
    page = open_page(watched, folder / "report.html")
    assert pages_of(page.pdf(prefer_css_page_size=True, print_background=True)) == 1


@pytest.mark.parametrize("code", languages())
def test_prints_one_page_with_the_longest_words(
    watched: Watched, made: Review, tmp_path: Path, code: str
) -> None:
    """The longest sentences that the coaching has in every place, and a step still to come."""
    text = text_of(code)

    def long_(*parts: str) -> int:
        return sum(len(translated(part, text) or "") for part in parts)

    said = [
        side["athlete"] for row in words().values() for side in row.values() if "athlete" in side
    ]
    well = sorted((row["well"] for row in words().values() if "well" in row), key=long_)
    drills = [choose_drill(c, s, "half_slide") for c in CHECK_WORDS for s in ("over", "under")]
    drill = max((d for d in drills if d), key=lambda d: long_(d.do, d.amount, d.feel, d.film))
    waits = Readiness("half_slide", "full_slide", False, (
        "a clip with at least 5 whole strokes (this one has 3 whole strokes)",
        *(f"{name}: still to work on" for name in list(CHECK_WORDS.values())[:3]),
    ))  # fmt: skip
    found = replace(
        made.findings, first_text=max(said, key=long_), drill=drill, readiness=waits,
        did_well=tuple(well[-3:]),
    )  # fmt: skip
    strokes = replace(made.strokes, stage="half_slide")
    long = replace(made, findings=found, strokes=strokes)
    page = open_page(watched, write_review(long, tmp_path / "out", text=text) / "report.html")
    assert pages_of(page.pdf(prefer_css_page_size=True, print_background=True)) == 1


def pages_of(pdf: bytes) -> int:
    """Return the number of pages of a PDF: objects of type Page (ISO 32000-1, 7.7.3.3)."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def test_no_complaint_and_no_request_leaves(watched: Watched, folder: Path) -> None:
    page = open_page(watched, folder / "report.html")
    page.locator("#play").click()
    page.wait_for_timeout(300)
    for button in page.locator("button:visible").all()[:12]:
        button.click()
    page.emulate_media(color_scheme="dark")
    assert watched.complaints == []
    assert watched.requests
    for url in watched.requests:
        assert url.startswith((folder.as_uri(), "data:", "blob:")), url


def test_axe_finds_nothing_serious(watched: Watched, folder: Path) -> None:
    try:
        from axe_playwright_python import sync_playwright as axe
    except ImportError:
        no_browser("the package axe-playwright-python is not installed (pip install '.[test]')")
    page = open_page(watched, folder / "report.html")
    for summary in page.locator("summary").all():
        summary.click()
    for scheme, width in (("light", 1280), ("dark", 360)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 800})
        found = axe.Axe().run(page).response["violations"]
        worst = [
            (v["id"], v["help"], [n["html"][:160] for n in v["nodes"][:4]])
            for v in found
            if v["impact"] in ("serious", "critical")
        ]
        assert worst == [], (scheme, width)


def test_one_file_plays_alone(watched: Watched, made: Review, tmp_path: Path) -> None:
    """Moved to an empty folder it plays, jumps, and asks for nothing but itself."""
    folder = write_review(made, tmp_path / "out", one_file=True)
    alone = tmp_path / "sent" / "to you.html"
    alone.parent.mkdir()
    (folder / f"{made.out_name}_one_file.html").rename(alone)
    page = open_page(watched, alone)
    page.locator("[data-finding]").first.click()
    wanted = int(np.argmin(np.abs(made.motion.t_s - made.findings.first.show_at_s)))
    assert int(page.locator("#stage").get_attribute("data-frame")) == wanted
    page.locator("#play").click()
    page.wait_for_function(
        f"() => Number(document.getElementById('stage').dataset.frame) > {wanted + 3}"
    )
    page.get_by_role("button", name="Drawing").click()
    page.wait_for_selector("#plain", state="visible")
    images = page.evaluate("() => [...document.images].map(i => i.naturalWidth)")
    assert len(images) == 7 and min(images) > 100
    assert watched.complaints == []
    for url in watched.requests:
        assert url.startswith((alone.as_uri(), "data:", "blob:")), url


def test_says_so_when_the_clip_cannot_be_played(
    watched: Watched, folder: Path, tmp_path: Path
) -> None:
    for file in folder.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "annotated.mp4").write_bytes(b"no video at all")
    watched.page.goto((tmp_path / "report.html").as_uri())
    watched.page.wait_for_selector("#no-clip", state="visible")
    assert "annotated.mp4" in watched.page.locator("#no-clip").inner_text()
    # The same where the clip failed before the page's script ran: the script once more, later.
    watched.page.evaluate(
        """() => {
          document.getElementById("no-clip").hidden = true;
          const scripts = [...document.scripts].map((script) => script.textContent);
          new Function(scripts.find((text) => text.includes("const player")))();
        }"""
    )
    assert watched.page.locator("#no-clip").is_visible()


def test_a_level_to_watch_is_printed(watched: Watched, folder: Path) -> None:
    """On paper the clip's section goes, and nothing that is merely called the same."""
    page = open_page(watched, folder / "report.html")
    page.emulate_media(media="print")
    shown = "element => getComputedStyle(element).display"
    assert page.locator("section.watch").evaluate(shown) == "none"
    assert page.locator(".level.watch").first.evaluate(shown) != "none"
    assert page.locator("tr.watch").first.evaluate(shown) != "none"


def test_the_list_of_clips_has_its_lines_as_wide_as_there_is_room(
    watched: Watched, made: Review, tmp_path: Path
) -> None:
    waits = Readiness("half_slide", "full_slide", False, ("level pull: still to work on",))
    waiting = replace(made, findings=replace(made.findings, readiness=waits))
    index = write_index([entry_of(waiting)], tmp_path)
    for width, share in ((360, 0.5), (1280, 0.12)):
        watched.page.set_viewport_size({"width": width, "height": 780})
        watched.page.goto(index.as_uri())
        step = watched.page.locator(".roster .step")
        assert "Not ready for full slide" in step.inner_text()
        inner = step.evaluate("e => [getComputedStyle(e).display, e.clientWidth]")
        assert inner[0] == "block" and inner[1] >= share * width
