"""Landmarks kept between reviews: found again, only when they are the same, and private."""

import json
import os
import stat
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from analysis import kept_files
from analysis.clip import ClipFacts, content_hash
from analysis.pose import estimate as estimating
from analysis.pose import kept
from analysis.pose.track import (
    LIMBS,
    OUTLINE_POINTS,
    PICTURED_ACROSS,
    PICTURED_ALONG,
    LandmarkTrack,
    PoseTrack,
)
from tests.spoiled import spoil


def made_track(path: Path, frames: int = 20) -> PoseTrack:
    rng = np.random.default_rng(4)
    landmarks = {
        model: LandmarkTrack(
            model,
            ("nose", "left_hip"),
            rng.normal(size=(frames, 2, 2)),
            rng.random((frames, 2)),
            np.arange(frames) % 2 == first,
        )
        for first, model in enumerate(("thunder", "mediapipe"))
    }
    outline_px = rng.normal(size=(frames // 2, OUTLINE_POINTS, 2))
    outline_px[3] = np.nan
    return PoseTrack(
        clip=ClipFacts(path.name, content_hash(path), frames, 30.0, 640, 360, frames / 30),
        t_s=np.arange(frames) / 30,
        landmarks=landmarks,
        outline_px=outline_px,
        facing="left",
        people_seen=2,
        identity_uncertain=rng.random(frames) > 0.5,
        camera_shift_px=np.zeros((frames, 2)),
        camera_moves=False,
        upright_tilt_deg=0.1 + 0.2,
        models={"a.onnx": "00ff"},
        outline_frames=np.arange(1, frames, 2),
        pictured_frames=np.arange(0, frames, 5),
        pictured_ends_px=rng.normal(size=(len(range(0, frames, 5)), len(LIMBS), 2, 2)),
        pictured_grey=rng.integers(
            0,
            256,
            (len(range(0, frames, 5)), len(LIMBS), len(PICTURED_ACROSS), len(PICTURED_ALONG)),
            np.uint8,
        ),
    )


def same(one: PoseTrack, two: PoseTrack) -> bool:
    def plain(track: PoseTrack) -> list[object]:
        return [
            getattr(track, each.name)
            for each in fields(track)
            if each.name not in ("landmarks", "models")
        ]

    for a, b in zip(plain(one), plain(two), strict=True):
        if isinstance(a, np.ndarray):
            if a.dtype != b.dtype or not np.array_equal(a, b, equal_nan=a.dtype.kind == "f"):
                return False
        elif a != b and not (a != a and b != b):  # NaN is NaN
            return False
    return dict(one.models) == dict(two.models) and all(
        part.names == two.landmarks[name].names
        and np.array_equal(part.xy_px, two.landmarks[name].xy_px)
        and np.array_equal(part.score, two.landmarks[name].score)
        and np.array_equal(part.looked_at, two.landmarks[name].looked_at)
        for name, part in one.landmarks.items()
    )


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    path = tmp_path / "ann.mp4"
    path.write_bytes(b"as good as a clip")
    return path


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "landmarks"


@pytest.fixture(autouse=True)
def estimated(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """Stand in for the slow stage; tells how it was called."""
    calls: list[dict[str, object]] = []

    def estimate(path: Path, **options: object) -> PoseTrack:
        calls.append(options)
        return made_track(path)

    monkeypatch.setattr(estimating, "estimate_pose", estimate)
    return calls


def test_the_second_call_estimates_nothing(clip: Path, estimated: list) -> None:
    first = kept.kept_or_estimated(clip)
    shares: list[float] = []
    second = kept.kept_or_estimated(clip, progress=shares.append)
    assert len(estimated) == 1
    assert same(first, second) and same(second, made_track(clip))
    assert shares == [1.0]


def test_the_file_may_be_renamed(clip: Path, estimated: list) -> None:
    kept.kept_or_estimated(clip)
    renamed = clip.rename(clip.with_name("zoe.mp4"))
    assert kept.kept_or_estimated(renamed).clip.file == "zoe.mp4"
    assert len(estimated) == 1


@pytest.mark.parametrize(
    "options", [{"who": "left"}, {"who": 2}, {"from_s": 1.0}, {"to_s": 5.0}], ids=str
)
def test_another_rower_or_part_is_estimated(clip: Path, estimated: list, options: dict) -> None:
    kept.kept_or_estimated(clip)
    kept.kept_or_estimated(clip, **options)
    assert len(estimated) == 2
    kept.kept_or_estimated(clip, **options)
    kept.kept_or_estimated(clip)
    assert len(estimated) == 2


def test_another_content_model_or_program_is_estimated(
    clip: Path, estimated: list, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept.kept_or_estimated(clip)
    clip.write_bytes(b"another clip of that name")
    kept.kept_or_estimated(clip)
    assert len(estimated) == 2
    monkeypatch.setattr(kept, "_made_by", lambda: "a later version")
    kept.kept_or_estimated(clip)
    assert len(estimated) == 3


@pytest.mark.parametrize("damage", ["cut", "flipped", "emptied", "words", "other settings"])
def test_a_damaged_file_is_made_anew(
    clip: Path, folder: Path, estimated: list, damage: str
) -> None:
    first = kept.kept_or_estimated(clip)
    (file,) = folder.iterdir()
    spoil(file, damage)
    if damage == "other settings":
        with np.load(file) as arrays:
            held = dict(arrays)
        header = json.loads(str(held["header"]))
        header["settings"]["who"] = "left"
        np.savez(file, **{**held, "header": np.array(json.dumps(header))})
    assert same(kept.kept_or_estimated(clip), first)
    assert len(estimated) == 2
    kept.kept_or_estimated(clip)
    assert len(estimated) == 2
    assert len(list(folder.iterdir())) == 1


def test_only_the_owner_may_read(clip: Path, folder: Path) -> None:
    kept.kept_or_estimated(clip)
    (file,) = folder.iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_files_are_open_to_other_programs(clip: Path, folder: Path) -> None:
    kept.kept_or_estimated(clip)
    (file,) = folder.iterdir()
    with np.load(file, allow_pickle=False) as arrays:
        header = json.loads(str(arrays["header"]))
        assert arrays["thunder.xy_px"].shape == (20, 2, 2)
        assert arrays["t_s"].shape == (20,)
    assert header["track"]["landmarks"]["thunder"] == ["nose", "left_hip"]
    assert header["settings"]["clip"] == content_hash(clip)


def test_a_folder_that_cannot_be_written_to_is_done_without(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, estimated: list
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "file"))
    assert same(kept.kept_or_estimated(clip), made_track(clip))
    assert same(kept.kept_or_estimated(clip), made_track(clip))
    assert len(estimated) == 2


def test_what_was_not_used_for_longest_goes_first(
    clip: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number, who in enumerate((1, 2, 3), start=1):
        kept.kept_or_estimated(clip, who=who)
        for file in folder.iterdir():
            if file.stat().st_mtime > 1e6:
                os.utime(file, (number, number))
    size = next(folder.iterdir()).stat().st_size
    kept.kept_or_estimated(clip, who=1)  # used just now
    monkeypatch.setattr(kept_files, "MOST_BYTES", int(3.5 * size))
    kept.kept_or_estimated(clip, who=4)
    left = set()
    for file in folder.iterdir():
        with np.load(file) as arrays:
            left.add(json.loads(str(arrays["header"]))["settings"]["who"])
    assert left == {"1", "3", "4"}


def test_drop_removes_what_is_kept_of_one_clip(clip: Path, folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "ben.mp4"
    other.write_bytes(b"somebody else")
    for path in (clip, other):
        kept.kept_or_estimated(path)
    kept.kept_or_estimated(clip, who="left")
    (folder / f"{content_hash(clip)}-half.part").touch()  # left by a run that was killed
    assert kept_files.drop(content_hash(clip)) == 3
    assert [file.name.split("-")[0] for file in folder.iterdir()] == [content_hash(other)]
    assert kept_files.drop(content_hash(clip)) == 0
    for wrong in ("", "*", content_hash(clip)[:-1], content_hash(clip)[:-1] + "*"):
        with pytest.raises(ValueError, match="sha256"):
            kept_files.drop(wrong)


def test_nothing_is_kept_when_the_clip_changed_meanwhile(
    clip: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def estimate(path: Path, **options: object) -> PoseTrack:
        track = made_track(path)
        return replace(track, clip=replace(track.clip, sha256="0" * 64))

    monkeypatch.setattr(estimating, "estimate_pose", estimate)
    kept.kept_or_estimated(clip)
    assert not folder.exists()


@pytest.mark.parametrize(
    ("variables", "expected"),
    [
        ({"SIDEON_CACHE": "/x", "XDG_CACHE_HOME": "/y"}, "/x/landmarks"),
        ({"XDG_CACHE_HOME": "/y"}, "/y/sideon/landmarks"),
        # XDG Base Directory Specification 0.8: relative paths are to be ignored.
        ({"XDG_CACHE_HOME": "y", "HOME": "/h"}, "/h/.cache/sideon/landmarks"),
        ({"HOME": "/h"}, "/h/.cache/sideon/landmarks"),
    ],
)
def test_the_folder_follows_the_standard(
    variables: dict[str, str], expected: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("SIDEON_CACHE", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert kept_files.cache_folder() == Path(expected)
