"""The pose stage: from a clip to the rower's landmarks and outline, frame by frame.

Two passes over the clip. The first looks at few frames for people and at all of them for the
camera's movement; then the rower is chosen. The second runs both landmark models on a square
crop that follows the rower.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.clip import Clip
from analysis.errors import NoRowerError
from analysis.pose import camera, crop, uprights
from analysis.pose.landmarkers import CROP_PX, Landmarker, Landmarks, Thunder
from analysis.pose.linking import PersonTrack, link
from analysis.pose.model_files import CheckedModels, ModelFiles
from analysis.pose.people import (
    HIPS,
    SHOULDERS,
)
from analysis.pose.rower import Who, choose, evidence, refusal
from analysis.pose.survey import FIRST_SHARE, Progress, Survey, look_around
from analysis.pose.track import OUTLINE_POINTS, LandmarkTrack, PoseTrack

#: The crop is cut from a picture this many times as fine as it, at least, where the clip is.
_FINER = 1.5
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
        survey = look_around(clip, checked, tell)
        at = np.searchsorted(survey.t_s, survey.looked_s)
        tracks = link(survey.looked_s, survey.people, survey.shift_px[at])
        chosen = tracks[choose(tracks, who)]
        return _follow(clip, survey, tracks, chosen, checked, tell)


def _follow(
    clip: Clip,
    survey: Survey,
    tracks: list[PersonTrack],
    chosen: PersonTrack,
    models: CheckedModels,
    tell: Progress,
) -> PoseTrack:
    """Second pass and what comes of both."""
    thunder, landmarker, outline_px = _run_models(clip, survey, chosen, models, tell)
    # The finer model has a say too: what only looked like rowing on few frames is refused here.
    proof = evidence(thunder.person(survey.t_s))
    if not proof.rows:
        raise NoRowerError(refusal(proof, len(tracks)))
    steady = not camera.moves(survey.shift_px, survey.facts.width_px)
    lean = _lean(survey, tracks, proof.x_px) if steady else uprights.NO_WITNESS
    return PoseTrack(
        clip=survey.facts,
        t_s=survey.t_s,
        landmarks={part.model: part.track() for part in (thunder, landmarker)},
        outline_px=outline_px,
        facing=proof.facing,
        people_seen=int(np.median([len(people) for people in survey.people])),
        identity_uncertain=_uncertain(survey.t_s, chosen, thunder),
        camera_shift_px=np.zeros_like(survey.shift_px) if steady else survey.shift_px,
        camera_moves=not steady,
        upright_tilt_deg=lean.tilt_deg,
        upright_tilt_se_deg=lean.se_deg,
        blur_px=survey.blur_px,
        light=survey.light,
        models=models.versions(),
    )


def _run_models(
    clip: Clip, survey: Survey, chosen: PersonTrack, models: CheckedModels, tell: Progress
) -> tuple[_Filling, _Filling, FloatArray]:
    """Run both models on the crop, frame by frame; the third is the outline, px."""
    crops = crop.plan(chosen)
    count = len(survey.t_s)
    # A picture far finer than the crop needs is made smaller while its colour is converted.
    scale = min(1.0, _FINER * CROP_PX / float(crops.side_px.min()))
    size = round(survey.facts.width_px * scale), round(survey.facts.height_px * scale)
    thunder = Thunder(models.thunder)
    outline_px = np.full((count, OUTLINE_POINTS, 2), np.nan)
    # The two models wait for nothing of each other: with a second core they run side by side.
    with Landmarker(models.landmarker) as landmarker, ThreadPoolExecutor(1) as beside:
        first, second = _Filling(thunder, count), _Filling(landmarker, count)
        watch = _Watch(landmarker)
        for frame in clip:
            square = crops.at(frame.t_s)
            left, top, side = (value * scale for value in square)
            picture = crop.cut(frame.scaled(*size), (left, top, side), CROP_PX)
            other = beside.submit(thunder.run, picture, frame.t_s)
            two = landmarker.run(picture, frame.t_s)
            one = other.result()
            first.put(frame.index, one, square)
            if watch.same_person(one, two, frame.t_s):
                second.put(frame.index, two, square)
                if two.outline is not None:
                    outline_px[frame.index] = _in_picture(two.outline, square)
            tell(FIRST_SHARE + (1 - FIRST_SHARE) * (frame.index + 1) / count)
    return first, second, outline_px


def _in_picture(shares: FloatArray, square: tuple[float, float, float]) -> FloatArray:
    """Shares of the crop's side to px of the picture, pixel centres at whole numbers."""
    return np.asarray(shares * square[2] + square[:2] - 0.5)


class _Filling:
    """One model's landmarks while they come in."""

    def __init__(self, source: Thunder | Landmarker, count: int) -> None:
        self.model = source.name
        self._names = source.names
        self.xy_px = np.full((count, len(source.names), 2), np.nan)
        self.score = np.zeros((count, len(source.names)))

    def put(self, index: int, found: Landmarks, square: tuple[float, float, float]) -> None:
        """Put a crop's landmarks into the full picture."""
        self.xy_px[index] = _in_picture(found.xy, square)
        self.score[index] = found.score

    def person(self, t_s: FloatArray) -> PersonTrack:
        """Return what came in as a person's track, ten times a second; COCO points only."""
        at = np.unique(np.searchsorted(t_s, np.arange(t_s[0], t_s[-1], 0.1)))
        xy = self.xy_px[at]
        box = np.concatenate([xy.min(axis=1), xy.max(axis=1)], axis=1)
        return PersonTrack(t_s[at], box, xy, self.score[at], np.zeros(len(at), bool))

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


def _lean(survey: Survey, tracks: list[PersonTrack], athlete_x_px: float) -> uprights.Lean:
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
