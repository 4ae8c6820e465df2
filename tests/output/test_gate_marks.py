"""What the standard asks for, marked on a chart."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from analysis.coaching.standard import SHIPPED, load_standard
from analysis.output import figures, svg
from analysis.output.curves import Gate
from analysis.output.gate_marks import gate_marks
from analysis.result import Review
from analysis.stroke.build_up import STAGES

#: Least and largest value on the axis of these tests' chart.
LIMITS = (-40.0, 60.0)

GATE = Gate(along=0.4, low=-20.0, high=-3.0, measure="layback_deg", passed=False)


def marked(one: Gate, turn: float = 0.4) -> tuple[list[ET.Element], list[ET.Element]]:
    """Return boxes and bars."""
    boxes, bars = (ET.fromstring(part) for part in gate_marks([one], turn, LIMITS))
    return list(boxes), list(bars)


def number(element: ET.Element, name: str) -> float:
    return float(element.get(name, "nan"))


def axis_px(review: Review, key: str) -> tuple[list[float], list[float]]:
    """Return what matplotlib itself says of a chart's axes: ends in values, ends in places."""
    (chart,) = (p for p in figures.stroke_pictures(review) if p.key == key)
    root = ET.fromstring(chart.svg)
    x, y = ([float(n) for n in root.get(f"data-{name}", "").split()] for name in "xy")
    return x, y


def test_places_are_those_of_the_chart(review: Review) -> None:
    """A point lies where matplotlib would draw it."""
    x, y = axis_px(review, "curve-trunk")
    for along, value, at in ((x[0], y[0], 2), (x[1], y[1], 3)):
        expected = x[at], y[at]
        assert svg.place_px(along, value, (y[0], y[1])) == pytest.approx(expected, abs=0.01)


def test_a_box_stands_between_its_bars() -> None:
    (box,), bars = marked(GATE)
    top, bottom = (svg.place_px(0.4, value, LIMITS)[1] for value in (-3.0, -20.0))
    assert number(box, "y") == pytest.approx(top, abs=0.01)
    assert number(box, "y") + number(box, "height") == pytest.approx(bottom, abs=0.02)
    assert sorted(number(bar, "y1") for bar in bars) == pytest.approx([top, bottom], abs=0.01)
    middle = svg.place_px(0.4, 0.0, LIMITS)[0]
    assert number(box, "x") + number(box, "width") / 2 == pytest.approx(middle, abs=0.02)


def test_an_open_side_reaches_the_axis_end_without_a_bar() -> None:
    (box,), bars = marked(replace(GATE, high=None))
    assert len(bars) == 1
    assert number(box, "y") == pytest.approx(svg.place_px(0.4, LIMITS[1], LIMITS)[1], abs=0.01)


def test_the_front_stands_at_both_ends_and_inside() -> None:
    boxes, bars = marked(replace(GATE, along=0.0))
    assert len(boxes) == 2 and len(bars) == 4
    left, right = (svg.place_px(along, 0.0, LIMITS)[0] for along in (0.0, 1.0))
    assert min(number(box, "x") for box in boxes) >= left - 0.01
    assert max(number(box, "x") + number(box, "width") for box in boxes) <= right + 0.01
    # Full compression late after the catch comes once: the next one is beyond the axis.
    assert len(marked(replace(GATE, along=0.3))[0]) == 1


def test_nothing_asked_nothing_marked() -> None:
    assert gate_marks([], 0.4, LIMITS) == ("", "")


def test_boxes_lie_below_the_curve_and_bars_above(review: Review) -> None:
    (chart,) = (p for p in figures.stroke_pictures(review) if p.key == "curve-trunk")
    first, last = chart.svg.index("<rect"), chart.svg.index("<line")
    assert first < chart.svg.index('id="curve-trunk-figure_1"') < last
    assert chart.svg.count("<rect") >= 2 and "#0606" not in chart.svg


def test_the_axis_has_room_for_every_shipped_standard() -> None:
    """Pages by another of them show the same axis, which can be compared."""
    asked = [
        sign * end
        for name in SHIPPED
        for stage in STAGES
        for measure, sign in (("catch_trunk_deg", 1.0), ("layback_deg", -1.0))
        for end in load_standard(name).at(stage, "erg")[measure].bounds(20.0)
        if end is not None
    ]
    low, high = figures._LEANS_DEG
    assert (min(asked), max(asked)) == (low, high)
