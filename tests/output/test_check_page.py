"""The page of a filming check, and what it does with hostile names."""

from __future__ import annotations

from html.parser import HTMLParser

from analysis.filming import Checked, yaw_effects_deg
from analysis.output.check_page import render_check, view_sentence, write_check
from analysis.output.phone_place import PHONE_PLACE
from analysis.result import QualityPoint

HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>.mp4'


def checked(level: str = "fair", key: str = "size", yaw_deg: float = 8.0, file: str = "a.mp4"):
    told = ("One pixel is much.", "Go closer.") if level != "good" else ("", "")
    point = QualityPoint(key, "Large enough", level, 40.0, "px", *told)
    return Checked(file, "640×360", (point,), "", yaw_deg, yaw_effects_deg(yaw_deg))


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict]] = []

    def handle_starttag(self, tag: str, attrs: list) -> None:
        self.found.append((tag, dict(attrs)))


def test_failing_place_brings_the_picture_and_a_good_one_does_not() -> None:
    assert PHONE_PLACE in render_check([checked("poor")], [])
    assert PHONE_PLACE not in render_check([checked("good")], [])
    # Light is no matter of where the phone stands.
    assert PHONE_PLACE not in render_check([checked("fair", key="light")], [])


def test_view_is_told_with_what_it_does() -> None:
    # atan(tan 25° · cos 14°) = 24.3°: 0.7° less (exact for a far camera).
    assert "14° off square" in view_sentence(checked(yaw_deg=14.0))
    assert "trunk at the catch −0.7°" in view_sentence(checked(yaw_deg=14.0))
    # What nobody would see is no sentence: at 6° a trunk at 25° reads 0.1° less.
    assert view_sentence(checked(yaw_deg=6.0)) == ""
    assert "cannot be told" in view_sentence(checked(yaw_deg=float("nan")))


def test_hostile_names_stay_text() -> None:
    page = render_check([checked(file=HOSTILE)], [(HOSTILE, HOSTILE)])
    tags = Tags()
    tags.feed(page)
    assert not [tag for tag, _ in tags.found if tag == "script"]
    assert not [name for _, attrs in tags.found for name in attrs if name.startswith("on")]
    assert "&lt;script&gt;" in page


def test_page_loads_nothing(tmp_path) -> None:
    write_check([checked()], [], tmp_path / "new" / "check.html")
    page = (tmp_path / "new" / "check.html").read_text(encoding="utf-8")
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert not list((tmp_path / "new").glob(".*"))
