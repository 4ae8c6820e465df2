"""A clip whose copying broke off is told as such when it shows too little."""

from pathlib import Path

import pytest
from made_clips import make_clip

from analysis.decoding import cut_off
from analysis.errors import NoRowerError, SettingsError
from analysis.review import missing_end_told

MIRA = Path(__file__).resolve().parents[1] / "sample_clips" / "mira_2026-05-09_sound.mp4"


@pytest.fixture
def half(tmp_path: Path) -> Path:
    """Half of a clip that names its length at the start, as phones and this program write them."""
    path = tmp_path / "half.mp4"
    path.write_bytes(MIRA.read_bytes()[: MIRA.stat().st_size // 2])
    return path


def test_half_a_file_is_told_and_a_whole_one_is_not(half: Path, tmp_path: Path) -> None:
    said = cut_off(half)
    assert said.startswith("The file holds only the first ") and "of 10 s" in said
    assert cut_off(MIRA) == ""
    assert cut_off(make_clip(tmp_path / "made.mp4")) == ""


def test_what_the_clip_shows_too_little_for_is_still_said(half: Path) -> None:
    told = r"copy the clip .* again\. Nobody rows\.$"
    with pytest.raises(NoRowerError, match=told), missing_end_told(half):
        raise NoRowerError("Nobody rows.")
    with pytest.raises(NoRowerError, match=r"^Nobody rows\.$"), missing_end_told(MIRA):
        raise NoRowerError("Nobody rows.")
    with pytest.raises(SettingsError, match=r"^No\.$"), missing_end_told(half):
        raise SettingsError("No.")
