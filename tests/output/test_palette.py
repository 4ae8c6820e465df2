"""Colours: contrast as WCAG 2.2 asks for, and still apart with one kind of cone missing."""

from __future__ import annotations

import itertools
import re
from importlib import resources

import numpy as np
import pytest

from analysis.output import palette
from analysis.output.palette import ALERT, ARMS, BODY, INK, LEGS, PAPER, VERTICAL, Bgr

#: Viénot, Brettel & Mollon, Color Res Appl 1999;24:243–252 (from memory): linear RGB to cones, and
#: the missing cone's signal from the two others.
_CONES = np.array(
    [[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714], [0.0299566, 0.184309, 1.46709]]
)
_MISSING = {
    "protanopia": np.array([[0, 2.02344, -2.52581], [0, 1, 0], [0, 0, 1]]),
    "deuteranopia": np.array([[1, 0, 0], [0.494207, 0, 1.24827], [0, 0, 1]]),
}


def seen_by(kind: str, colour: Bgr) -> np.ndarray:
    """Linear RGB of a colour as somebody lacking that cone sees it."""
    light = np.array([palette.linear(v) for v in colour[::-1]])
    return np.clip(np.linalg.solve(_CONES, _MISSING[kind] @ (_CONES @ light)), 0.0, 1.0)


def lightness(light: np.ndarray) -> float:
    """CIE L* (CIE 15) of linear sRGB light."""
    y = float(light @ [0.2126, 0.7152, 0.0722])
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


def test_contrast_of_black_and_white() -> None:
    # WCAG 2.2, definition of contrast ratio: 21 to 1 for black on white.
    assert palette.contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert palette.contrast(BODY, BODY) == 1.0


@pytest.mark.parametrize("colour", [PAPER, LEGS, BODY, ARMS, VERTICAL])
def test_words_on_dark_plates_reach_aa(colour: Bgr) -> None:
    # WCAG 2.2, 1.4.3: at least 4.5 to 1 for text.
    assert palette.contrast(colour, INK) >= 4.5


def test_notes_reach_aaa() -> None:
    # WCAG 2.2, 1.4.6: at least 7 to 1.
    assert palette.contrast(INK, ALERT) >= 7.0


@pytest.mark.parametrize("kind", list(_MISSING))
def test_the_simulation_keeps_greys(kind: str) -> None:
    for grey in (40, 128, 230):
        light = seen_by(kind, (grey, grey, grey))
        np.testing.assert_allclose(light, palette.linear(grey), rtol=0.02)


@pytest.mark.parametrize("kind", list(_MISSING))
def test_the_simulation_loses_red_against_green(kind: str) -> None:
    """Without it this test of the palette could not fail: red and green do fall together."""
    red, green = seen_by(kind, (40, 60, 190)), seen_by(kind, (30, 120, 90))
    assert abs(red - green).max() < abs(np.subtract((40, 60, 190), (30, 120, 90)) / 255).max()


@pytest.mark.parametrize("kind", ["protanopia", "deuteranopia"])
def test_parts_stay_apart(kind: str) -> None:
    for one, other in itertools.combinations((LEGS, BODY, ARMS), 2):
        apart = abs(lightness(seen_by(kind, one)) - lightness(seen_by(kind, other)))
        assert apart >= 10.0, (one, other)


def page_colours() -> list[dict[str, Bgr]]:
    """The light and the dark set of the stylesheet, blue first."""
    css = (resources.files("analysis.output") / "static" / "page.css").read_text(encoding="utf-8")
    sets = re.findall(r":root \{([^}]*)\}", css)[:2]
    return [
        {
            name: tuple(int(value[i : i + 2], 16) for i in (4, 2, 0))  # type: ignore[misc]
            for name, value in re.findall(r"--(\w+): #([0-9a-f]{6})", text)
        }
        for text in sets
    ]


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("name", ["ink", "faint", "legs", "body", "arms", "good", "alert", "link"])
def test_page_text_reaches_aa_in_both_themes(theme: int, name: str) -> None:
    colours = page_colours()[theme]
    assert palette.contrast(colours[name], colours["paper"]) >= 4.5


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_marked_words_stay_readable(theme: int) -> None:
    colours = page_colours()[theme]
    assert palette.contrast(colours["ink"], colours["marker"]) >= 4.5
