"""Charts as SVG: where things are drawn, where lines break, which ticks stand at the axes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from analysis.output.svg import Box, Chart, round_ticks

BOX = Box(10.0, 20.0, 110.0, 70.0)


def paths(chart: Chart) -> list[str]:
    return re.findall(r'<path d="([^"]*)"', chart.svg("k", "t", "a", {}))


def test_values_lie_where_the_axes_say() -> None:
    """By hand: 100 units across for 0 to 2, 50 units up for 5 to 10; y runs down."""
    chart = Chart((0.0, 2.0), (5.0, 10.0), BOX)
    assert chart.place(0.0, 5.0) == (10.0, 70.0)
    assert chart.place(1.0, 7.5) == (60.0, 45.0)
    assert chart.place(2.0, 10.0) == (110.0, 20.0)
    turned = Chart((2.0, 0.0), (5.0, 10.0), BOX)
    assert turned.place(2.0, 5.0) == (10.0, 70.0)


def test_a_line_breaks_where_a_value_is_missing() -> None:
    chart = Chart((0.0, 4.0), (0.0, 1.0), BOX)
    chart.line([0, 1, 2, 3, 4], [0.0, 1.0, np.nan, 1.0, 0.5], "red", 1.0)
    assert paths(chart) == ["M10,70 35,20", "M85,20 110,45"]


def test_a_band_goes_around_and_breaks_too() -> None:
    chart = Chart((0.0, 4.0), (0.0, 1.0), BOX)
    low = np.array([0.0, 0.0, np.nan, np.nan, np.nan])
    chart.band(np.arange(5.0), low, np.ones(5), "red")
    assert paths(chart) == ["M10,70 35,70 35,20 10,20"]


def test_dashes_grow_with_the_line() -> None:
    chart = Chart((0.0, 1.0), (0.0, 1.0), BOX)
    chart.line([0, 1], [0, 1], "red", 2.0, (6.0, 1.5))
    assert 'stroke-dasharray="12 3"' in chart.svg("k", "t", "a", {})


def test_words_and_attributes_are_escaped_and_ids_are_the_charts_own() -> None:
    chart = Chart((0.0, 1.0), (0.0, 1.0), BOX)
    chart.words((1.0, 2.0), '<b> & "c"', "red")
    chart.line([0, 1], [0, 1], "red", 2.0)
    root = ET.fromstring(chart.svg("mine", "a < b", "x & y", {"series": 'q"'}))
    assert [node.text for node in root.iter("text")] == ['<b> & "c"']
    assert root.get("data-series") == 'q"'
    assert {e.get("id") for e in root.iter() if e.get("id")} == {
        "mine-title", "mine-alt", "mine-inside",
    }  # fmt: skip
    assert next(root.iter("path")).get("clip-path") == "url(#mine-inside)"


def test_the_page_is_told_where_the_axes_lie() -> None:
    root = ET.fromstring(Chart((0.0, 2.0), (5.0, 10.0), BOX).svg("k", "t", "a", {"over": "drive"}))
    assert root.get("data-x") == "0 2 10 110" and root.get("data-y") == "5 10 70 20"
    assert root.get("data-over") == "drive"


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        # By hand: the smallest of 1, 2, 2.5, 5, 10, … times a power of ten, of which five make up
        # the range.
        (0.0, 100.0, [0, 20, 40, 60, 80, 100]),
        (-36.7, 42.9, [-20, 0, 20, 40]),
        (-3.0, 9.0, [-2.5, 0, 2.5, 5, 7.5]),
        (-7.0, 107.0, [0, 25, 50, 75, 100]),
        (0.5, 1.4, [0.6, 0.8, 1.0, 1.2, 1.4]),
        (21.0, 39.0, [25, 30, 35]),
    ],
)
def test_ticks_are_round(low: float, high: float, ticks: list[float]) -> None:
    assert round_ticks(low, high) == pytest.approx(ticks)


def test_at_least_two_ticks() -> None:
    for low in np.linspace(-50.0, 50.0, 401):
        for span in (12.0, 13.7, 40.0, 99.0):
            ticks = round_ticks(low, low + span)
            assert 2 <= len(ticks) <= 8
            assert low - 1e-6 <= ticks[0] and ticks[-1] <= low + span + 1e-6
