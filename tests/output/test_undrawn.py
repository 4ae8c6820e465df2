"""The undrawn clip is the original's own coded pictures where every browser plays them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from made_clips import corner_colours, make_clip, quarters

from analysis.clip import Clip
from analysis.output.undrawn import copy_undrawn

KEYS = {"g": "30", "bf": "2"}
NO_B_FRAMES = {"g": "30", "bf": "0"}
EVEN = [i / 30 for i in range(60)]
UNEVEN = np.cumsum(np.random.default_rng(3).uniform(0.02, 0.06, 60)).tolist()


def copy(source: Path, target: Path, *, left_out: int = 0, longest_px: int = 1280, **facts: Any):
    """Copy a clip as a review would; return whether it was and when each frame is to be shown."""
    with Clip(source) as clip:
        own = np.array([frame.t_s for frame in clip])[left_out:]
        known = replace(clip.facts(), **facts)
    steps = np.append(np.diff(own), 1 / 30)
    steps[10:20] *= 4.0  # what a review slows
    shown = np.concatenate([[0.0], np.cumsum(steps)])
    done = copy_undrawn(source, target, known, own, shown[:-1], shown[-1], longest_px)
    return done, shown


def frames(path: Path) -> tuple[list[np.ndarray], list[float]]:
    with av.open(str(path)) as container:
        decoded = list(container.decode(video=0))
    return [f.to_ndarray() for f in decoded], [float(f.pts * f.time_base) for f in decoded]


@pytest.mark.parametrize("options", [KEYS, NO_B_FRAMES, {"g": "30", "bf": "4", "b-pyramid": "2"}])
@pytest.mark.parametrize("times", [EVEN, UNEVEN, [t + 2.5 for t in EVEN]])
@pytest.mark.parametrize("sound", [False, True])
def test_the_same_pictures_at_the_times_asked_for(
    tmp_path: Path, options: dict[str, str], times: list[float], sound: bool
) -> None:
    source = make_clip(tmp_path / "a.mp4", times_s=times, options=options, sound=sound)
    target = tmp_path / "plain.mp4"
    done, shown = copy(source, target)
    assert done
    before, _ = frames(source)
    after, at_s = frames(target)
    assert len(before) == len(after) == len(times)
    assert all(np.array_equal(a, b) for a, b in zip(before, after, strict=True))
    np.testing.assert_allclose(at_s, shown[:-1], atol=1e-4)
    with av.open(str(target)) as container:
        assert [stream.type for stream in container.streams] == ["video"]
        lasts_s = float(container.streams.video[0].duration * container.streams.video[0].time_base)
        # An MP4 with reordered pictures and uneven times tells its end by the picture stored last.
        exact = times is not UNEVEN or options is NO_B_FRAMES
        assert lasts_s == pytest.approx(shown[-1], abs=1e-3 if exact else 0.03)
    content = target.read_bytes()
    assert content.index(b"moov") < content.index(b"mdat")


@pytest.mark.parametrize("options", [KEYS, NO_B_FRAMES, {"g": "30", "bf": "4", "b-pyramid": "2"}])
def test_each_picture_is_stored_as_lasting_as_long_as_it_is_shown(
    tmp_path: Path, options: dict[str, str]
) -> None:
    """Browsers look by that for the picture at a time; an MP4 keeps it as steps of decoding."""
    source = make_clip(tmp_path / "a.mp4", times_s=UNEVEN, options=options)
    done, shown = copy(source, tmp_path / "plain.mp4")
    assert done
    with av.open(str(tmp_path / "plain.mp4")) as container:
        stored = [(p.pts, p.dts, p.time_base) for p in container.demux(video=0) if p.size]
    at_s = [float(pts * base) for pts, _, base in stored]
    steps_s = np.diff([float(dts * base) for _, dts, base in stored])
    lasts_s = np.diff(shown)[np.searchsorted(shown + 1e-3, at_s)]
    np.testing.assert_allclose(steps_s, lasts_s[:-1], atol=1e-4)
    assert all(dts <= pts for pts, dts, _ in stored)


def test_b_frames_were_made(tmp_path: Path) -> None:
    """The test above would mean little for clips whose pictures are stored as they are shown."""

    def reordered(options: dict[str, str]) -> bool:
        with av.open(str(make_clip(tmp_path / "a.mp4", times_s=EVEN, options=options))) as clip:
            pts = [packet.pts for packet in clip.demux(video=0) if packet.size]
        return pts != sorted(pts)

    assert reordered(KEYS) and not reordered(NO_B_FRAMES)


@pytest.mark.parametrize("turn_deg", [90, 180, 270])
def test_a_turned_clip_stays_turned(tmp_path: Path, turn_deg: int) -> None:
    pictures = [quarters(96, 64)]
    source = make_clip(
        tmp_path / "a.mp4", times_s=EVEN, options=KEYS, size=(96, 64), pictures=pictures,
        turn_deg=turn_deg,
    )  # fmt: skip
    assert copy(source, tmp_path / "plain.mp4")[0]
    with Clip(source) as one, Clip(tmp_path / "plain.mp4") as other:
        before, after = next(iter(one)).rgb, next(iter(other)).rgb
    assert before.shape == after.shape
    assert corner_colours(before) == corner_colours(after)
    assert corner_colours(after) != corner_colours(pictures[0])


def test_nothing_but_pictures_is_handed_on(tmp_path: Path) -> None:
    """What a phone and an encoder wrote of place, device and settings stays behind."""
    bare = make_clip(tmp_path / "bare.mp4", times_s=EVEN, options=KEYS)
    source, target = tmp_path / "a.mp4", tmp_path / "plain.mp4"
    tags = {"movflags": "use_metadata_tags"}
    with av.open(str(bare)) as read, av.open(str(source), "w", options=tags) as write:
        stream = write.add_stream_from_template(read.streams.video[0])
        write.metadata["com.apple.quicktime.location.ISO6709"] = "+48.1000+011.5000/"
        write.metadata["model"] = "Telephone 7"
        write.metadata["creation_time"] = "2026-05-09T10:00:00Z"
        stream.metadata["handler_name"] = "Anns lens"
        for packet in read.demux(video=0):
            if packet.size:
                packet.stream = stream
                write.mux(packet)
    # x264 writes its settings into the same kind of information that cameras write theirs into.
    told = [b"+48.1000", b"Telephone 7", b"Anns lens", b"x264 - core"]
    assert all(mark in source.read_bytes() for mark in told)
    assert copy(source, target)[0]
    assert not any(mark in target.read_bytes() for mark in told)
    with av.open(str(source)) as before, av.open(str(target)) as after:
        assert "creation_time" in before.metadata
        assert set(after.metadata) <= {
            "major_brand", "minor_version", "compatible_brands", "encoder"
        }  # fmt: skip


@pytest.mark.parametrize(
    "more",
    [
        {"codec": "mpeg4", "options": {}, "time_base": Fraction(1, 30)},
        {"pix_fmt": "yuv444p"},
        {"pix_fmt": "yuv420p10le"},
        {"turn_deg": 0, "mirrored": True},
        {"pixel_aspect": Fraction(4, 3)},
        {"options": {"g": "250", "bf": "2"}, "times_s": [i / 30 for i in range(75)]},
    ],
    ids=lambda more: " ".join(map(str, more)),
)
def test_what_a_browser_may_not_play_well_is_left_to_the_encoder(
    tmp_path: Path, more: dict[str, Any]
) -> None:
    source = make_clip(tmp_path / "a.mp4", **{"times_s": EVEN, "options": KEYS} | more)
    assert not copy(source, tmp_path / "plain.mp4")[0]
    assert not (tmp_path / "plain.mp4").exists()


@pytest.mark.parametrize(
    "more", [{"left_out": 1}, {"longest_px": 60}, {"damaged_packets": 1}, {"guessed_times": 1}]
)
def test_what_was_not_measured_as_it_is_is_left_to_the_encoder(
    tmp_path: Path, more: dict[str, Any]
) -> None:
    source = make_clip(tmp_path / "a.mp4", times_s=EVEN, options=KEYS)
    assert copy(source, tmp_path / "plain.mp4")[0]
    (tmp_path / "plain.mp4").unlink()
    assert not copy(source, tmp_path / "plain.mp4", **more)[0]
    assert not (tmp_path / "plain.mp4").exists()


def test_another_container_or_too_many_bits(tmp_path: Path) -> None:
    film = make_clip(tmp_path / "a.mkv", times_s=EVEN, options=KEYS)
    assert not copy(film, tmp_path / "plain.mp4")[0]
    rng = np.random.default_rng(1)
    noise = [rng.integers(0, 255, (240, 320, 3), dtype=np.uint8) for _ in range(10)]
    rich = make_clip(
        tmp_path / "b.mp4",
        times_s=EVEN,
        pictures=noise,
        size=(320, 240),
        options={**KEYS, "crf": "5"},
    )
    assert 8 * rich.stat().st_size / EVEN[-1] > 3_000_000
    assert not copy(rich, tmp_path / "plain.mp4")[0]


def test_pictures_hidden_by_an_edit_are_not_brought_back(tmp_path: Path) -> None:
    """Phones trim a clip by hiding what was cut away; a copy would show it again."""
    source = make_clip(tmp_path / "a.mp4", times_s=EVEN, options=NO_B_FRAMES)
    content = bytearray(source.read_bytes())
    at = content.index(b"elst") + 4 + 4 + 4 + 4  # version and flags, count, duration: media time
    assert int.from_bytes(content[at : at + 4], "big") == 0
    content[at : at + 4] = (90000 // 2).to_bytes(4, "big")  # half a second
    source.write_bytes(bytes(content))
    with Clip(source) as clip:
        assert len(list(clip)) == 45
    assert not copy(source, tmp_path / "plain.mp4")[0]
