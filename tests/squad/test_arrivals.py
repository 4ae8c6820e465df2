"""Which clips of a folder are whole: containers cut at every place, files that grow, odd files."""

import os
import struct

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.squad import arrivals
from analysis.squad.arrivals import CUT_OFF_S, LONG_QUIET_S, QUIET_S, Arrivals, is_whole


def film(path, *, options=None, codec="mpeg4", **how):
    """Write a real clip of a few frames."""
    with av.open(str(path), "w", options=options or {}, **how) as container:
        stream = container.add_stream(codec, rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        rng = np.random.default_rng(1)
        for _ in range(12):
            picture = rng.integers(0, 255, (48, 64, 3), dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))
    return path.read_bytes()


def box(kind, content=b"", *, length=None, wide=False):
    size = len(content) + (16 if wide else 8) if length is None else length
    if wide:
        return struct.pack(">I4sQ", 1, kind, size) + content
    return struct.pack(">I4s", size, kind) + content


@pytest.mark.parametrize("ending", ["mp4", "mov"])
@pytest.mark.parametrize("options", [{}, {"movflags": "+faststart"}])
def test_a_real_clip_is_whole_at_its_end_and_nowhere_before(tmp_path, ending, options):
    path = tmp_path / f"a.{ending}"
    content = film(path, options=options)
    assert is_whole(path) is True
    for size in sorted({*range(8, 60), *range(60, len(content), 97), len(content) - 1}):
        path.write_bytes(content[:size])
        assert is_whole(path) is False, size


@pytest.mark.parametrize(
    ("content", "whole"),
    [
        (b"", False),
        (b"pict", None),
        (b"these are words, no boxes at all", None),
        (box(b"ftyp") + box(b"moov", b"1234") + box(b"mdat", b"12"), True),
        (box(b"ftyp") + box(b"mdat", b"12", wide=True) + box(b"moov", b"1234"), True),
        (box(b"ftyp") + box(b"mdat", b"12", wide=True)[:12], False),
        # Declared longer than what is here.
        (box(b"ftyp") + box(b"moov") + box(b"mdat", b"12", length=100), False),
        (box(b"ftyp") + box(b"mdat", b"12"), False),
        # As far as the end of the file: only time can tell.
        (box(b"ftyp") + box(b"moov") + box(b"mdat", b"12", length=0), None),
        (box(b"ftyp") + box(b"mdat", b"12", length=0), False),
        # In fragments, or with something odd after all that matters.
        (box(b"ftyp") + box(b"moov") + box(b"moof") + box(b"mdat", b"1"), None),
        (box(b"ftyp") + box(b"moov") + box(b"mdat", b"1") + b"\0\0", None),
        # A camera's own box.
        (box(b"ftyp") + box(b"beam", b"1") + box(b"moov") + box(b"mdat", b"1"), True),
        (box(b"beam", b"1") + box(b"moov") + box(b"mdat", b"1"), None),
        # The place was set aside with noughts and is still being filled in.
        (box(b"ftyp") + bytes(64), False),
        (box(b"ftyp") + box(b"moov", length=3), False),
    ],
)
def test_boxes(tmp_path, content, whole):
    path = tmp_path / "a.mp4"
    path.write_bytes(content)
    assert is_whole(path) is whole


@given(st.binary(max_size=200))
def test_any_bytes_are_judged(tmp_path_factory, content):
    path = tmp_path_factory.getbasetemp() / "any.mp4"
    path.write_bytes(content)
    assert is_whole(path) in (True, False, None)


def test_a_clip_is_taken_once_whole_and_quiet(tmp_path):
    whole = film(tmp_path / "a.mp4")
    path = tmp_path / "a.mp4"
    path.write_bytes(whole[: len(whole) // 2])
    found = Arrivals(tmp_path)

    def look(now_s):
        (one,) = found.look(now_s)
        return one.ready, one.cut_off

    assert look(0.0) == look(QUIET_S + 1) == look(CUT_OFF_S - 1) == (False, False)
    assert look(CUT_OFF_S + 1) == (False, True)
    path.write_bytes(whole)
    assert look(100.0) == look(100.0 + QUIET_S - 0.1) == (False, False)
    assert look(100.0 + QUIET_S) == (True, False)
    # Written anew: another clip, that has to be whole again.
    path.write_bytes(whole + box(b"free"))
    os.utime(path, ns=(1, 1))
    assert look(200.0) == (False, False)
    assert look(200.0 + QUIET_S) == (True, False)


def test_other_containers_must_be_quiet_for_longer(tmp_path):
    film(tmp_path / "a.mkv")
    found = Arrivals(tmp_path)
    assert [found.look(t)[0].ready for t in (0.0, QUIET_S, LONG_QUIET_S - 1, LONG_QUIET_S)] == [
        False, False, False, True,
    ]  # fmt: skip


def test_only_clips_and_what_goes_is_gone(tmp_path):
    (tmp_path / "notes.txt").touch()
    (tmp_path / ".sync-a.mp4").touch()
    (tmp_path / "folder.mp4").mkdir()
    (tmp_path / "a.MP4").touch()
    (tmp_path / "gone.mp4").symlink_to(tmp_path / "nowhere.mp4")
    found = Arrivals(tmp_path)
    assert [a.path.name for a in found.look(0.0)] == ["a.MP4"]
    (tmp_path / "a.MP4").unlink()
    assert found.look(1.0) == []
    with pytest.raises(OSError):
        Arrivals(tmp_path / "none").look(0.0)


def test_a_file_still_held_by_another_program(tmp_path, monkeypatch):
    path = tmp_path / "a.mp4"
    path.touch()

    def locked(*_args, **_more):
        raise PermissionError(13, "held")

    monkeypatch.setattr(type(path), "open", locked)
    assert arrivals.is_whole(path) is False
