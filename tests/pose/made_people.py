"""Stick people for the tests: keypoints of somebody rowing, walking, cycling, squatting."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.pose.filling import Filling
from analysis.pose.landmarkers import Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack
from analysis.pose.people import COCO_NAMES, Person

# Segment lengths ÷ stature: Drillis & Contini 1966, as in Winter 2009, Fig. 4.1.
TRUNK, UPPER_ARM, FOREARM, THIGH, SHANK = 0.288, 0.186, 0.146, 0.245, 0.246
_PAIRS = ("ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle")


def _elbow(a: np.ndarray, b: np.ndarray, up: float, l1: float, l2: float) -> np.ndarray:
    """Joint between two links from `a` to `b`, bent to the side `up` (+1: to y up)."""
    gap = b - a
    reach = min(float(np.linalg.norm(gap)), 0.999 * (l1 + l2))
    along = (l1**2 - l2**2 + reach**2) / (2 * reach)
    off = np.sqrt(max(l1**2 - along**2, 0.0))
    unit = gap / np.linalg.norm(gap)
    normal = np.array([-unit[1], unit[0]])
    normal *= np.sign(normal[1]) * up if normal[1] else up
    return a + along * unit + off * normal


def _pose(joints: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    shoulder, hip = joints["shoulder"], joints["hip"]
    up = (shoulder - hip) / np.linalg.norm(shoulder - hip)
    joints.setdefault("ear", shoulder + 0.11 * up)
    return joints


def rowing(t_s: float, spm: float = 24.0, slide: float = 1.0, swing: float = 1.0) -> dict:
    """One side of a rower, y up, in statures, feet to +x; slide and swing 0 is arms only."""
    share = 0.5 - 0.5 * np.cos(2 * np.pi * spm / 60 * t_s)  # 0 at the release, 1 at the catch
    ankle = np.array([0.0, 0.0])
    hip = np.array([-0.47 + 0.22 * slide * share, 0.06])
    lean = np.radians(-15 + (42 * share if swing else 0.0) * swing)
    shoulder = hip + TRUNK * np.array([np.sin(lean), np.cos(lean)])
    wrist = shoulder + np.array([0.04 + 0.27 * share, -0.17])
    return _pose(
        {
            "hip": hip,
            "shoulder": shoulder,
            "wrist": wrist,
            "ankle": ankle,
            "knee": _elbow(hip, ankle, 1.0, THIGH, SHANK),
            "elbow": _elbow(shoulder, wrist, -1.0, UPPER_ARM, FOREARM),
        }
    )


def walking(t_s: float, steps_per_min: float = 100.0, speed: float = 0.8) -> dict:
    """One side of a walker heading for +x, swinging arms."""
    phase = np.sin(np.pi * steps_per_min / 60 * t_s)
    hip = np.array([speed * t_s - 2.0, 0.5])
    shoulder = hip + np.array([0.02, TRUNK])
    return _pose(
        {
            "hip": hip,
            "shoulder": shoulder,
            "wrist": shoulder + np.array([-0.18 * phase, -0.29]),
            "elbow": shoulder + np.array([-0.06 * phase, -0.17]),
            "knee": hip + np.array([0.1 * phase + 0.03, -0.235]),
            "ankle": hip + np.array([0.2 * phase, -0.45]),
        }
    )


def cycling(t_s: float, rpm: float = 60.0) -> dict:
    """One side of somebody on an exercise bicycle, hands on the bar."""
    turn = 2 * np.pi * rpm / 60 * t_s
    hip = np.array([0.0, 0.55])
    ankle = np.array([0.13, 0.12]) + 0.1 * np.array([np.cos(turn), np.sin(turn)])
    shoulder = hip + TRUNK * np.array([np.sin(0.5), np.cos(0.5)])
    wrist = np.array([0.36 + 0.01 * np.sin(turn), 0.55])
    return _pose(
        {
            "hip": hip,
            "shoulder": shoulder,
            "wrist": wrist,
            "ankle": ankle,
            "knee": _elbow(hip, ankle, 1.0, THIGH, SHANK),
            "elbow": _elbow(shoulder, wrist, -1.0, UPPER_ARM, FOREARM),
        }
    )


def squatting(t_s: float, per_min: float = 20.0) -> dict:
    """One side of somebody squatting, arms swung forward on the way down."""
    down = 0.5 - 0.5 * np.cos(2 * np.pi * per_min / 60 * t_s)
    ankle = np.array([0.0, 0.0])
    hip = np.array([-0.22 * down, 0.485 - 0.27 * down])
    lean = np.radians(5 + 40 * down)
    shoulder = hip + TRUNK * np.array([np.sin(lean), np.cos(lean)])
    hang = np.radians(80 * down)
    wrist = shoulder + 0.32 * np.array([np.sin(hang), -np.cos(hang)])
    return _pose(
        {
            "hip": hip,
            "shoulder": shoulder,
            "wrist": wrist,
            "ankle": ankle,
            "knee": _elbow(hip, ankle, 1.0, THIGH, SHANK),
            "elbow": (shoulder + wrist) / 2,
        }
    )


def sitting(t_s: float) -> dict:
    """One side of somebody resting on the machine, hands on the knees."""
    still = rowing(0.0)
    still["wrist"] = still["knee"] + np.array([0.005 * np.sin(t_s), 0.02])
    still["elbow"] = _elbow(still["shoulder"], still["wrist"], -1.0, UPPER_ARM, FOREARM)
    return still


def person(
    joints: dict,
    *,
    stature_px: float = 300.0,
    at_px: tuple[float, float] = (480.0, 400.0),
    facing: float = 1.0,
    shoulder_width: float = 0.05,
    noise_px: float = 0.0,
    rng: np.random.Generator | None = None,
    score: float = 0.7,
) -> Person:
    """Put one side's joints into a picture, both sides `shoulder_width` statures apart."""
    xy = np.zeros((17, 2))
    for name in _PAIRS:
        place = np.array(joints[name]) * [facing, -1.0] * stature_px + at_px
        for side, sign in (("left", -0.5), ("right", 0.5)):
            xy[COCO_NAMES.index(f"{side}_{name}")] = place
            xy[COCO_NAMES.index(f"{side}_{name}"), 0] += sign * shoulder_width * stature_px
    xy[:3] = xy[[3, 4]].mean(axis=0)
    xy[:3, 0] += 0.05 * facing * stature_px
    if rng is not None:
        xy += rng.normal(0, noise_px, xy.shape)
    low, high = xy.min(axis=0) - 0.03 * stature_px, xy.max(axis=0) + 0.03 * stature_px
    return Person(np.concatenate([low, high]), xy, np.full(17, score), score)


def track(times: np.ndarray, people: Sequence[Person | None]) -> PersonTrack:
    """Make a track of people, None where not seen."""
    count = len(times)
    box, xy = np.full((count, 4), np.nan), np.full((count, 17, 2), np.nan)
    score = np.zeros((count, 17))
    for index, one in enumerate(people):
        if one is not None:
            box[index], xy[index], score[index] = one.box_px, one.xy_px, one.score
    return PersonTrack(times, box, xy, score, np.zeros(count, bool))


def filled(source: type[Thunder] | type[Landmarker], people: np.ndarray) -> Filling:
    """What a model saw that was asked about every frame: points [shape=(T, 17, 2)]."""
    filling = Filling(source, np.ones(len(people), bool))
    at = [source.names.index(name) for name in COCO_NAMES]
    for index, points in enumerate(people):
        xy = np.full((len(source.names), 2), 0.5)
        xy[at] = points + 0.5  # a crop of 1 px: its shares are px
        filling.put(index, Landmarks(xy, np.full(len(xy), 0.9), None), (0.0, 0.0, 1.0))
    return filling
