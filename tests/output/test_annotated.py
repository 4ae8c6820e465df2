"""The annotated clip: plays everywhere, keeps true times, and draws joints where they are."""

from __future__ import annotations

import struct
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest
from made_review import made_review

from analysis.errors import SideonError
from analysis.motion.motion import JOINTS
from analysis.output import video
from analysis.output.annotated import frames_of, write_annotated
from analysis.output.palette import BODY, LEGS
from analysis.output.text import Picture
from analysis.output.timing import SLOWER, Timing, timing
from analysis.result import Review


def decode(path: Path) -> tuple[list[Picture], list[float], list[bool]]:
    with av.open(str(path)) as container:
        frames = list(container.decode(video=0))
    return (
        [frame.to_ndarray(format="bgr24") for frame in frames],
        [float(frame.pts * frame.time_base) for frame in frames],
        [bool(frame.key_frame) for frame in frames],
    )


def boxes(path: Path) -> list[str]:
    """Return the names of the file's outermost boxes (ISO/IEC 14496-12: size, then name)."""
    data, at, found = path.read_bytes(), 0, []
    while at + 8 <= len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        if size == 1:
            (size,) = struct.unpack(">Q", data[at + 8 : at + 16])
        found.append(name.decode())
        at += size or len(data)
    return found


def test_plays_in_browsers(annotated: tuple[Path, Timing]) -> None:
    path, _ = annotated
    with av.open(str(path)) as container:
        assert not container.streams.audio
        stream = container.streams.video[0]
        assert stream.codec_context.name == "h264"
        assert stream.codec_context.pix_fmt == "yuv420p"
        assert (stream.width, stream.height) == (854, 480)  # a tiny clip is made readable
    order = boxes(path)
    assert order.index("moov") < order.index("mdat")


def test_times_are_the_frames_own(annotated: tuple[Path, Timing], review: Review) -> None:
    path, when = annotated
    _, shown_s, _ = decode(path)
    assert len(shown_s) == len(review.motion.t_s)
    np.testing.assert_allclose(shown_s, when.shown_s, atol=1.01 / video.TICKS)
    steps, own = np.diff(shown_s), np.diff(review.motion.t_s)
    slow = when.slowed[:-1] > 1
    np.testing.assert_allclose(steps[~slow], own[~slow], atol=2.02 / video.TICKS)
    np.testing.assert_allclose(steps[slow], SLOWER * own[slow], atol=2.02 / video.TICKS)
    assert np.ptp(own) > 0.01  # the made-up clip is uneven, so this says something


def test_duration_grows_by_what_is_slowed(annotated: tuple[Path, Timing], review: Review) -> None:
    path, when = annotated
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        duration_s = float(stream.duration * stream.time_base)
    source_s = float(review.motion.t_s[-1] - review.motion.t_s[0])
    assert duration_s > source_s
    assert duration_s == pytest.approx(when.duration_s, abs=0.002)


def test_slowed_around_catch_and_release_of_the_shown_stroke(review: Review) -> None:
    when, i = timing(review), 1  # the made-up first finding shows best in stroke 2
    for at_s in (
        review.strokes.catch_s[i],
        review.strokes.release_s[i],
        review.findings.findings[0].show_at_s,
    ):
        frame = int(np.argmin(np.abs(review.motion.t_s - at_s)))
        assert when.slowed[frame] == SLOWER
    first_drive = 0.5 * (review.strokes.catch_s[0] + review.strokes.release_s[0])
    assert when.slowed[int(np.argmin(np.abs(review.motion.t_s - first_drive)))] == 1.0


def test_stepping_is_instant(annotated: tuple[Path, Timing]) -> None:
    keys = np.flatnonzero(decode(annotated[0])[2])
    assert keys[0] == 0 and np.diff(keys).max() <= video.KEY_EVERY


@pytest.mark.parametrize(("joint", "colour"), [("hip", BODY), ("knee", LEGS)])
def test_joint_is_drawn_where_it_is(
    annotated: tuple[Path, Timing], review: Review, joint: str, colour: tuple[int, int, int]
) -> None:
    frames, _, _ = decode(annotated[0])
    scale = frames[0].shape[1] / review.pose.clip.width_px
    hits = 0
    for index in range(0, len(frames), 5):
        x, y = review.motion.joints_px[index, JOINTS.index(joint)] * scale
        spot = frames[index][round(y) - 1 : round(y) + 2, round(x) - 1 : round(x) + 2]
        hits += bool(np.abs(spot.mean(axis=(0, 1)) - colour).max() < 45)
    # Elsewhere a ring or another limb may cross it.
    assert hits >= 0.8 * len(range(0, len(frames), 5))


def test_pictures_are_drawn_on_their_own_frames(
    annotated: tuple[Path, Timing], review: Review
) -> None:
    """The hip's mark travels with the rower: no frame is drawn on its neighbour."""
    frames, _, _ = decode(annotated[0])
    for index, plain in frames_of(review, 854, 480):
        if index % 7:
            continue
        unlike = np.abs(frames[index].astype(int) - plain.astype(int)).max(axis=2) > 60
        changed = np.argwhere(unlike[:420])
        hip = review.motion.joint("hip")[index] * 854 / 320
        gaps = np.hypot(changed[:, 1] - hip[0], changed[:, 0] - hip[1])
        assert len(changed) and gaps.min() < 12


def test_part_of_a_clip(review: Review, tmp_path: Path) -> None:
    """A review of the clip's second half is drawn on the second half."""
    half = len(review.motion.t_s) // 2
    m, s, p = review.motion, review.strokes, review.pose
    part = replace(
        review,
        motion=replace(
            m,
            t_s=m.t_s[half:],
            joints_px=m.joints_px[half:],
            place_px=m.place_px[half:],
            handle_px=m.handle_px[half:],
            filled=m.filled[half:],
            angles_deg=m.angles_deg[half:],
            angle_se_deg=m.angle_se_deg[half:],
            angle_bias_se_deg=m.angle_bias_se_deg[half:],
            belly_x_px=m.belly_x_px[half:],
        ),
        strokes=replace(s, phase=s.phase[half:], stroke=s.stroke[half:]),
        pose=replace(
            p,
            t_s=p.t_s[half:],
            landmarks={},
            outline_px=p.outline_px[p.outlined >= half],
            outline_frames=p.outlined[p.outlined >= half] - half,
            identity_uncertain=p.identity_uncertain[half:],
            camera_shift_px=p.camera_shift_px[half:],
        ),
    )
    path = tmp_path / "part.mp4"
    write_annotated(part, path)
    frames, shown_s, _ = decode(path)
    assert len(frames) == len(m.t_s) - half and shown_s[0] == 0.0
    x, y = part.motion.joint("hip")[3] * 854 / 320
    assert np.abs(frames[3][round(y), round(x)].astype(int) - BODY).max() < 45


def test_missing_encoder_is_said_plainly(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(av, "codecs_available", frozenset({"mpeg4"}))
    with pytest.raises(SideonError, match=r"needs the H\.264 encoder.*pip install"):
        write_annotated(review, tmp_path / "x.mp4")


@pytest.mark.parametrize(
    ("size", "fitted"),
    [
        ((1920, 1080), (1280, 720)),
        ((1080, 1920), (720, 1280)),
        ((960, 540), (960, 540)),
        ((320, 240), (854, 640)),
        ((961, 541), (960, 540)),
        ((3840, 20), (1280, 6)),
    ],
)
def test_size(size: tuple[int, int], fitted: tuple[int, int]) -> None:
    assert video.fitting_size(*size, 1280, 854) == fitted


def test_odd_size_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="expected even, got 101×100"):
        video.VideoWriter(tmp_path / "x.mp4", 101, 100)


def test_progress_runs_to_the_end(review: Review, tmp_path: Path) -> None:
    shares: list[float] = []
    write_annotated(review, tmp_path / "x.mp4", longest_px=160, progress=shares.append)
    assert shares == sorted(shares) and shares[-1] == 1.0
    with av.open(str(tmp_path / "x.mp4")) as container:
        assert container.streams.video[0].width == 160


def test_colours_come_back(tmp_path: Path) -> None:
    """Blue, green, red survive the way through BT.709 and back within the coding's loss."""
    picture = np.zeros((96, 96, 3), dtype=np.uint8)
    picture[:32, :, 0], picture[32:64, :, 1], picture[64:, :, 2] = 200, 180, 220
    with video.VideoWriter(tmp_path / "x.mp4", 96, 96) as out:
        for k in range(3):
            out.write(picture, k / 30, 1 / 30)
    frames, _, _ = decode(tmp_path / "x.mp4")
    for row in (16, 48, 80):
        np.testing.assert_allclose(frames[1][row, 48], picture[row, 48], atol=14)


def test_left_facing_mirrors(tmp_path: Path) -> None:
    """The same rower with the feet on the left shows the same angles."""
    left = made_review(tmp_path, strokes=2, stroke_s=1.0, size=(320, 180), facing="left")
    write_annotated(left, tmp_path / "left.mp4")
    frames, _, _ = decode(tmp_path / "left.mp4")
    x, y = left.motion.joint("hip")[8] * 854 / 320
    assert np.abs(frames[8][round(y), round(x)].astype(int) - BODY).max() < 45
