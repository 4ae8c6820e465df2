"""Motion and strokes kept between reviews: the same to the last bit, or made anew."""

import json
import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis import kept_files, kept_results
from analysis.coaching.standard import load_standard
from analysis.digest import digest
from analysis.kept_results import kept_or_made
from analysis.motion.motion import Motion
from analysis.review import ReviewOptions, review_clip
from analysis.stroke.analyse import analyse_strokes
from tests.made_motion import made_motion
from tests.made_rower import Technique
from tests.pose.test_estimate import CLIP, needs_clip
from tests.spoiled import spoil

SHA256 = "0a" * 32


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "landmarks"


class Made:
    """Makes a motion and counts."""

    def __init__(self, motion: Motion) -> None:
        self.motion, self.count = motion, 0

    def __call__(self) -> Motion:
        self.count += 1
        return self.motion


@pytest.fixture
def made() -> Made:
    return Made(replace(made_motion(Technique()).motion, yaw_deg=0.1 + 0.2, notes=("one", "two")))


def test_what_was_kept_is_the_same_to_the_last_bit(made: Made) -> None:
    first = kept_or_made(SHA256, "motion", "the same", made)
    second = kept_or_made(SHA256, "motion", "the same", made)
    assert made.count == 1 and second is not first
    assert digest(second) == digest(first)
    strokes = analyse_strokes(first)
    kept_or_made(SHA256, "strokes", "", lambda: strokes)
    again = kept_or_made(SHA256, "strokes", "", lambda: pytest.fail("made again"))
    assert digest(again) == digest(strokes)


def test_anything_else_is_made_anew(made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    kept_or_made(SHA256, "motion", ("from", 1.0), made)
    kept_or_made(SHA256, "motion", ("from", np.nextafter(1.0, 2.0)), made)
    kept_or_made("0b" * 32, "motion", ("from", 1.0), made)
    assert made.count == 3
    monkeypatch.setattr(kept_results, "program_state", lambda: "a later version")
    kept_or_made(SHA256, "motion", ("from", 1.0), made)
    assert made.count == 4


def test_nothing_is_kept_of_what_carries_no_fingerprint(made: Made, folder: Path) -> None:
    for _ in range(2):
        kept_or_made("not given", "motion", "", made)
    assert made.count == 2 and not folder.exists()


@pytest.mark.parametrize("damage", ["cut", "flipped", "emptied", "words", "other key"])
def test_a_damaged_file_is_made_anew(made: Made, folder: Path, damage: str) -> None:
    kept_or_made(SHA256, "motion", "", made)
    (file,) = folder.iterdir()
    spoil(file, damage)
    if damage == "other key":
        with np.load(file) as arrays:
            held = dict(arrays)
        header = json.loads(str(held["header"])) | {"key": "another"}
        np.savez(file, **{**held, "header": np.array(json.dumps(header))})
    again = kept_or_made(SHA256, "motion", "", made)
    assert made.count == 2
    assert digest(again) == digest(made.motion)
    kept_or_made(SHA256, "motion", "", made)
    assert made.count == 2


def test_it_is_private_and_dropped_with_the_clip(made: Made, folder: Path) -> None:
    kept_or_made(SHA256, "motion", "", made)
    (file,) = folder.iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert kept_files.drop(SHA256) == 1
    assert not list(folder.iterdir())


def test_a_folder_that_cannot_be_written_to_is_done_without(
    made: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "file"))
    assert kept_or_made(SHA256, "motion", "", made) is made.motion


def test_every_source_counts_as_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """A changed source file anywhere in the package is another program."""
    package = Path(kept_results.__file__).parent
    read: set[Path] = set()
    real = Path.read_bytes

    def reading(path: Path) -> bytes:
        read.add(path)
        return real(path)

    monkeypatch.setattr(Path, "read_bytes", reading)
    kept_results.program_state.__wrapped__()
    endings = "*.py", "*.json", "*.npz", "*.toml"
    expected = {path for ending in endings for path in package.rglob(ending)}
    learned = {package / "motion" / name for name in ("learned.json", "limb_nets.npz")}
    assert read == expected and learned <= read


@needs_clip
def test_another_standard_fits_nothing_and_another_stage_reads_strokes_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from analysis.motion import reconstruct
    from analysis.stroke import analyse

    counted = {"fit": 0, "read": 0}

    def count(owner: object, attribute: str, name: str) -> None:
        real = getattr(owner, attribute)

        def counting(*words: object, **more: object) -> object:
            counted[name] += 1
            return real(*words, **more)

        monkeypatch.setattr(owner, attribute, counting)

    count(reconstruct, "reconstruct_motion", "fit")
    count(analyse, "analyse_strokes", "read")
    options = ReviewOptions(to_s=7.0)
    novice, trained = load_standard("novice"), load_standard("trained")
    first = review_clip(CLIP, novice, options)
    second = review_clip(CLIP, trained, options)
    assert counted == {"fit": 1, "read": 1}
    assert digest(second.motion, second.strokes) == digest(first.motion, first.strokes)
    review_clip(CLIP, novice, replace(options, stage="half_slide"))
    assert counted == {"fit": 1, "read": 2}
    review_clip(CLIP, novice, replace(options, setting="boat"))
    assert counted == {"fit": 2, "read": 3}
    plain = review_clip(CLIP, novice, replace(options, keep=False))
    assert counted == {"fit": 3, "read": 4}
    assert digest(plain.motion, plain.strokes) == digest(first.motion, first.strokes)
