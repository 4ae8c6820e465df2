"""The pose stage: from a clip to the rower's landmarks and outline, frame by frame.

Two passes over the clip. The first looks at few frames for people and at all of them for the
camera's movement; then the rower is chosen. The second runs both landmark models on a square
crop that follows the rower.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analysis.checks import BoolArray, FloatArray
from analysis.clip import Clip
from analysis.decoding import cores
from analysis.errors import NoRowerError
from analysis.pose import camera, uprights
from analysis.pose.beside import helpers
from analysis.pose.crop import nearest_times
from analysis.pose.crossing import Company, leave_out_others, who_is_who
from analysis.pose.follow import SecondPass
from analysis.pose.growing import MAX_HIDDEN_S
from analysis.pose.landmarkers import LandmarkModels, load
from analysis.pose.level_edges import level_edges
from analysis.pose.linking import PersonTrack, bridge, link
from analysis.pose.memory import give_back
from analysis.pose.model_files import ModelFiles
from analysis.pose.outline import bulges
from analysis.pose.people import boxes_meet
from analysis.pose.rower import Who, choose, closer_look, refusal
from analysis.pose.shoreline import shore_lean
from analysis.pose.sides import near_points
from analysis.pose.straight_edges import Edges, straight_edges
from analysis.pose.survey import Progress, Survey, look_around
from analysis.pose.track import PoseTrack
from analysis.pose.whose_turn import bent, folded

#: An outline that bulges out behind the back by more, in trunk lengths, holds somebody else too.
_BULGE = 0.1


def estimate_pose(
    path: str | Path,
    *,
    who: Who = "auto",
    from_s: float | None = None,
    to_s: float | None = None,
    models: ModelFiles | None = None,
    progress: Progress | None = None,
    in_turns: bool = True,
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
    in_turns : bool
        Let the landmark models take turns; else both look at every frame.

    Returns
    -------
    PoseTrack
        The same for the same file, models and kind of machine, however many cores it has.

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
    with Clip(path, from_s=from_s, to_s=to_s, thinned=True) as clip:
        with helpers(1 if cores() > 1 else 0) as pool:
            loaded = pool.submit(load, checked)
            survey = look_around(clip, checked, tell)
        at = np.searchsorted(survey.t_s, survey.looked_s)
        tracks = link(survey.looked_s, survey.people, survey.shift_px[at])
        refused: NoRowerError | None = None
        for number in choose(tracks, who):
            chosen = tracks[number]
            try:
                return _follow(clip, survey, tracks, chosen, loaded.result(), tell, in_turns)
            except NoRowerError as error:
                refused = refused or error
            finally:
                give_back()
    assert refused is not None  # it chooses somebody or raises
    raise refused


def _follow(
    clip: Clip,
    survey: Survey,
    tracks: list[PersonTrack],
    chosen: PersonTrack,
    models: LandmarkModels,
    tell: Progress,
    in_turns: bool,
) -> PoseTrack:
    """Second pass and what comes of both."""
    company = _company(survey.t_s, chosen, tracks)
    difficult = (company & folded(chosen, survey.t_s)) | (not in_turns)
    easy = bent(chosen, survey.t_s) & ~company
    second_pass = SecondPass(clip, survey, chosen, tracks, difficult, easy, models, tell)
    held = second_pass.held
    sight, edges = second_pass.run(lambda: _surroundings(survey, held))
    thunder, landmarker, outline_px = sight.thunder, sight.landmarker, sight.outline_px
    # The finer models have a say too: what only looked like rowing on few frames is refused here.
    proof = closer_look(*(m.person(survey.t_s, company) for m in (thunder, landmarker)))
    if not proof.rows:
        raise NoRowerError(refusal(proof, len(tracks)))
    steady = not camera.moves(survey.shift_px, survey.facts.width_px)
    lean, level_px = uprights.NO_WITNESS, np.empty((0, 4))
    if held:
        lean = uprights.upright_lean(edges, proof.x_px / survey.facts.width_px)
        level_px = level_edges(edges) * survey.facts.width_px / edges.size_px[0]
    among = Company(chosen, tracks, proof.facing, held)
    leave_out_others((thunder, landmarker), survey.t_s, second_pass.place, among)
    uncertain = who_is_who((thunder, landmarker), sight.without, survey.t_s, among)
    near = near_points(thunder.held(survey.t_s), proof.facing)
    trunk_y_px = float(np.nanmedian([near["hip"][0][:, 1], near["shoulder"][0][:, 1]]))
    shore_deg, shore_se_deg = shore_lean(edges, trunk_y_px / survey.facts.height_px)
    outlined = sight.outlined
    hip, shoulder = (near[name][0][outlined] for name in ("hip", "shoulder"))
    bulge = bulges(outline_px, hip, shoulder, proof.facing)
    outline_px[(bulge > _BULGE) & company[outlined]] = np.nan
    return PoseTrack(
        clip=survey.facts,
        t_s=survey.t_s,
        landmarks={part.model: part.track() for part in (thunder, landmarker)},
        outline_px=outline_px,
        outline_frames=outlined,
        hand_moved_px=second_pass.hand_moved_px,
        limb_turned_deg=second_pass.limb_turned_deg,
        pictured_frames=second_pass.pictured,
        pictured_ends_px=second_pass.pictured_ends_px,
        pictured_grey=second_pass.pictured_grey,
        facing=proof.facing,
        people_seen=int(np.median([len(people) for people in survey.people])),
        identity_uncertain=uncertain,
        camera_shift_px=np.zeros_like(survey.shift_px) if steady else survey.shift_px,
        camera_moves=not steady,
        upright_tilt_deg=lean.tilt_deg,
        upright_tilt_se_deg=lean.se_deg,
        upright_converge_deg=lean.converge_deg,
        upright_converge_se_deg=lean.converge_se_deg,
        shore_tilt_deg=shore_deg,
        shore_tilt_se_deg=shore_se_deg,
        level_edges_px=level_px,
        blur_px=survey.blur_px,
        light=survey.light,
        models=models.versions,
    )


def _surroundings(survey: Survey, held: bool) -> Edges:
    """Return straight edges of what is around; where the camera is not held, faint ones too."""
    scale = survey.kept[0].shape[1] / survey.facts.width_px
    moved_px = scale * survey.shift_px[survey.kept_frames]
    return straight_edges(survey.kept, moved_px, faint=not held)


def _company(t_s: FloatArray, chosen: PersonTrack, tracks: list[PersonTrack]) -> BoolArray:
    """Frames in which somebody else's box meets the rower's [shape=(T,)]."""
    nearest = nearest_times(chosen.t_s, t_s)
    own = bridge(chosen.box_px, chosen.t_s, MAX_HIDDEN_S)
    met = np.zeros(len(own), bool)
    for track in tracks:
        if track is not chosen:
            met |= boxes_meet(own, bridge(track.box_px, track.t_s, MAX_HIDDEN_S))
    return np.asarray(met[nearest])
