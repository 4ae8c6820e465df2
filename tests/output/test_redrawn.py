"""Pictures of an earlier annotated clip used again: only where the very same would be drawn."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis import kept_files
from analysis.clip import Clip
from analysis.output import annotated, redrawn
from analysis.output.annotated import drawers, frames_of, write_annotated
from analysis.output.labels import Labels
from analysis.output.language import ENGLISH, Text
from analysis.output.moment import Moment, Moments, Note
from analysis.output.redrawn import Printer
from analysis.output.text import Picture
from analysis.output.timing import timing
from analysis.output.write import write_review
from analysis.result import Review
from tests.made_clips import make_clip


@pytest.fixture(autouse=True)
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SIDEON_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "landmarks"


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Times of the frames that are drawn."""
    times: list[float] = []
    real = annotated.draw_all

    def drawing(picture: Picture, moment: Moment, layers: Any) -> None:
        times.append(moment.t_s)
        real(picture, moment, layers)

    monkeypatch.setattr(annotated, "draw_all", drawing)
    return times


def decode(path: Path) -> tuple[list[Picture], list[int], list[bool]]:
    """Return the pictures, their times in ticks and which are key frames, errors and all."""
    with av.open(str(path)) as container:
        container.streams.video[0].codec_context.options = {"err_detect": "explode"}
        found = list(container.decode(video=0))
    return [f.to_ndarray() for f in found], [f.pts for f in found], [f.key_frame for f in found]


class OneMoment:
    """Stands in for the moments of a clip of one frame."""

    def __init__(self, moment: Moment, size_px: tuple[int, int] = (854, 480)) -> None:
        self.t_s, self.text, self.size_px = np.array([moment.t_s]), moment.text, size_px
        self._moment = moment

    def at(self, index: int) -> Moment:
        return self._moment


def changed(value: Any) -> Any:
    """Return the smallest change of a value."""
    if isinstance(value, Text):
        return replace(value, table={**value.table, "clip.part": "another word"})
    if is_dataclass(value):
        first = fields(value)[0].name
        return replace(value, **{first: changed(getattr(value, first))})
    if isinstance(value, np.ndarray):
        other = value.copy()
        other.flat[-1] = changed(other.flat[-1])
        return other
    if isinstance(value, bool | np.bool_):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return float(np.nextafter(value, np.inf)) if np.isfinite(value) else 0.0
    if isinstance(value, str):
        return f"{value}."
    assert isinstance(value, tuple)
    return (*value[:-1], changed(value[-1])) if value else ("one more",)


def full_moment(review: Review) -> Moment:
    """Return a moment in which nothing is missing."""
    moments = Moments(review, 1.0)
    found = (moments.at(i) for i in range(len(moments.t_s)))
    moment = next(m for m in found if m.notes and m.show and np.isfinite(m.along))
    return replace(moment, notes=(Note("one", "hip", True), Note("two", "knee", False)))


def print_of(review: Review, moment: Moment, layers: tuple[Any, ...] | None = None) -> bytes:
    told = drawers(review) if layers is None else layers
    (one,) = Printer(review.pose.clip, OneMoment(moment), told).all()  # type: ignore[arg-type]
    return bytes(one)


@pytest.mark.parametrize("name", [each.name for each in fields(Moment)])
def test_every_part_of_a_moment_counts(review: Review, name: str) -> None:
    moment = full_moment(review)
    other = replace(moment, **{name: changed(getattr(moment, name))})
    assert print_of(review, other) != print_of(review, moment)
    assert print_of(review, replace(moment)) == print_of(review, moment)


@pytest.mark.parametrize("name", [each.name for each in fields(Note)])
def test_every_part_of_a_note_counts(review: Review, name: str) -> None:
    moment = full_moment(review)
    last = moment.notes[-1]
    notes = (moment.notes[0], replace(last, **{name: changed(getattr(last, name))}))
    assert print_of(review, replace(moment, notes=notes)) != print_of(review, moment)


def test_every_part_of_the_language_counts(review: Review) -> None:
    moment = full_moment(review)
    for key in ENGLISH.table:
        text = replace(ENGLISH, table={**ENGLISH.table, key: "another word"})
        assert print_of(review, replace(moment, text=text)) != print_of(review, moment), key


def test_clip_size_title_layers_and_program_count(
    review: Review, monkeypatch: pytest.MonkeyPatch
) -> None:
    moment, clip = full_moment(review), review.pose.clip
    usual = print_of(review, moment)
    other = replace(review, pose=replace(review.pose, clip=replace(clip, sha256="0e" * 32)))
    larger = OneMoment(moment, (856, 480))
    layers = drawers(review)
    assert len({
        usual,
        print_of(other, moment, layers),
        bytes(Printer(clip, larger, layers).all()[0]),  # type: ignore[arg-type]
        print_of(review, moment, drawers(replace(review, athlete="Noor"))),
        print_of(review, moment, layers[1:]),
        print_of(review, moment, (*layers[1:], layers[0])),
        print_of(review, moment, (*layers[:-1], Labels("Noor"))),
        print_of(review, moment, ()),
    }) == 8  # fmt: skip
    monkeypatch.setattr(redrawn, "program_state", lambda: "a later version")
    assert print_of(review, moment) != usual


def test_what_a_layer_holds_must_be_known(review: Review) -> None:
    layer = Labels("Noor")
    layer.held = object()  # type: ignore[attr-defined]
    with pytest.raises(TypeError):
        print_of(review, full_moment(review), (layer,))


@given(
    same=st.lists(st.booleans(), min_size=1, max_size=60).map(np.array),
    gaps=st.lists(st.integers(1, 24), min_size=1, max_size=30),
)
def test_only_what_is_the_same_and_follows_its_key_frame_is_copied(
    same: np.ndarray, gaps: list[int]
) -> None:
    starts = np.concatenate([[0], np.cumsum(gaps)])
    starts = starts[starts < len(same)]
    copied = redrawn._copied(same, starts)
    assert not (copied & ~same).any()
    for start, end in zip(starts, [*starts[1:], len(same)], strict=True):
        part = copied[start:end].tolist()
        assert part == sorted(part, reverse=True)  # a group's beginning, nothing behind a gap
        assert sum(part) in (0, end - start, *range(2, end - start - 1))
    if same.all():
        assert copied.all()


def test_a_clip_that_would_be_the_same_is_copied_whole(
    review: Review, tmp_path: Path, drawn: list[float]
) -> None:
    first, second = tmp_path / "one", tmp_path / "two"
    for folder in (first, second):
        folder.mkdir()
    write_annotated(review, first / "annotated.mp4", earlier=first)
    assert len(drawn) == len(review.motion.t_s)
    drawn.clear()
    wanted: dict[int, Picture] = {5: np.zeros(0, np.uint8), 40: np.zeros(0, np.uint8)}
    write_annotated(review, second / "annotated.mp4", earlier=first, keep=wanted)
    assert not drawn
    before, after = decode(first / "annotated.mp4"), decode(second / "annotated.mp4")
    assert before[1:] == after[1:]
    assert all(np.array_equal(a, b) for a, b in zip(before[0], after[0], strict=True))
    plain = dict(frames_of(review, 854, 480))
    assert all(np.array_equal(wanted[index], plain[index]) for index in (5, 40))


def test_what_differs_is_made_anew_and_shown_at_its_own_time(
    review: Review, tmp_path: Path, drawn: list[float]
) -> None:
    """Other notes and other slowed parts: as if there had been no earlier clip."""
    first, second, plain = (tmp_path / name for name in ("one", "two", "plain"))
    for folder in (first, second, plain):
        folder.mkdir()
    findings = tuple(
        replace(f, level="steady") if f is review.findings.first else f
        for f in review.findings.findings
    )
    later = next(f for f in findings if f.level == "work on")
    other = replace(
        review, findings=replace(review.findings, findings=findings, first_check=later.check)
    )
    assert not np.array_equal(timing(review).shown_s, timing(other).shown_s)
    write_annotated(review, first / "annotated.mp4", earlier=first)
    before, _, keys = decode(first / "annotated.mp4")
    drawn.clear()
    write_annotated(other, second / "annotated.mp4", earlier=first)
    anew = np.isin(review.motion.t_s, drawn)
    assert 0 < anew.sum() < len(anew)
    write_annotated(other, plain / "annotated.mp4")
    expected, times, _ = decode(plain / "annotated.mp4")
    found, found_times, _ = decode(second / "annotated.mp4")
    assert found_times == times
    for index, picture in enumerate(found):
        # Within the coding's loss it shows what it would show without an earlier clip ...
        loss = np.mean((picture.astype(float) - expected[index]) ** 2)
        assert 10 * np.log10(255**2 / max(loss, 1e-9)) > 30, index
        # ... and what was copied is the earlier picture itself.
        assert anew[index] or np.array_equal(picture, before[index]), index
    moments = [Moments(r, 854 / 320, timing(r).slowed) for r in (review, other)]
    for index in np.flatnonzero(~anew):
        one, two = (m.at(int(index)) for m in moments)
        assert (one.notes, one.slowed) == (two.notes, two.slowed)
    # What was spliced can itself be used again.
    drawn.clear()
    write_annotated(other, plain / "annotated.mp4", earlier=second)
    again = decode(plain / "annotated.mp4")
    assert not drawn and all(np.array_equal(a, b) for a, b in zip(again[0], found, strict=True))
    assert any(keys)


@pytest.mark.parametrize("damage", ["gone", "another clip", "forgotten", "cut", "print", "coded"])
def test_anything_else_in_its_place_is_not_used(
    review: Review,
    tmp_path: Path,
    kept: Path,
    drawn: list[float],
    monkeypatch: pytest.MonkeyPatch,
    damage: str,
) -> None:
    path = tmp_path / "annotated.mp4"
    write_annotated(review, path, earlier=tmp_path)
    (record,) = kept.iterdir()
    if damage == "gone":
        path.unlink()
    elif damage == "another clip":
        write_annotated(replace(review, athlete="Noor"), path)
    elif damage == "forgotten":
        assert kept_files.drop(review.pose.clip.sha256) == 1
    elif damage == "cut":
        record.write_bytes(record.read_bytes()[:200])
    elif damage == "print":
        with np.load(record) as arrays:
            held = dict(arrays)
        np.savez(record, **{**held, "prints": held["prints"][1:]})
    else:  # an encoder whose pictures cannot stand beside the earlier ones
        real = redrawn.bare_encoder
        monkeypatch.setattr(redrawn, "bare_encoder", lambda wide, high: real(wide - 16, high))
    drawn.clear()
    (tmp_path / "two").mkdir()
    write_annotated(review, tmp_path / "two" / "annotated.mp4", earlier=tmp_path)
    assert len(drawn) == len(review.motion.t_s)


def test_a_review_uses_its_own_earlier_result_and_only_if_it_may(
    review: Review, tmp_path: Path, kept: Path, drawn: list[float]
) -> None:
    folder = write_review(review, tmp_path / "out")
    assert not kept.exists()  # --no-cache leaves no trace
    write_review(review, tmp_path / "out", keep=True)
    drawn.clear()
    first = {p.name: p.read_bytes() for p in folder.iterdir()}
    write_review(review, tmp_path / "out", keep=True)
    assert not drawn
    second = {p.name: p.read_bytes() for p in folder.iterdir()}
    clips = ("annotated.mp4", "plain.mp4")
    assert {n: c for n, c in first.items() if n not in clips} == {
        n: c for n, c in second.items() if n not in clips
    }
    for name in clips:
        assert decode(folder / name)[1] == timing_ticks(review)
    write_review(review, tmp_path / "out")
    assert len(drawn) == len(review.motion.t_s)


def timing_ticks(review: Review) -> list[int]:
    return [round(at_s * 90_000) for at_s in timing(review).shown_s]


def test_nothing_is_kept_of_what_is_made_to_be_shared(
    review: Review, tmp_path: Path, kept: Path
) -> None:
    clip = replace(review.pose.clip, sha256="not given")
    shared = replace(review, pose=replace(review.pose, clip=clip))
    write_annotated(shared, tmp_path / "annotated.mp4", earlier=tmp_path)
    assert not kept.exists()


def test_only_wanted_frames_are_given(review: Review) -> None:
    wanted = np.zeros(len(review.motion.t_s), bool)
    wanted[[0, 1, 50, len(wanted) - 1]] = True
    every = dict(frames_of(review, 320, 180))
    some = dict(frames_of(review, 320, 180, wanted))
    assert sorted(some) == np.flatnonzero(wanted).tolist()
    assert all(np.array_equal(picture, every[index]) for index, picture in some.items())


@pytest.mark.parametrize("fps", [60, 120, 240])
def test_the_last_frame_of_a_thinned_clip_is_given(tmp_path: Path, fps: int) -> None:
    """Frames that were left out lie nearer to it than any other that was measured."""
    path = make_clip(tmp_path / "fast.mp4", times_s=[i / fps for i in range(2 * fps)])
    with Clip(path, thinned=True) as clip:
        t_s = np.array([frame.t_s for frame in clip])
        facts = clip.facts()
    count = len(t_s) - 5
    fast = SimpleNamespace(
        source=path,
        motion=SimpleNamespace(t_s=t_s[:count]),
        pose=SimpleNamespace(clip=facts),
    )
    for chosen in ([count - 1], [3, count // 2], range(count)):
        wanted = np.zeros(count, bool)
        wanted[list(chosen)] = True
        given = [index for index, _ in frames_of(fast, 64, 48, wanted)]  # type: ignore[arg-type]
        assert given == np.flatnonzero(wanted).tolist()
