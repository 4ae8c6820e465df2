"""The pose stage: from a clip to the rower's landmarks and outline, frame by frame.

Two passes over the clip. The first looks at few frames for people and at all of them for the
camera's movement; then the rower is chosen. The second runs both landmark models on a square
crop that follows the rower.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analysis.checks import BoolArray, FloatArray
from analysis.clip import Clip, ClipFacts, Frame
from analysis.pose import camera, crop, uprights
from analysis.pose.landmarkers import CROP_PX, Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack, link
from analysis.pose.model_files import CheckedModels, ModelFiles
from analysis.pose.people import (
    HIPS,
    SHOULDERS,
    PeopleFinder,
    Person,
    finder_size,
)
from analysis.pose.rower import Who, choose, evidence
from analysis.pose.track import OUTLINE_POINTS, LandmarkTrack, PoseTrack

Progress = Callable[[float], None]

#: Time between frames looked at for people: at 60 strokes a minute still four to a stroke.
LOOK_EVERY_S = 0.25
#: Frames kept for the upright edges, and their largest side.
_KEPT, _KEPT_SIDE_PX = 12, 1280
#: Share of the work that the first pass is, for the progress bar.
_FIRST_SHARE = 0.2
#: Torsos of the two models further apart than this, in trunk lengths, are two people.
_TWO_PEOPLE = 0.6
#: The landmarker is started anew after following somebody else for this long, at most so often.
_LOST_S, _MAX_RESTARTS = 1.0, 8


def estimate_pose(
    path: str | Path,
    *,
    who: Who = "auto",
    from_s: float | None = None,
    to_s: float | None = None,
    models: ModelFiles | None = None,
    progress: Progress | None = None,
) -> PoseTrack:
    """Find the rower in a clip and follow their landmarks and outline.

    Parameters
    ----------
    path : path of the clip
    who : "auto", "nearest", "left", "right" or int
        Which rower, when several row; see `analysis.pose.rower.choose`.
    from_s, to_s : float, optional
        Part of the clip, s from its first shown frame.
    models : ModelFiles, optional
        Other model files than the shipped ones.
    progress : callable, optional
        Called with the share of the work done, 0…1.

    Returns
    -------
    PoseTrack
        The same for the same file, models and machine.

    Raises
    ------
    UnreadableClipError
        The file is no clip.
    NoRowerError
        Nobody in it rows.
    SettingsError
        A model file or `who` cannot be used.
    """
    checked = (models or ModelFiles()).checked()
    tell = progress or (lambda share: None)
    with Clip(path, from_s=from_s, to_s=to_s) as clip:
        survey = _look_around(clip, checked, tell)
        at = np.searchsorted(survey.t_s, survey.looked_s)
        tracks = link(survey.looked_s, survey.people, survey.shift_px[at])
        chosen = tracks[choose(tracks, who)]
        return _follow(clip, survey, tracks, chosen, checked, tell)


@dataclass(frozen=True)
class _Survey:
    """What the first pass saw."""

    facts: ClipFacts
    t_s: FloatArray
    shift_px: FloatArray
    looked_s: FloatArray
    people: list[list[Person]]
    kept: list[NDArray[np.uint8]]
    kept_scale: float
    blur_px: float
    light: float


def _look_around(clip: Clip, models: CheckedModels, tell: Progress) -> _Survey:
    """First pass: people on few frames, the background on all."""
    finder = PeopleFinder(models.multipose)
    header = clip.header()
    width, height = header.width_px, header.height_px
    look_width, look_height, look_scale = finder_size(width, height)
    small_width = min(camera.SMALL_PX, width)
    small_scale = width / small_width
    keeper = _Keeper(width, height)
    background = camera.BackgroundShift(small_scale)
    times: list[float] = []
    shifts: list[FloatArray] = []
    looked: list[float] = []
    people: list[list[Person]] = []
    blurs: list[float] = []
    lights: list[float] = []
    expected_s = (clip.to_s or header.duration_s) - (clip.from_s or 0.0)
    for frame in clip:
        if not looked or frame.t_s >= looked[-1] + LOOK_EVERY_S - 1e-6:
            looked.append(frame.t_s)
            people.append(finder.run(frame.scaled(look_width, look_height), look_scale))
            blurs.append(_sharpness(frame, people[-1]))
            keeper.offer(frame)
        boxes = [person.box_px for person in people[-1]]
        small = frame.luma(small_width, max(1, round(height / small_scale)))
        if len(looked) > len(lights):
            lights.append(float(small.mean()))
        times.append(frame.t_s)
        shifts.append(background.add(small, boxes))
        if expected_s > 0:
            tell(_FIRST_SHARE * min(1.0, (frame.t_s - times[0]) / expected_s))
    known = [b for b in blurs if np.isfinite(b)]
    return _Survey(
        facts=clip.facts(),
        t_s=np.array(times),
        shift_px=np.array(shifts),
        looked_s=np.array(looked),
        people=people,
        kept=keeper.pictures,
        kept_scale=keeper.scale,
        blur_px=float(np.median(known)) if known else float("nan"),
        light=float(np.median(lights)),
    )


class _Keeper:
    """Keeps up to twelve pictures spread over a clip of unknown length."""

    def __init__(self, width_px: int, height_px: int) -> None:
        self.scale = max(1.0, max(width_px, height_px) / _KEPT_SIDE_PX)
        self._size = round(width_px / self.scale), round(height_px / self.scale)
        self._every = 1
        self._offered = 0
        self.pictures: list[NDArray[np.uint8]] = []

    def offer(self, frame: Frame) -> None:
        """Take the frame when it is the next to keep; thin out when full."""
        if self._offered % self._every == 0:
            self.pictures.append(frame.luma(*self._size))
            if len(self.pictures) > _KEPT:
                self.pictures = self.pictures[::2]
                self._every *= 2
        self._offered += 1


def _sharpness(frame: Frame, people: list[Person]) -> float:
    """Blur around the surest person, full-size px; NaN without people or edges."""
    if not people:
        return float("nan")
    width, height = frame.upright.size_px
    x0, y0, x1, y1 = people[0].box_px
    luma = frame.luma(width, height)
    part = luma[max(int(y0), 0) : max(int(y1), 0), max(int(x0), 0) : max(int(x1), 0)]
    return camera.blur_px(part) if min(part.shape) >= 16 else float("nan")


def _follow(
    clip: Clip,
    survey: _Survey,
    tracks: list[PersonTrack],
    chosen: PersonTrack,
    models: CheckedModels,
    tell: Progress,
) -> PoseTrack:
    """Second pass: both models on the crop, frame by frame."""
    crops = crop.plan(chosen)
    count = len(survey.t_s)
    thunder = Thunder(models.thunder)
    # The two models wait for nothing of each other: with a second core they run side by side.
    with Landmarker(models.landmarker) as landmarker, ThreadPoolExecutor(1) as beside:
        first, second = _Filling(thunder, count), _Filling(landmarker, count)
        outline_px = np.full((count, OUTLINE_POINTS, 2), np.nan)
        watch = _Watch(landmarker)
        for frame in clip:
            square = crops.at(frame.t_s)
            picture = crop.cut(frame.rgb, square, CROP_PX)
            other = beside.submit(thunder.run, picture, frame.t_s)
            two = landmarker.run(picture, frame.t_s)
            one = other.result()
            first.put(frame.index, one, square)
            if watch.same_person(one, two, frame.t_s):
                second.put(frame.index, two, square)
                if two.outline is not None:
                    outline_px[frame.index] = two.outline * square[2] + square[:2]
            tell(_FIRST_SHARE + (1 - _FIRST_SHARE) * (frame.index + 1) / count)
    proof = evidence(chosen)
    steady = not camera.moves(survey.shift_px, survey.facts.width_px)
    lean = _lean(survey, tracks, proof.x_px) if steady else uprights.NO_WITNESS
    return PoseTrack(
        clip=survey.facts,
        t_s=survey.t_s,
        landmarks={first.model: first.track(), second.model: second.track()},
        outline_px=outline_px,
        facing=proof.facing,
        people_seen=int(np.median([len(people) for people in survey.people])),
        identity_uncertain=_uncertain(survey.t_s, chosen, first),
        camera_shift_px=np.zeros((count, 2)) if steady else survey.shift_px,
        camera_moves=not steady,
        upright_tilt_deg=lean.tilt_deg,
        upright_tilt_se_deg=lean.se_deg,
        blur_px=survey.blur_px,
        light=survey.light,
        models=models.versions(),
    )


class _Filling:
    """One model's landmarks while they come in."""

    def __init__(self, source: Thunder | Landmarker, count: int) -> None:
        self.model = source.name
        self._names = source.names
        self.xy_px = np.full((count, len(source.names), 2), np.nan)
        self.score = np.zeros((count, len(source.names)))

    def put(self, index: int, found: Landmarks, square: tuple[float, float, float]) -> None:
        """Put a crop's landmarks into the full picture."""
        self.xy_px[index] = found.xy * square[2] + square[:2]
        self.score[index] = found.score

    def track(self) -> LandmarkTrack:
        """Return what came in."""
        return LandmarkTrack(self.model, self._names, self.xy_px, self.score)


class _Watch:
    """Notices when the landmarker follows somebody else than the crop was laid for."""

    def __init__(self, landmarker: Landmarker) -> None:
        self._landmarker = landmarker
        self._lost_since: float | None = None
        self._restarts = 0

    def same_person(self, one: Landmarks, two: Landmarks, t_s: float) -> bool:
        """Compare the torsos; start the landmarker anew after it was lost for a while."""
        torso_one, torso_two = one.xy[SHOULDERS + HIPS], two.xy[[11, 12, 23, 24]]
        trunk = np.linalg.norm(torso_one[:2].mean(axis=0) - torso_one[2:].mean(axis=0))
        away = np.linalg.norm(torso_one.mean(axis=0) - torso_two.mean(axis=0))
        if away <= _TWO_PEOPLE * max(float(trunk), 0.05):
            self._lost_since = None
            return True
        if np.isfinite(away):
            self._lost_since = t_s if self._lost_since is None else self._lost_since
            if t_s - self._lost_since > _LOST_S and self._restarts < _MAX_RESTARTS:
                self._landmarker.restart()
                self._restarts += 1
                self._lost_since = None
        return False


def _lean(survey: _Survey, tracks: list[PersonTrack], athlete_x_px: float) -> uprights.Lean:
    boxes = []
    for track in tracks:
        seen = track.box_px[track.seen]
        low, high = np.percentile(seen[:, :2], 5, axis=0), np.percentile(seen[:, 2:], 95, axis=0)
        boxes.append(np.concatenate([low, high]) / survey.kept_scale)
    return uprights.upright_lean(survey.kept, boxes, athlete_x_px / survey.facts.width_px)


def _uncertain(t_s: FloatArray, chosen: PersonTrack, thunder: _Filling) -> BoolArray:
    """Frames near a crossing, or in which the points lie off the person that was tracked."""
    nearest = np.abs(t_s[:, None] - chosen.t_s[None]).argmin(axis=1)
    crossing = chosen.unsure[nearest]
    torso = np.nanmean(chosen.xy_px[:, SHOULDERS + HIPS][chosen.seen], axis=1)
    there = np.column_stack([np.interp(t_s, chosen.t_s[chosen.seen], torso[:, k]) for k in (0, 1)])
    points = thunder.xy_px[:, SHOULDERS + HIPS]
    trunk = np.median(
        np.linalg.norm(points[:, :2].mean(axis=1) - points[:, 2:].mean(axis=1), axis=1)
    )
    away = np.linalg.norm(points.mean(axis=1) - there, axis=1)
    return np.asarray(crossing | (away > 1.0 * max(float(trunk), 1.0)))
