"""The athlete's page in a real browser: the clip, its cursor, its keys."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from pages import Watched, open_page
from PIL import Image

from analysis.output.frame_names import frame_names
from analysis.output.timing import timing
from analysis.result import Review


def pictures(file: Path) -> tuple[list[Any], list[float]]:
    """Return every picture of a clip, small and grey, and when it is shown, s: told by PyAV."""
    with av.open(str(file)) as container:
        frames = list(container.decode(video=0))
    small = [np.asarray(f.to_image().convert("L").resize((160, 90)), dtype=float) for f in frames]
    return small, [float(f.pts * f.time_base) for f in frames]


def on_show(page: Any, video: str = "#clip") -> Any:
    """Return what the browser paints where the clip is, small and grey."""
    shot = page.locator(video).screenshot()
    picture = Image.open(io.BytesIO(shot)).convert("L").resize((160, 90))
    return np.asarray(picture, dtype=float)


def likest(painted: Any, frames: list[Any], rather: int | None = None) -> int:
    """Return the frame that looks most like what is painted; `rather` if no other is more so.

    Where on the screen a clip lies costs up to 0.05 by scaling (two neighbours were 0.02 apart
    where the handle stands still).
    """
    apart = [np.abs(painted - frame).mean() for frame in frames]
    if rather is not None and apart[rather] <= min(apart) + 0.05:
        return rather
    return int(np.argmin(apart))


def shown(page: Any, frames: list[Any], frame: int, video: str = "#clip") -> int:
    """Return the frame that is painted: `frame` as soon as it is, else what stays.

    A browser says that it has got there, and paints a moment later: on a busy machine after more
    than two repaints.
    """
    for _ in range(40):
        if likest(on_show(page, video), frames, frame) == frame:
            return frame
        page.wait_for_timeout(100)
    return likest(on_show(page, video), frames)


def frame_of(page: Any) -> int:
    return int(page.locator("#stage").get_attribute("data-frame"))


def settle(page: Any) -> None:
    page.wait_for_function(
        "() => [...document.querySelectorAll('video:not([hidden])')].every(v => !v.seeking)"
    )
    page.evaluate("() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")


def test_an_older_browser_keeps_the_cursor_moving(watched: Watched, folder: Path) -> None:
    """Without requestVideoFrameCallback the clip's own time is asked at every repaint."""
    gone = "delete HTMLVideoElement.prototype.requestVideoFrameCallback"
    watched.page.add_init_script(gone)
    page = open_page(watched, folder / "report.html")
    assert not page.evaluate("() => 'requestVideoFrameCallback' in HTMLVideoElement.prototype")
    page.locator("#play").click()
    page.wait_for_function("() => Number(document.getElementById('stage').dataset.frame) > 10")
    page.locator("#play").click()
    settle(page)
    frames, _ = pictures(folder / "annotated.mp4")
    at = frame_of(page)
    assert abs(shown(page, frames, at) - at) <= 1


def test_by_touch(browser: Any, folder: Path, made: Review) -> None:
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(8000)
    page = open_page(Watched(context.new_page()), folder / "report.html")
    page.get_by_role("button", name="Next stroke").tap()
    at = frame_of(page)
    assert at == int(np.argmin(np.abs(made.motion.t_s - made.strokes.catch_s[0])))
    page.locator("#clip").tap()
    page.wait_for_function(
        f"() => Number(document.getElementById('stage').dataset.frame) > {at + 3}"
    )
    page.locator("#clip").tap()
    page.wait_for_function("() => document.getElementById('clip').paused")
    svg = page.locator("#curve-knee-title").locator("xpath=..")
    svg.evaluate("e => e.scrollIntoView({ block: 'end', behavior: 'instant' })")
    before = frame_of(page)
    box = svg.bounding_box()
    page.touchscreen.tap(box["x"] + 0.9 * box["width"], box["y"] + 0.7 * box["height"])
    page.wait_for_function(
        f"() => Number(document.getElementById('stage').dataset.frame) !== {before}"
    )
    assert made.strokes.phase[frame_of(page)] in ("recovery", "catch")
    context.close()


def test_plays_with_the_cursor_in_step(watched: Watched, folder: Path) -> None:
    page = open_page(watched, folder / "report.html")
    _, shown_s = pictures(folder / "annotated.mp4")
    page.evaluate(
        """() => {
        window.seen = [];
        const clip = document.getElementById('clip');
        const line = document.querySelector('#h-clip ~ * svg[data-over=stroke] .cursor');
        const note = (_, facts) => {
          window.seen.push([facts.mediaTime, Number(document.getElementById('stage').dataset.frame),
            line.hasAttribute('hidden') ? null : Number(line.getAttribute('x1'))]);
          clip.requestVideoFrameCallback(note);
        };
        clip.requestVideoFrameCallback(note);
        }"""
    )
    page.locator("#play").click()
    page.wait_for_function("() => window.seen.length > 25")
    page.locator("#play").click()
    seen = page.evaluate("() => window.seen")
    assert len({frame for _, frame, _ in seen}) > 10, "the cursor stood still"
    for media_s, frame, _ in seen:
        true = int(np.argmin(np.abs(np.array(shown_s) - media_s)))
        assert abs(frame - true) <= 1, (media_s, frame, true)
    places = [x for _, _, x in seen if x is not None]
    assert len(set(places)) > 5, "the line in the curves stood still"


def test_the_line_stands_where_the_stroke_is(watched: Watched, folder: Path, made: Review) -> None:
    """At a catch at the left end of the axis, at a release at its mark, by the drawn axis."""
    page = open_page(watched, folder / "report.html")
    for name, share in (
        ("Catch 2", 0.0),
        ("Release 2", 0.4),
    ):  # made strokes drive 40 % of the time
        page.get_by_role("button", name=name, exact=True).click()
        for svg in page.locator("svg[data-over=stroke]").all():
            low, high, start, end = map(float, svg.get_attribute("data-x").split())
            assert (low, high) == (0.0, 1.0)
            x = float(svg.locator(".cursor").get_attribute("x1"))
            frame_share = 1 / (20.0 * 1.2)  # one frame of a stroke
            assert (x - start) / (end - start) == pytest.approx(share, abs=frame_share)


def test_a_finding_jumps_to_its_frame(watched: Watched, folder: Path, made: Review) -> None:
    page = open_page(watched, folder / "report.html")
    frames, _ = pictures(folder / "annotated.mp4")
    buttons = page.locator("[data-finding]")
    assert buttons.count() == 3  # the first thing, and two for later
    first = made.findings.first
    wanted = int(np.argmin(np.abs(made.motion.t_s - first.show_at_s)))
    buttons.first.click()
    settle(page)
    assert frame_of(page) == wanted
    assert shown(page, frames, wanted) == wanted
    assert page.evaluate("() => document.activeElement.id") == "place"


def test_steps_land_on_frames(watched: Watched, folder: Path, made: Review) -> None:
    page = open_page(watched, folder / "report.html")
    frames, _ = pictures(folder / "annotated.mp4")
    page.get_by_role("button", name="Catch 1", exact=True).click()
    at = frame_of(page)
    assert at == int(np.argmin(np.abs(made.motion.t_s - made.strokes.catch_s[0])))
    for count in range(1, 4):
        page.get_by_role("button", name="One picture on").click()
        settle(page)
        assert frame_of(page) == at + count
        assert shown(page, frames, at + count) == at + count
    page.get_by_role("button", name="Next catch or release").click()
    assert frame_of(page) == int(np.argmin(np.abs(made.motion.t_s - made.strokes.release_s[0])))
    page.get_by_role("button", name="Next stroke").click()
    assert frame_of(page) == int(np.argmin(np.abs(made.motion.t_s - made.strokes.catch_s[1])))


def test_a_tap_on_a_curve_goes_there(watched: Watched, folder: Path, made: Review) -> None:
    page = open_page(watched, folder / "report.html")
    page.get_by_role("button", name="Catch 2", exact=True).click()
    svg = page.locator("#curve-trunk-title").locator("xpath=..")
    _, _, start, end = map(float, svg.get_attribute("data-x").split())
    view = [float(v) for v in svg.get_attribute("viewBox").split()]
    svg.scroll_into_view_if_needed()
    box = svg.bounding_box()
    # Three quarters of the way along the axis lie in the recovery.
    x = (start + 0.75 * (end - start) - view[0]) / view[2] * box["width"]
    svg.click(position={"x": x, "y": box["height"] * 0.4})
    turn = 0.4
    begin, release, after = (
        float(v[1])
        for v in (made.strokes.catch_s, made.strokes.release_s, made.strokes.next_catch_s)
    )
    time = release + (0.75 - turn) / (1 - turn) * (after - release)
    assert begin < time < after
    assert abs(made.motion.t_s[frame_of(page)] - time) <= 1 / 20.0


def test_drawing_off_shows_the_same_frame_undrawn(watched: Watched, folder: Path) -> None:
    page = open_page(watched, folder / "report.html")
    drawn, _ = pictures(folder / "annotated.mp4")
    plain, _ = pictures(folder / "plain.mp4")
    page.get_by_role("button", name="Release 2", exact=True).click()
    settle(page)
    at = frame_of(page)
    assert shown(page, drawn, at) == at
    before = on_show(page)
    page.get_by_role("button", name="Drawing").click()
    page.wait_for_selector("#plain", state="visible")
    settle(page)
    assert frame_of(page) == at and shown(page, plain, at, "#plain") == at
    after = on_show(page, "#plain")
    assert np.abs(after - plain[at]).mean() < np.abs(after - drawn[at]).mean() / 2
    assert np.abs(before - drawn[at]).mean() < np.abs(before - plain[at]).mean() / 2
    page.get_by_role("button", name="One picture on").click()
    settle(page)
    assert shown(page, plain, at + 1, "#plain") == at + 1
    page.get_by_role("button", name="Drawing").click()
    page.wait_for_selector("#clip", state="visible")
    settle(page)
    assert shown(page, drawn, at + 1) == at + 1


def test_side_by_side_is_the_same_frame_twice(watched: Watched, folder: Path) -> None:
    page = open_page(watched, folder / "report.html")
    drawn, _ = pictures(folder / "annotated.mp4")
    plain, _ = pictures(folder / "plain.mp4")
    page.get_by_role("button", name="Both side by side").click()
    page.get_by_role("button", name="Release 2", exact=True).click()
    settle(page)
    at = frame_of(page)
    assert shown(page, drawn, at) == at and shown(page, plain, at, "#plain") == at
    left, right = (page.locator(name).bounding_box() for name in ("#clip", "#plain"))
    assert left["x"] + left["width"] <= right["x"] and left["width"] == right["width"]
    page.locator("#play").click()
    page.wait_for_timeout(900)
    apart = page.evaluate(
        "() => clipPage.frameShownAt(document.getElementById('clip').currentTime)"
        " - clipPage.frameShownAt(document.getElementById('plain').currentTime)"
    )
    assert abs(apart) <= 2
    page.locator("#play").click()
    settle(page)
    at = frame_of(page)
    assert shown(page, drawn, at) == at and shown(page, plain, at, "#plain") == at
    page.get_by_role("button", name="Both side by side").click()
    assert page.locator("#plain").is_hidden() and page.locator("#clip").is_visible()


def test_repeats_one_stroke_and_runs_slower(watched: Watched, folder: Path, made: Review) -> None:
    page = open_page(watched, folder / "report.html")
    page.get_by_role("button", name="Release 3", exact=True).click()
    page.get_by_role("button", name="Repeat this stroke").click()
    page.evaluate(
        "() => { window.frames_seen = []; player.onFrame(i => window.frames_seen.push(i)); "
        "document.getElementById('clip').playbackRate = 3; }"
    )
    page.locator("#play").click()
    page.wait_for_function(
        "() => window.frames_seen.some((f, i) => i && f < window.frames_seen[i - 1])"
    )
    page.wait_for_timeout(200)
    page.locator("#play").click()
    seen = np.array(page.evaluate("() => window.frames_seen"))
    inside = frame_names(made).stroke[seen] == 3
    assert inside.all(), seen
    page.locator("#speed").select_option("0.25")
    assert page.evaluate("() => document.getElementById('clip').playbackRate") == 0.25


def test_all_of_it_by_keyboard(watched: Watched, folder: Path, made: Review) -> None:
    page = open_page(watched, folder / "report.html")
    t_s, strokes = made.motion.t_s, made.strokes

    def nearest(time_s: float) -> int:
        return int(np.argmin(np.abs(t_s - time_s)))

    page.keyboard.press("n")
    assert frame_of(page) == nearest(strokes.catch_s[0])
    page.keyboard.press("ArrowRight")
    assert frame_of(page) == nearest(strokes.catch_s[0]) + 1
    page.keyboard.press("Shift+ArrowRight")
    assert frame_of(page) == nearest(strokes.release_s[0])
    page.keyboard.press("b")
    assert frame_of(page) == nearest(strokes.catch_s[0])
    page.keyboard.press("1")
    assert frame_of(page) == nearest(made.findings.first.show_at_s)
    for key, control in (("l", "#loop"), ("d", "#drawing")):
        before = page.locator(control).get_attribute("aria-pressed")
        page.keyboard.press(key)
        assert page.locator(control).get_attribute("aria-pressed") != before
    settle(page)
    page.keyboard.press("s")
    assert page.locator("#speed").input_value() == "0.5"
    page.keyboard.press("p")
    page.wait_for_function("() => !document.getElementById('plain').paused")
    page.keyboard.press("p")
    page.wait_for_function("() => document.getElementById('plain').paused")
    # A letter in a text field is a letter.
    page.locator("#marks > summary").click()
    page.locator("#mark-note").click()
    at = frame_of(page)
    page.keyboard.type("no lbn")
    assert page.locator("#mark-note").input_value() == "no lbn" and frame_of(page) == at
    # And all keys can be switched off.
    page.locator(".key-list > summary").click()
    page.locator("#keys-on").uncheck()
    page.keyboard.press("n")
    assert frame_of(page) == at


def test_every_control_is_reached_by_tab_and_shows_its_focus(
    watched: Watched, folder: Path
) -> None:
    page = open_page(watched, folder / "report.html")
    for summary in page.locator("summary").all():
        summary.click()
    page.evaluate("() => { document.activeElement.blur(); window.scrollTo(0, 0); }")
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('button, a[href], select, textarea, input, summary')]
        .filter(e => e.checkVisibility()).map((e, i) => { e.dataset.tab = i; return String(i); })"""
    )
    reached: dict[str, bool] = {}
    for _ in range(len(wanted) + 10):
        page.keyboard.press("Tab")
        tab, outlined = page.evaluate(
            """() => { const e = document.activeElement, s = getComputedStyle(e);
            const seen = s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2;
            return [e.dataset.tab, seen]; }"""
        )
        if tab is not None:
            reached[tab] = outlined
    assert set(reached) == set(wanted)
    assert all(reached.values()), [tab for tab, seen in reached.items() if not seen]


def test_uneven_frame_times_are_the_pages_own(watched: Watched, folder: Path, made: Review) -> None:
    page = open_page(watched, folder / "report.html")
    table = page.evaluate("() => clipPage.data.clip_s")
    np.testing.assert_allclose(table, made.motion.t_s, atol=1e-4)
    assert np.ptp(np.diff(made.motion.t_s)) > 0.01  # uneven, so this says something
    np.testing.assert_allclose(
        page.evaluate("() => clipPage.data.frames_s"), timing(made).shown_s, atol=1e-4
    )
