"""More of what phones write: sizes, slow motion, timecodes; and files made to do harm."""

from __future__ import annotations

import struct
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from made_clips import make_clip, quarters

from analysis.clip import Clip, probe
from analysis.errors import UnreadableClipError


def peak_bytes(code: str, path: Path) -> int:
    """Largest memory of a process of its own that runs `code` on a file."""
    if not Path("/proc/self/status").exists():
        pytest.skip("peak memory is read from /proc")
    # VmHWM, not getrusage: that one counts what the parent had when the process was made.
    whole = (
        f"import sys\nfrom analysis.clip import Clip, probe\n{code}\n"
        "print([l.split()[1] for l in open('/proc/self/status') if l.startswith('VmHWM')][0])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", whole, str(path)], capture_output=True, text=True, check=True
    )
    return int(done.stdout) * 1024


@pytest.mark.parametrize("fps", [24, 60, 120, 240])
def test_slow_motion_keeps_true_times(tmp_path: Path, fps: int) -> None:
    times = [i / fps for i in range(round(1.2 * fps))]
    path = make_clip(tmp_path / "slow.mp4", times_s=times, options={"preset": "ultrafast"})
    with Clip(path) as clip:
        assert [frame.t_s for frame in clip] == pytest.approx(times, abs=2e-5)
        assert clip.facts().mean_fps == pytest.approx(fps, rel=1e-3)


@pytest.mark.parametrize("size", [(320, 240), (1920, 1080), (1080, 1920)])
def test_sizes(tmp_path: Path, size: tuple[int, int]) -> None:
    path = make_clip(
        tmp_path / "sized.mp4",
        size=size,
        times_s=[i / 10 for i in range(12)],
        options={"preset": "ultrafast"},
        pictures=[np.full((size[1], size[0], 3), 90, np.uint8)],
    )
    with Clip(path) as clip:
        assert next(iter(clip)).upright.size_px == size


@pytest.mark.parametrize("turn_deg", [90, 270])
def test_portrait_with_sound_and_uneven_times(tmp_path: Path, turn_deg: int) -> None:
    rng = np.random.default_rng(turn_deg)
    times = np.cumsum(rng.uniform(0.02, 0.06, 40)) - 0.02
    path = make_clip(tmp_path / "p.mov", times_s=list(times), turn_deg=turn_deg, sound=True)
    with Clip(path) as clip:
        frames = list(clip)
    assert frames[0].rgb.shape == (64, 48, 3)
    assert [f.t_s for f in frames] == pytest.approx(times - times[0], abs=2e-5)


def test_timecode_track_is_no_trouble(tmp_path: Path) -> None:
    path = tmp_path / "tc.mov"
    with av.open(str(path), "w") as target:
        target.metadata["timecode"] = "10:00:00:00"  # makes the muxer write such a track
        stream = target.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for _ in range(45):
            frame = av.VideoFrame.from_ndarray(quarters(64, 48), format="rgb24")
            target.mux(stream.encode(frame))
        target.mux(stream.encode())
    assert b"tmcd" in path.read_bytes()
    with Clip(path) as clip:
        assert len(list(clip)) == 45


@pytest.mark.parametrize(("frames", "fps"), [(10, 1), (10, 9), (12, 1)])
def test_few_and_slow_frames_are_read(tmp_path: Path, frames: int, fps: int) -> None:
    path = make_clip(tmp_path / "few.mp4", times_s=[i / fps for i in range(frames)])
    with Clip(path) as clip:
        assert len(list(clip)) == frames


def test_wrong_ending_does_not_matter(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "a.mp4").rename(tmp_path / "a.txt")
    with Clip(path) as clip:
        assert len(list(clip)) == 45


def test_decompression_bomb(tmp_path: Path) -> None:
    """A small file that claims 60000×60000 is refused, and takes no memory for it."""
    path = make_clip(
        tmp_path / "bomb.avi", codec="ffv1", time_base=Fraction(1, 30), options={"level": "1"}
    )
    data = bytearray(path.read_bytes())
    header = data.index(b"strf") + 8  # behind it, as in every AVI: its size, width, height
    assert struct.unpack_from("<ii", data, header + 4) == (64, 48)
    struct.pack_into("<ii", data, header + 4, 60_000, 60_000)
    path.write_bytes(data)
    with pytest.raises(UnreadableClipError):
        probe(path)
    # One picture in RGB would be 10.8 GB.
    assert peak_bytes("try: probe(sys.argv[1])\nexcept Exception: pass", path) < 0.3e9


def test_picture_that_grows_in_the_middle(tmp_path: Path) -> None:
    """Two raw streams one after the other: the second, larger one is no reason to fall over."""
    parts = [
        make_clip(
            tmp_path / f"{n}.h264",
            size=size,
            times_s=[i / 30 for i in range(40)],
            time_base=Fraction(1, 30),
            options={"bf": "0"},
            pictures=[np.full((size[1], size[0], 3), 90, np.uint8)],
        )
        for n, size in enumerate([(64, 48), (320, 240)])
    ]
    path = tmp_path / "both.h264"
    path.write_bytes(b"".join(part.read_bytes() for part in parts))
    try:
        with Clip(path) as clip:
            shapes = {frame.rgb.shape for frame in clip}
            facts = clip.facts()
        assert shapes == {(facts.height_px, facts.width_px, 3)}
    except UnreadableClipError as error:
        assert str(error).endswith(".")


def test_4k_in_bounded_memory(tmp_path: Path) -> None:
    """Reading 4K HEVC, 10 bit, as the pose stage does stays far below 1.5 GB."""
    small = np.random.default_rng(0).integers(0, 255, (54, 96, 3)).astype(np.uint8)
    path = make_clip(
        tmp_path / "4k.mov",
        size=(3840, 2160),
        codec="libx265",
        pix_fmt="yuv420p10le",
        times_s=[i / 10 for i in range(12)],
        options={"preset": "ultrafast", "x265-params": "log-level=none:bframes=0"},
        pictures=[np.kron(small, np.ones((40, 40, 1), np.uint8))],
    )
    # 237 MB measured on two cores; a decoder keeps some pictures more with more cores.
    reading = (
        "with Clip(sys.argv[1]) as clip:\n"
        "    for frame in clip: frame.scaled(1280, 720), frame.luma(320, 180)"
    )
    assert peak_bytes(reading, path) < 1.0e9
