"""The whole pose stage on a rendered clip with known truth; silent, and the same every time."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import pytest

from analysis.clip import Clip
from analysis.errors import NoRowerError
from analysis.pose import estimate
from analysis.pose.linking import link
from analysis.pose.model_files import ModelFiles
from analysis.pose.rower import choose, evidence
from analysis.pose.sides import near_points
from analysis.pose.survey import look_around
from analysis.pose.track import PoseTrack
from tests.made_clips import make_clip, quarters
from tests.no_internet import run_without_internet

SAMPLES = Path(__file__).parents[2] / "sample_clips"
CLIP = next(iter(sorted(SAMPLES.glob("mira_*_sound.mp4"))), SAMPLES / "missing.mp4")
SECONDS = 5.0

_RUN = """
import pickle, sys
from analysis.pose.estimate import estimate_pose
shares = []
track = estimate_pose(sys.argv[1], to_s=float(sys.argv[2]), progress=shares.append)
with open(sys.argv[3], "wb") as file:
    pickle.dump((track, shares), file)
"""

needs_clip = pytest.mark.skipif(not CLIP.exists(), reason="the sample clips are not rendered")


@pytest.fixture(scope="module")
def twice(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[PoseTrack, list[float], str]]:
    """Two runs in processes of their own, at once; the first one without internet sockets."""
    folder = tmp_path_factory.mktemp("pose")
    beside = subprocess.Popen(
        [sys.executable, "-c", _RUN, str(CLIP), str(SECONDS), str(folder / "1")],
        stderr=subprocess.PIPE,
        text=True,
    )
    guarded = run_without_internet(_RUN, str(CLIP), str(SECONDS), str(folder / "0"))
    assert guarded.returncode == 0, guarded.stderr
    native_words = beside.communicate(timeout=300)[1]
    assert beside.returncode == 0, native_words
    out = []
    for number, words in enumerate((guarded.stderr, native_words)):
        track, shares = pickle.loads((folder / str(number)).read_bytes())
        out.append((track, shares, words))
    return out


@pytest.fixture(scope="module")
def track(twice: list[tuple[PoseTrack, list[float], str]]) -> PoseTrack:
    return twice[0][0]


@pytest.fixture(scope="module")
def truth() -> dict[str, np.ndarray]:
    told = json.loads(CLIP.with_suffix(".truth.json").read_text())
    kept = np.array(told["t_s"]) <= SECONDS
    points = {name: np.array(xy, float)[kept] for name, xy in told["joints_px"].items()}
    return {"t_s": np.array(told["t_s"])[kept], **points}


@needs_clip
class TestRenderedClip:
    def test_facts(self, track: PoseTrack, truth: dict[str, np.ndarray]) -> None:
        assert track.t_s == pytest.approx(truth["t_s"], abs=1e-4)
        assert track.facing == track.near == "right"
        assert track.people_seen == 1
        assert not track.identity_uncertain.any()
        assert not track.camera_moves and not track.camera_shift_px.any()
        assert set(track.models) == {
            "movenet_multipose.onnx",
            "movenet_thunder.onnx",
            "pose_full.task",
        }

    # Measured when this was written, px: wrist 4.5 and 4.0, hip 8.3 and 12.2, shoulder 10.6 and
    # 6.0, knee 5.8 and 12.3 (Thunder and landmarker). The truth's own two definitions of a joint
    # lie 2 to 12 px apart; a trunk is 134 px long.
    @pytest.mark.parametrize(
        ("model", "joint", "most_px"),
        [
            ("thunder", "wrist", 8),
            ("thunder", "hip", 13),
            ("thunder", "shoulder", 15),
            ("thunder", "knee", 10),
            ("mediapipe", "wrist", 8),
            ("mediapipe", "hip", 17),
            ("mediapipe", "shoulder", 10),
            ("mediapipe", "knee", 17),
        ],
    )
    def test_joints(
        self,
        track: PoseTrack,
        truth: dict[str, np.ndarray],
        model: str,
        joint: str,
        most_px: float,
    ) -> None:
        asked = track.landmarks[model].looked_at
        xy, score = near_points(track.landmarks[model], track.facing)[joint]
        away = np.linalg.norm(xy - truth[joint], axis=1)
        assert np.mean(away[asked]) < most_px
        assert np.mean(score[asked]) > 0.4

    def test_models_take_turns_and_miss_no_more_than_every_other_frame(
        self, track: PoseTrack, truth: dict[str, np.ndarray]
    ) -> None:
        thunder, mediapipe = (track.landmarks[m].looked_at for m in ("thunder", "mediapipe"))
        assert not (thunder & mediapipe).any()
        looked = thunder | mediapipe
        assert (looked[1:] | looked[:-1]).all()
        # What is left out are frames with bent legs.
        apart = np.linalg.norm(truth["hip"] - truth["ankle"], axis=1)
        assert apart[~looked].max() < np.percentile(apart, 95) * 0.95
        assert 0.1 < np.mean(~looked) < 0.5
        for each in track.landmarks.values():
            assert np.isfinite(each.xy_px[each.looked_at]).all()
            assert np.isnan(each.xy_px[~each.looked_at]).all()

    def test_hands_and_seat_travel_in_step_with_the_truth(
        self, track: PoseTrack, truth: dict[str, np.ndarray]
    ) -> None:
        for model in ("thunder", "mediapipe"):
            asked = track.landmarks[model].looked_at
            near = near_points(track.landmarks[model], track.facing)
            for joint in ("wrist", "hip"):
                found, told = near[joint][0][asked, 0], truth[joint][asked, 0]
                assert np.corrcoef(found, told)[0, 1] > 0.99
                assert np.ptp(found) == pytest.approx(np.ptp(told), rel=0.1)

    def test_outline_goes_round_the_body(
        self, track: PoseTrack, truth: dict[str, np.ndarray]
    ) -> None:
        import cv2

        looked = track.landmarks["mediapipe"].looked_at
        assert np.array_equal(track.outlined, np.flatnonzero(looked))
        assert np.isfinite(track.outline_px).all(axis=(1, 2)).mean() > 0.98
        inside = [
            cv2.pointPolygonTest(line.astype(np.float32), tuple(map(float, truth[joint][t])), False)
            for joint in ("shoulder", "hip", "knee")
            for t, line in zip(track.outlined, track.outline_px, strict=True)
            if np.isfinite(line).all()
        ]
        assert np.mean(np.array(inside) > 0) > 0.98

    def test_upright_edges(self, track: PoseTrack, truth: dict[str, np.ndarray]) -> None:
        told = json.loads(CLIP.with_suffix(".truth.json").read_text())
        camera, width = told["camera"], told["size"][0]
        # An upright at x px off the middle leans by x/f · tan(pitch) more than the camera rolls;
        # the clip's lens sees 58° across, so f = ½ width / tan 29°.
        focal_px = 0.5 * width / np.tan(np.radians(29))
        off_px = np.median(truth["hip"][:, 0]) - width / 2
        pitch = np.tan(np.radians(camera["pitch_deg"]))
        expected = camera["tilt_deg"] + np.degrees(np.arctan(off_px / focal_px * pitch))
        assert track.upright_tilt_deg == pytest.approx(expected, abs=0.6)
        assert track.upright_tilt_se_deg < 1.0

    def test_same_every_time(self, twice: list[tuple[PoseTrack, list[float], str]]) -> None:
        (one, _, _), (two, _, _) = twice
        for model in one.landmarks:
            assert np.array_equal(
                one.landmarks[model].xy_px, two.landmarks[model].xy_px, equal_nan=True
            )
        assert np.array_equal(one.outline_px, two.outline_px, equal_nan=True)
        assert np.array_equal(one.outlined, two.outlined)
        assert (one.upright_tilt_deg, one.blur_px) == (two.upright_tilt_deg, two.blur_px)

    def test_quiet_and_tells_its_progress(
        self, twice: list[tuple[PoseTrack, list[float], str]]
    ) -> None:
        for _, shares, words in twice:
            assert words == ""
            assert np.all(np.diff(shares) >= 0)
            assert shares[-1] == pytest.approx(1.0) and 0 <= shares[0] < 0.1

    def test_mirrored_clip_faces_the_other_way(self, tmp_path: Path) -> None:
        path = tmp_path / "mirrored.mp4"
        with av.open(str(CLIP)) as source, av.open(str(path), "w") as target:
            stream = target.add_stream_from_template(source.streams.video[0])
            stream.set_display_rotation(0, hflip=True)
            for packet in source.demux(video=0):
                if packet.dts is not None:
                    packet.stream = stream
                    target.mux(packet)
        with Clip(path, to_s=SECONDS) as clip:
            survey = look_around(clip, ModelFiles().checked(), lambda share: None)
        tracks = link(survey.looked_s, survey.people)
        assert evidence(tracks[choose(tracks)[0]]).facing == "left"


def test_clip_without_anybody(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "nobody.mp4", pictures=[quarters(320, 192)], size=(320, 192))
    with pytest.raises(NoRowerError, match="Nobody was found"):
        estimate.estimate_pose(path)


@pytest.mark.parametrize("second_rows", [True, False])
def test_who_turns_out_not_to_row_gives_way_to_the_next(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, second_rows: bool
) -> None:
    path = make_clip(tmp_path / "two.mp4", pictures=[quarters(320, 192)], size=(320, 192))
    looked_at = []

    def follow(clip: Clip, survey: object, tracks: object, chosen: str, *_: object) -> str:
        looked_at.append(chosen)
        if chosen == "nearer" or not second_rows:
            raise NoRowerError(f"the {chosen} one does not row")
        return chosen

    monkeypatch.setattr(estimate, "link", lambda *_: ["farther", "nearer"])
    monkeypatch.setattr(estimate, "choose", lambda tracks, who: [1, 0])
    monkeypatch.setattr(estimate, "_follow", follow)
    if second_rows:
        assert estimate.estimate_pose(path) == "farther"
    else:
        with pytest.raises(NoRowerError, match="nearer"):
            estimate.estimate_pose(path)
    assert looked_at == ["nearer", "farther"]
