"""Figures kept between reviews: the same text, or drawn anew."""

from __future__ import annotations

import stat
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from matplotlib.figure import Figure

from analysis.kept_files import cache_folder, drop
from analysis.output import figures, kept_figures, svg
from analysis.output.handle_figure import handle_picture
from analysis.output.kept_figures import Once, draw_now
from analysis.output.language import ENGLISH, text_of
from analysis.output.write import write_review
from analysis.result import Review
from tests.spoiled import spoil

SHA256 = "0a" * 32


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "cache"))
    return cache_folder()


class Drawn:
    """Draws something and counts."""

    def __init__(self) -> None:
        self.count = 0
        self.__qualname__ = "drawn"

    def __call__(self, *made_from: object) -> str:
        self.count += 1
        return f"<svg>→ {made_from!r}</svg>"


def one_page(*asked: tuple[object, ...]) -> tuple[list[str], int]:
    """Return what a page with these figures gets, and how many were drawn for it."""
    drawn = Drawn()
    with kept_figures.kept_figures(SHA256, ENGLISH) as once:
        got = [once(drawn, *made_from) for made_from in asked]
    return got, drawn.count


def svgs(review: Review, once: Once = draw_now) -> list[str]:
    made = [
        *figures.stroke_pictures(review, ENGLISH, once),
        figures.order_picture(review, ENGLISH, once),
        handle_picture(review, ENGLISH, once),
    ]
    return [one.svg for one in made if one is not None]


def test_what_was_drawn_is_not_drawn_again() -> None:
    first = one_page(("one", 1.0), ("two", ENGLISH))
    assert first[1] == 2
    assert one_page(("one", 1.0), ("two", ENGLISH)) == (first[0], 0)
    assert one_page(("one", 1.0 + 1e-15), ("two", ENGLISH))[1] == 1
    assert one_page(("two", text_of("de")))[1] == 1


def test_another_way_to_draw_is_another_figure() -> None:
    one_page(("one",))
    other = Drawn()
    other.__qualname__ = "drawn_otherwise"
    with kept_figures.kept_figures(SHA256, ENGLISH) as once:
        once(other, "one")
    assert other.count == 1


def test_a_changed_program_draws_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    one_page(("one",))
    monkeypatch.setattr(kept_figures, "program_state", lambda: "another")
    assert one_page(("one",))[1] == 1


def test_the_figures_of_a_page_come_back_without_what_draws_them(
    review: Review, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = svgs(review)
    for _ in range(2):
        with kept_figures.kept_figures(SHA256, ENGLISH) as once:
            assert svgs(review, once) == drawn
        monkeypatch.setattr(figures, "new_figure", lambda: pytest.fail("drawn again"))


def by_another_standard(review: Review, low: float) -> Review:
    findings = tuple(
        replace(one, low=low) if one.measure == "layback_deg" else one
        for one in review.findings.findings
    )
    assert findings != review.findings.findings
    return replace(review, findings=replace(review.findings, findings=findings))


@pytest.mark.parametrize(
    ("low", "drawn"),
    [
        (8.0, []),  # what the standard asks for is laid over the chart
        (-60.0, ["curve-trunk"]),  # and the chart's axis reaches so far
    ],
)
def test_only_what_another_standard_changes_is_drawn(
    review: Review, monkeypatch: pytest.MonkeyPatch, low: float, drawn: list[str]
) -> None:
    with kept_figures.kept_figures(SHA256, ENGLISH) as once:
        before = svgs(review, once)
    other = by_another_standard(review, low)
    wanted = svgs(other)
    assert wanted != before
    again = list[str]()

    def counting(figure: Figure, key: str, *more: Any) -> str:
        again.append(key)
        return svg.svg_of(figure, key, *more)

    monkeypatch.setattr(figures, "svg_of", counting)
    with kept_figures.kept_figures(SHA256, ENGLISH) as once:
        assert svgs(other, once) == wanted
    assert again == drawn


@pytest.mark.parametrize("damage", ["cut", "flipped", "emptied", "words"])
def test_a_damaged_file_is_made_anew(folder: Path, damage: str) -> None:
    first = one_page(("one", "x" * 5000))
    spoil(folder / f"{SHA256}-figures.npz", damage)
    assert one_page(("one", "x" * 5000)) == first
    assert one_page(("one", "x" * 5000)) == (first[0], 0)


def test_the_longest_unused_go_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_figures, "MOST_KEPT", 3)
    one_page(("a",), ("b",), ("c",))
    one_page(("d",), ("b",))
    assert one_page(("d",), ("b",), ("a",))[1] == 0
    assert one_page(("c",))[1] == 1


def test_it_is_private_and_dropped_with_the_clip(folder: Path) -> None:
    one_page(("one",))
    (file,) = folder.iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert drop(SHA256) == 1 and not file.exists()


def test_a_folder_that_cannot_be_written_is_done_without(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SIDEON_CACHE", "/dev/null/nowhere")
    assert one_page(("one",))[1] == 1


def test_a_review_keeps_figures_only_when_told(
    review: Review, folder: Path, tmp_path: Path
) -> None:
    write_review(review, tmp_path / "out", draw=False)
    assert not folder.exists()
    write_review(review, tmp_path / "out", draw=False, keep=True)
    assert [file.name for file in folder.iterdir()] == [f"{'0f' * 32}-figures.npz"]


def test_without_the_clips_fingerprint_nothing_is_kept(folder: Path) -> None:
    with kept_figures.kept_figures("", ENGLISH) as once:
        once(Drawn(), "one")
    assert not folder.exists()
