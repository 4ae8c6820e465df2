"""The reader: true times, upright pictures, and plain words for files that are no clips."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import av
import numpy as np
import pytest

from analysis.clip import Clip, probe
from analysis.decoding import Clock
from analysis.errors import UnreadableClipError
from tests.made_clips import corner_colours, make_clip, make_sound, quarters


def times_of(path: Path, **cut: float) -> list[float]:
    with Clip(path, **cut) as clip:
        return [frame.t_s for frame in clip]


class TestTimes:
    def test_variable_frame_rate_exact(self, tmp_path: Path) -> None:
        # Steps drawn once: between 1/60 and 1/8 s, in whole ms.
        steps = np.random.default_rng(1).integers(16, 125, 60)
        times = np.concatenate([[0], np.cumsum(steps)]) / 1000.0
        for name in ("vfr.mp4", "vfr.mkv", "vfr.mov"):
            path = make_clip(tmp_path / name, times_s=times.tolist())
            assert times_of(path) == pytest.approx(times, abs=1e-9)

    def test_first_frame_is_zero(self, tmp_path: Path) -> None:
        late = [7.25 + i / 25 for i in range(40)]
        path = make_clip(tmp_path / "late.mkv", times_s=late)
        assert times_of(path) == pytest.approx(np.arange(40) / 25, abs=1e-9)

    def test_mean_fps_from_the_times(self, tmp_path: Path) -> None:
        times = [i / 30 for i in range(20)] + [20 / 30 + i / 10 for i in range(20)]
        with Clip(make_clip(tmp_path / "two_rates.mp4", times_s=times)) as clip:
            facts = clip.facts()
        assert facts.frames == 40
        # 39 steps between first and last; the last frame is shown for one mean step.
        assert facts.mean_fps == pytest.approx(39 / times[-1], abs=1e-3)
        assert facts.duration_s == pytest.approx(times[-1] * 40 / 39, abs=1e-3)

    def test_second_pass_is_the_same(self, tmp_path: Path) -> None:
        path = make_clip(tmp_path / "a.mp4", times_s=[i / 24 for i in range(60)])
        with Clip(path) as clip:
            first = [(f.index, f.t_s, f.rgb.tobytes()) for f in clip]
            second = [(f.index, f.t_s, f.rgb.tobytes()) for f in clip]
        assert first == second

    def test_cut_gives_the_same_frames_as_the_whole(self, tmp_path: Path) -> None:
        # Twelve seconds with key frames every 2 s: the later cut is reached by seeking.
        path = make_clip(
            tmp_path / "long.mp4",
            times_s=[i / 25 for i in range(300)],
            options={"g": "50", "bf": "2"},
        )
        with Clip(path) as clip:
            whole = {f.t_s: f.rgb.mean() for f in clip}
        for low, high in ((0.5, 2.0), (8.3, 10.0), (10.02, 11.5)):
            with Clip(path, from_s=low, to_s=high) as clip:
                part = {f.t_s: f.rgb.mean() for f in clip}
                assert clip.facts().frames == len(part)
            assert part == {t: m for t, m in whole.items() if low <= t <= high}

    def test_frames_count_from_zero_in_a_cut(self, tmp_path: Path) -> None:
        path = make_clip(tmp_path / "a.mp4", times_s=[i / 25 for i in range(100)])
        with Clip(path, from_s=2.0) as clip:
            assert [f.index for f in clip] == list(range(50))


class TestClock:
    @staticmethod
    def clock() -> Clock:
        stream = SimpleNamespace(
            guessed_rate=Fraction(25), average_rate=None, time_base=Fraction(1, 1000)
        )
        return Clock(stream)

    @staticmethod
    def picture(pts: int | None) -> SimpleNamespace:
        return SimpleNamespace(pts=pts, time_base=Fraction(1, 1000))

    def read(self, clock: Clock, *pts: int | None) -> list[float | None]:
        return [clock.time_of(self.picture(p)) for p in pts]

    def test_repeated_and_backward_frames_are_never_shown(self) -> None:
        clock = self.clock()
        assert self.read(clock, 100, 140, 140, 130, 180) == [0.0, 0.04, None, None, 0.08]
        assert (clock.dropped, clock.guessed) == (2, 0)

    def test_missing_time_is_guessed_and_counted(self) -> None:
        clock = self.clock()
        assert self.read(clock, 0, None, 80) == pytest.approx([0.0, 0.04, 0.08])
        assert clock.guessed == 1

    def test_no_time_at_all(self) -> None:
        clock = self.clock()
        assert self.read(clock, None, None, None) == pytest.approx([0.0, 0.04, 0.08])
        assert clock.guessed == 3

    def test_clock_set_back_goes_on(self) -> None:
        clock = self.clock()
        read = self.read(clock, 5000, 5040, 0, 40, 80)
        assert read == pytest.approx([0.0, 0.04, 0.08, 0.12, 0.16])


class TestPicture:
    @pytest.mark.parametrize("mirrored", [False, True])
    @pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
    def test_turned_upright(self, tmp_path: Path, turn_deg: int, mirrored: bool) -> None:
        stored = quarters(96, 64)
        path = make_clip(
            tmp_path / "turned.mp4",
            pictures=[stored],
            size=(96, 64),
            turn_deg=turn_deg,
            mirrored=mirrored,
        )
        # The matrix that PyAV writes turns counter-clockwise, then mirrors left to right.
        expected = np.rot90(stored, turn_deg // 90)
        expected = expected[:, ::-1] if mirrored else expected
        header = probe(path)
        with Clip(path) as clip:
            frame = next(iter(clip))
            assert frame.rgb.shape == expected.shape
            assert corner_colours(frame.rgb) == corner_colours(expected)
            half = frame.scaled(expected.shape[1] // 2, expected.shape[0] // 2)
            assert corner_colours(half) == corner_colours(expected)
            blue_first = frame.bgr(*expected.shape[1::-1])
            assert corner_colours(blue_first[..., ::-1]) == corner_colours(expected)
        assert (header.width_px, header.height_px) == expected.shape[1::-1]
        if not mirrored:
            assert header.rotation_deg == (360 - turn_deg) % 360

    def test_pixels_that_are_not_square(self, tmp_path: Path) -> None:
        path = make_clip(tmp_path / "wide.mp4", size=(72, 64), pixel_aspect=Fraction(4, 3))
        with Clip(path) as clip:
            assert next(iter(clip)).rgb.shape == (64, 96, 3)

    @pytest.mark.parametrize(
        ("name", "codec", "pix_fmt", "size"),
        [
            ("h264.mp4", "libx264", "yuv420p", (64, 48)),
            ("h264.mov", "libx264", "yuv420p", (64, 48)),
            ("h264_odd.mkv", "libx264", "yuv444p", (63, 47)),
            ("hevc.mp4", "libx265", "yuv420p", (64, 64)),
            ("hevc_10_bit.mov", "libx265", "yuv420p10le", (64, 64)),
            ("vp9.webm", "libvpx-vp9", "yuv420p", (65, 49)),
            ("av1.mkv", "libsvtav1", "yuv420p", (64, 64)),
            ("mpeg4.avi", "mpeg4", "yuv420p", (63, 47)),
            ("motion_jpeg.avi", "mjpeg", "yuvj420p", (64, 48)),
        ],
    )
    def test_what_cameras_write(
        self, tmp_path: Path, name: str, codec: str, pix_fmt: str, size: tuple[int, int]
    ) -> None:
        quiet = {"libx265": {"x265-params": "log-level=none"}}.get(codec)
        pictures = [quarters(*size)]
        times = [i / 30 for i in range(36)]
        path = make_clip(
            tmp_path / name,
            codec=codec,
            pix_fmt=pix_fmt,
            size=size,
            pictures=pictures,
            times_s=times,
            options=quiet,
            time_base=Fraction(1, 30),
            sound=name.endswith(".mov"),
        )
        with Clip(path) as clip:
            frames = [(f.t_s, f.rgb) for f in clip]
            facts = clip.facts()
        # Matroska keeps whole milliseconds.
        assert [t for t, _ in frames] == pytest.approx(times, abs=6e-4)
        assert frames[-1][1].shape == (size[1], size[0], 3)
        assert corner_colours(frames[-1][1]) == corner_colours(pictures[0])
        assert (facts.width_px, facts.height_px, facts.frames) == (*size, 36)

    def test_high_dynamic_range_is_noticed(self, tmp_path: Path) -> None:
        # 18 is HLG in ITU-T H.273, the transfer that phones write.
        hlg = make_clip(tmp_path / "hlg.mp4", transfer=18)
        assert probe(hlg).high_dynamic_range
        assert not probe(make_clip(tmp_path / "plain.mp4")).high_dynamic_range


def picture_file(path: Path) -> Path:
    import cv2

    cv2.imwrite(str(path), quarters(64, 48))
    return path


def cut_off(tmp_path: Path) -> Path:
    whole = make_clip(tmp_path / "whole.mp4")
    path = tmp_path / "cut_off.mp4"
    path.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    return path


def garbled_name(tmp_path: Path) -> Path:
    path = tmp_path / "notes.mp4"
    path.write_text("Ann: sit up at the catch\n" * 40)
    return path


def empty(tmp_path: Path) -> Path:
    path = tmp_path / "empty.mp4"
    path.touch()
    return path


class TestRefusals:
    @pytest.mark.parametrize(
        ("make", "words"),
        [
            (lambda d: d / "nowhere.mp4", "no such file"),
            (lambda d: d, "folder"),
            (empty, "empty"),
            (cut_off, "cut off"),
            (garbled_name, "no video"),
            (lambda d: make_sound(d / "sound.m4a"), "only sound"),
            (lambda d: picture_file(d / "still.png"), "picture, not a clip"),
            (lambda d: picture_file(d / "still.jpg"), "picture, not a clip"),
            (lambda d: make_clip(d / "few.mp4", times_s=[i / 4 for i in range(9)]), "9 frames"),
            (lambda d: make_clip(d / "short.mp4", times_s=[i / 60 for i in range(30)]), "0.5 s"),
            (lambda d: make_clip(d / "one.mp4", times_s=[0.0]), "1 frame"),
        ],
    )
    def test_one_plain_sentence(self, tmp_path: Path, make: object, words: str) -> None:
        path = make(tmp_path)  # type: ignore[operator]
        with pytest.raises(UnreadableClipError, match=words) as caught, Clip(path) as clip:
            clip.facts()
        text = str(caught.value)
        assert text.endswith(".") and "\n" not in text and "Errno" not in text

    def test_cut_outside_the_clip(self, tmp_path: Path) -> None:
        path = make_clip(tmp_path / "a.mp4")
        with pytest.raises(UnreadableClipError, match="inside the clip"):
            times_of(path, from_s=60.0)
        with pytest.raises(UnreadableClipError, match="start that lies before"):
            Clip(path, from_s=2.0, to_s=1.0)

    def test_absurd_size(self, tmp_path: Path) -> None:
        # One column of 8200 px: small on disk, beyond the side that is read.
        path = make_clip(tmp_path / "huge.mkv", size=(8200, 16), codec="ffv1", times_s=[0.0])
        with pytest.raises(UnreadableClipError, match="8200×16"):
            probe(path)

    def test_names_with_spaces_and_any_letters(self, tmp_path: Path) -> None:
        path = make_clip(tmp_path / "Zoë 2. Übung – früh ☀.mp4")
        assert len(times_of(path)) == 45


class TestDamage:
    def test_damaged_packets_are_skipped_and_counted(self, tmp_path: Path) -> None:
        path = make_clip(
            tmp_path / "a.avi",
            codec="mpeg4",
            time_base=Fraction(1, 30),
            times_s=[i / 30 for i in range(90)],
            pictures=[
                np.random.default_rng(i).integers(0, 255, (48, 64, 3)).astype(np.uint8)
                for i in range(5)
            ],
        )
        with av.open(str(path)) as container:
            packets = [(p.pos, p.size) for p in container.demux(video=0) if p.size]
        data = bytearray(path.read_bytes())
        for position, size in packets[20:60:10]:
            data[position + 8 : position + 8 + size] = bytes(size)
        path.write_bytes(data)
        with Clip(path) as clip:
            times = [f.t_s for f in clip]
            facts = clip.facts()
        assert facts.damaged_packets >= 1
        assert len(times) >= 80
        assert np.all(np.diff(times) > 0)

    def test_mutated_files_never_trace_back(self, tmp_path: Path) -> None:
        # The nightly run sets FUZZED_CLIPS to 500 or more.
        count = int(os.environ.get("FUZZED_CLIPS", "56"))
        rng = random.Random(int(os.environ.get("FUZZ_SEED", "7")))
        seeds = [
            make_clip(tmp_path / "seed.mp4", turn_deg=90),
            make_clip(tmp_path / "seed.mkv", codec="libvpx-vp9", options={"cpu-used": "8"}),
            make_clip(tmp_path / "seed.avi", codec="mpeg4", time_base=Fraction(1, 30)),
            make_clip(tmp_path / "seed.mov", sound=True),
        ]
        read = refused = 0
        for number in range(count):
            seed = seeds[number % len(seeds)]
            data = bytearray(seed.read_bytes())
            for _ in range(rng.choice((1, 4, 30, 200))):
                data[rng.randrange(len(data))] = rng.randrange(256)
            if number % 7 == 0:
                start = rng.randrange(len(data))
                del data[start : start + rng.randrange(1, 400)]
            path = tmp_path / f"mutated{seed.suffix}"
            path.write_bytes(data)
            try:
                with Clip(path) as clip:
                    times = [(f.t_s, f.rgb.shape) for f in clip]
                assert np.all(np.diff([t for t, _ in times]) > 0)
                read += 1
            except UnreadableClipError as error:
                assert str(error).endswith(".")
                refused += 1
        assert read + refused == count
        assert read >= 5 and refused >= 5  # both ways were taken


def test_memory_does_not_grow_with_the_clip(tmp_path: Path) -> None:
    resource = pytest.importorskip("resource", reason="peak memory is read from the system")
    assert resource is not None
    path = make_clip(
        tmp_path / "large.mp4",
        size=(1280, 720),
        times_s=[i / 30 for i in range(240)],
        options={"preset": "ultrafast", "bf": "0"},
        pictures=[np.full((720, 1280, 3), 90, np.uint8)],
    )
    code = (
        "import resource, sys\n"
        "from analysis.clip import Clip\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "n = sum(f.rgb.shape[0] > 0 for f in Clip(sys.argv[1]))\n"
        "print(n, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True
    )
    frames, grown_kb = (int(word) for word in done.stdout.split())
    assert frames == 240
    # 240 pictures of 1280×720 in RGB would be 663 MB; linux counts kB, macOS bytes.
    unit = 1 if sys.platform == "darwin" else 1024
    assert grown_kb * unit < 200e6


def test_closing_frees_the_file(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "a.mp4")
    with Clip(path) as clip:
        next(iter(clip))
    shutil.move(path, tmp_path / "b.mp4")
    with Clip(tmp_path / "b.mp4") as clip:
        assert clip.facts().file == "b.mp4"


@pytest.mark.parametrize(
    ("fps", "every"), [(25, 1), (30, 1), (50, 2), (60, 2), (100, 3), (120, 3), (240, 6)]
)
def test_a_thinned_clip_keeps_twenty_five_to_forty_frames_with_their_own_times(
    tmp_path: Path, fps: int, every: int
) -> None:
    times = [i / fps for i in range(2 * fps)]
    path = make_clip(tmp_path / "fast.mp4", times_s=times)
    with Clip(path, thinned=True) as clip:
        given = [(frame.index, frame.t_s) for frame in clip]
        facts = clip.facts()
    assert [t for _, t in given] == pytest.approx(times[::every], abs=1e-4)
    assert [index for index, _ in given] == list(range(len(given)))
    assert facts.frames == len(times)
    assert facts.mean_fps == pytest.approx(fps, rel=1e-3)


def test_a_thinned_clip_of_uneven_frames_never_steps_far(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    times = np.concatenate([[0.0], np.cumsum(rng.uniform(0.004, 0.012, 400))])
    with Clip(make_clip(tmp_path / "v.mp4", times_s=times), thinned=True) as clip:
        steps = np.diff([frame.t_s for frame in clip])
    # At least the limit, and at most one frame more than that.
    assert steps.min() >= 0.021 - 1e-4 and steps.max() <= 0.021 + 0.012 + 1e-4
