"""Words on a frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.output import text


def test_plate_holds_readable_letters() -> None:
    made = text.plate("23° forward", 26)
    frame = np.full((60, 300, 3), 128, dtype=np.uint8)
    text.blend(frame, made, 10, 10)
    assert frame.max() > 230 and frame[10 + made.height // 2, 13].max() < 90


def test_plates_are_kept() -> None:
    assert text.plate("again", 20) is text.plate("again", 20)


def test_umlauts_are_not_boxes() -> None:
    missing = text.plate("\uffff", 26).ink  # what the font shows for a letter it lacks
    for letter in "äÖßéøžŁşĳΩЖ":
        shown = text.plate(letter, 26).ink
        assert shown.shape != missing.shape or (shown != missing).any(), letter
        assert text.can_set(letter)
    assert not text.can_set("美咲")


def test_the_usual_letters_are_in_the_font() -> None:
    assert {ord(letter) for letter in text.USUAL} <= text._known_letters()
    assert text._font_file("DejaVuSans.ttf").exists()


def test_sign_says_it_without_colour() -> None:
    assert text.plate("late", 26, sign="warn").width > text.plate("late", 26).width
    warn, slow = (text.plate("", 26, sign=sign).ink for sign in ("warn", "slow"))
    assert (warn != slow).any()


@pytest.mark.parametrize("place", [(-50, -50), (500, 500), (95, 20)])
def test_plates_stay_inside(place: tuple[int, int]) -> None:
    frame = np.zeros((60, 200, 3), dtype=np.uint8)
    left, top, right, bottom = text.blend(frame, text.plate("inside", 20), *place)
    assert 0 <= left < right <= 200 and 0 <= top < bottom <= 60
    assert frame.any()


def test_a_plate_larger_than_the_frame_is_cut() -> None:
    frame = np.zeros((10, 30, 3), dtype=np.uint8)
    assert text.blend(frame, text.plate("a long remark", 20), 0, 0) == (0, 0, 30, 10)


def test_blending_is_the_usual_mix() -> None:
    # By hand: a half-opaque 200 over 100 is 150.
    half = text.Plate(
        np.full((4, 4, 3), 100, dtype=np.uint8), np.full((4, 4, 3), 128, dtype=np.uint8)
    )
    frame = np.full((4, 4, 3), 100, dtype=np.uint8)
    text.blend(frame, half, 0, 0)
    np.testing.assert_allclose(frame, 150, atol=1)


@given(st.lists(st.text("abc ", min_size=1, max_size=9), max_size=9).map(" ".join))
def test_wrapping_keeps_every_word(said: str) -> None:
    lines = text.wrap(said, 20, 120)
    assert " ".join(lines).split() == said.split()
    for line in lines:
        assert text.font(20).getlength(line) <= 120 or " " not in line
