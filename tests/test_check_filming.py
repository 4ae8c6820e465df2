"""Which part of a clip the filming check looks at."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from analysis import check_filming, clip
from analysis.errors import NoRowerError
from analysis.filming import Checked
from analysis.result import QualityPoint
from analysis.review import ReviewOptions

ALL = (None, None, None)


@pytest.fixture
def looks(monkeypatch):
    """Stand-ins for clips: of 600 s unless changed, in which strokes are seen or nobody rows."""
    made = SimpleNamespace(duration_s=600.0, strokes="good", parts=[], nobody=False)

    def look(path, options, progress, *, whole_s=None):
        made.parts.append((options.from_s, options.to_s, whole_s))
        if made.nobody and whole_s is not None:
            raise NoRowerError("Nobody rows.")
        strokes = QualityPoint("strokes", "Enough strokes", made.strokes, 9.0, "strokes")
        return Checked(path.name, "", (strokes,), "", 0.0, {})

    monkeypatch.setattr(check_filming, "_looked_at", look)
    monkeypatch.setattr(clip, "probe", lambda path: SimpleNamespace(duration_s=made.duration_s))
    return made


def check(**options) -> Checked:
    return check_filming.check_clip(Path("long.mp4"), ReviewOptions(**options))


def test_of_a_long_clip_the_minute_in_the_middle_is_enough(looks) -> None:
    check()
    assert looks.parts == [(270.0, 330.0, 600.0)]


@pytest.mark.parametrize("duration_s", [60.0, 120.0, float("nan")])
def test_a_short_clip_is_looked_at_as_a_whole(looks, duration_s) -> None:
    looks.duration_s = duration_s
    check()
    assert looks.parts == [ALL]


@pytest.mark.parametrize("part", [{"from_s": 0.0}, {"to_s": 590.0}])
def test_a_part_that_is_named_is_looked_at_as_it_is(looks, part) -> None:
    check(**part)
    assert looks.parts == [(part.get("from_s"), part.get("to_s"), None)]


def test_all_is_looked_at_where_the_middle_does_not_show_enough(looks) -> None:
    looks.strokes = "fair"
    check()
    looks.nobody = True
    check()
    assert looks.parts == [(270.0, 330.0, 600.0), ALL] * 2
