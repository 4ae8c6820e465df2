"""Curves over the stroke, and the figures made from them."""

from __future__ import annotations

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from analysis.output import curves, figures
from analysis.output.handle_figure import handle_picture
from analysis.result import Review


def all_pictures(review: Review) -> list[figures.Picture]:
    extra = [figures.order_picture(review), handle_picture(review)]
    return figures.stroke_pictures(review) + [p for p in extra if p is not None]


@pytest.fixture(scope="module")
def pictures(review: Review) -> list[figures.Picture]:
    return all_pictures(review)


def test_events_fall_onto_each_other(review: Review) -> None:
    """Strokes of different length and drive share still meet at catch, release, next catch."""
    strokes = review.strokes
    uneven = replace(
        strokes,
        release_s=strokes.release_s + np.array([-0.08, 0.0, 0.11]),
        next_catch_s=strokes.next_catch_s + np.array([0.0, -0.1, -0.2]),
    )
    changed = replace(review, strokes=uneven)
    times = curves.times_along(changed)
    np.testing.assert_allclose(times[:, 0], uneven.catch_s)
    np.testing.assert_allclose(times[:, -1], uneven.next_catch_s)
    axis = np.linspace(0, 1, curves.POINTS)
    turn = curves.release_along(changed)
    for row, release in zip(times, uneven.release_s, strict=True):
        assert np.interp(turn, axis, row) == pytest.approx(release, abs=0.01)


def test_a_straight_line_stays_one(review: Review) -> None:
    """A quantity equal to the time is laid over exactly as the stroke's own times."""
    laid = curves.lay_over(review, review.motion.t_s.copy())
    np.testing.assert_allclose(laid, curves.times_along(review), atol=1e-9)


def test_mean_and_spread_by_hand(review: Review) -> None:
    """A quantity that is 1, 2, 3 in the three strokes has mean 2 and spread 1 (sample SD)."""
    one = curves.curve(review, "x", review.strokes.stroke.astype(float))
    middle = slice(20, 80)  # away from the ends, where neighbouring strokes meet
    np.testing.assert_allclose(one.mean[middle], 2.0)
    np.testing.assert_allclose(one.sd[middle], 1.0)


def test_gaps_stay_gaps(review: Review) -> None:
    values = np.where(review.strokes.stroke == 2, np.nan, 5.0)
    one = curves.curve(review, "x", values)
    assert np.isnan(one.each[1, 10:90]).all()
    np.testing.assert_allclose(one.mean[10:90], 5.0)
    nothing = curves.curve(review, "x", np.full(len(values), np.nan))
    assert np.isnan(nothing.mean).all() and np.isnan(nothing.sd).all()


def test_layback_gate_is_turned_into_lean(review: Review) -> None:
    """Layback 3…20° is a lean of −20…−3°."""
    (gate,) = curves.gate(review, "layback_deg", 0.4, sign=-1.0)
    assert (gate.low, gate.high) == (-20.0, -3.0) and not gate.passed


def test_no_gate_where_the_standard_does_not_judge(review: Review) -> None:
    rows = tuple(replace(f, level="not applicable") for f in review.findings.findings)
    silent = replace(review, findings=replace(review.findings, findings=rows))
    assert curves.gate(silent, "layback_deg", 0.4) == ()
    assert curves.gate(review, "rate_spm", 0.4) == ()


def test_order_of_the_drive(review: Review) -> None:
    """The made-up rower's legs go first, then the body, then the arms."""
    done = curves.drive_progress(review)
    axis = np.linspace(0, 1, curves.POINTS)
    halves = [
        float(np.interp(0.5, done[name].mean(axis=0), axis)) for name in ("legs", "body", "arms")
    ]
    # By construction: eased moves over 0…72 % and 25…95 % of the drive, each half done midway; the
    # arms stay long until 55 % and are the last.
    assert halves[0] == pytest.approx(0.36, abs=0.02)
    assert halves[1] == pytest.approx(0.60, abs=0.02)
    assert halves[2] > halves[1] + 0.1
    assert done["arms"][:, axis <= 0.53].max() < 0.01


def test_what_hardly_moves_has_no_order(review: Review) -> None:
    still = replace(review.motion, angles_deg=np.full_like(review.motion.angles_deg, 20.0))
    done = curves.drive_progress(replace(review, motion=still))
    assert np.isnan(done["body"]).all() and np.isfinite(done["legs"]).all()


def test_svg_is_sound(pictures: list[figures.Picture]) -> None:
    assert {p.key for p in pictures} >= {"curve-trunk", "curve-shin", "order", "handle"}
    ids: list[str] = []
    for one in pictures:
        root = ET.fromstring(one.svg)
        assert root.get("viewBox") and root.get("width") is None
        ids += [e.get("id", "") for e in root.iter() if e.get("id")]
        assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", one.svg)
        assert not re.search(r"#0[1-9]0[1-9]0[1-9]", one.svg), "a stand-in colour was left"
        assert "var(--" in one.svg
        used = re.findall(r'(?:href="#|url\(#)([^")]+)', one.svg)
        assert set(used) <= set(ids)
    assert len(ids) == len(set(ids))


def test_svg_is_the_same_twice(review: Review, pictures: list[figures.Picture]) -> None:
    assert [p.svg for p in all_pictures(review)] == [p.svg for p in pictures]


def test_alt_text_has_the_numbers(review: Review, pictures: list[figures.Picture]) -> None:
    trunk = next(p for p in pictures if p.key == "curve-trunk")
    assert "at the catch" in trunk.alt and "° at the release" in trunk.alt
    # The made-up rower leans 29° forward at the catch and 26° back at the release.
    assert "29° at the catch" in trunk.alt and "−26° at the release" in trunk.alt
    assert "−20° to −3° at the release" in trunk.alt
    assert trunk.alt in trunk.svg


def test_nothing_without_strokes(review: Review) -> None:
    none = np.empty(0)
    empty = replace(
        review.strokes,
        catch_s=none, release_s=none, next_catch_s=none, full_compression_s=none,
        stage_of_stroke=(), measures={},
    )  # fmt: skip
    bare = replace(review, strokes=empty)
    assert figures.stroke_pictures(bare) == []
    assert figures.order_picture(bare) is None and handle_picture(bare) is None


def test_matplotlib_is_loaded_late() -> None:
    """Importing the output stage does not load matplotlib's drawing (half a second)."""
    code = (
        "import sys, analysis.output.write; "
        "print([m for m in ('matplotlib.figure', 'matplotlib.pyplot') if m in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"
