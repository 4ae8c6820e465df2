"""Who is who while somebody crosses: a seated rower is not a passer-by, nor a neighbour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from analysis.at_most import at_most
from analysis.checks import BoolArray, FloatArray
from analysis.pose.crop import nearest_times
from analysis.pose.filling import OFF, Filling
from analysis.pose.linking import PersonTrack
from analysis.pose.passing import Passing
from analysis.pose.people import COCO_NAMES, TORSO
from analysis.pose.place import Place
from analysis.pose.rower import MAX_HIP_OVER_KNEE, MIN_LEGS_AHEAD, evidence
from analysis.pose.sides import near_points
from analysis.pose.track import Facing

#: Somebody seen in less of the clip is a fragment of a track, not a second rower.
_LEAST_SEEN = 0.3
#: The torso is where the rower is expected, in trunk lengths.
_NEAR = 0.6
#: And nearer to there than to where anybody else sits, or than the other model's, by so much.
_NEARER = 0.3
#: A torso this far off where the rower is expected is somebody else's.
_SOMEBODY_ELSE = 0.8
#: Joints of the near side that make up a posture: feet and seat stay where they are. The first
#: four tell people apart; arms tell one body from two that were put together.
_POSTURE = ("shoulder", "hip", "knee", "ankle", "elbow", "wrist")
_APART = slice(4)
#: No joint is further than this from where it was in one of the rower's own postures, in trunk
#: lengths, and each of anybody else's is further away by so much. On 16 rendered clips with company
#: 99 % of a model's right sights are told so, and a third of those that have a joint 0.6 off.
_OWN, _OTHERS = 0.5, 0.15
#: No joint, arms' too, of a body that was seen whole is further than this from one of its own
#: postures: on eight rendered clips with company 99 % of right sights are within 0.23, and a
#: passer-by's trunk on the rower's legs, with the rower's posture of another time, is mostly beyond
#: 0.3. Told from so many sure looks at least.
_WHOLE, _LEAST_KNOWN = 0.3, 20
#: What a look tells holds for frames this near to it, s, that were not looked at.
_BESIDE_S = 0.1
#: Postures of a person that are looked at, spread over the clip.
_MOST_POSTURES = 200


@dataclass(frozen=True)
class Company:
    """The followed rower among everybody who was seen.

    Attributes
    ----------
    chosen : PersonTrack
    tracks : sequence of PersonTrack
        Everybody, `chosen` among them.
    facing : "left" or "right"
        The side that the rower's feet are on.
    held : bool
        The camera is held: places in the picture stay the same.
    """

    chosen: PersonTrack
    tracks: Sequence[PersonTrack]
    facing: Facing
    held: bool

    def unsure(self, t_s: FloatArray) -> BoolArray:
        """Return frames in which somebody covers the rower, or is covered [shape=(T,)]."""
        return np.asarray(self.chosen.unsure[nearest_times(self.chosen.t_s, t_s)])

    def others_shoulder(self, t_s: FloatArray, shoulder_px: FloatArray) -> BoolArray:
        """Tell which shoulders [shape=(F, 2), px] are where somebody who stands has theirs."""
        each = zip(t_s, shoulder_px, strict=True)
        return np.array([self.passing.shoulder_of_theirs(float(t), xy) for t, xy in each], bool)

    @cached_property
    def passing(self) -> Passing:
        """Others who stand or walk."""
        return Passing.of(self.chosen, self.tracks)

    @cached_property
    def seated(self) -> list[PersonTrack]:
        """Others who sit, where they are sure; who never is, as they were seen."""
        others = [t for t in self.tracks if t is not self.chosen and t.seen.mean() >= _LEAST_SEEN]
        sitting = [(t, t.where_sure()) for t in others if evidence(t).why_not != "not seated"]
        return [sure if sure.seen.any() else track for track, sure in sitting]


def leave_out_others(
    models: tuple[Filling, Filling], t_s: FloatArray, place: Place, company: Company
) -> None:
    """Forget what either model saw of somebody else's shoulders or hips.

    Where looks are rare, or were of two people taken for one, the rower may be elsewhere than
    expected: what is one of their own postures is kept.
    """
    off = [model.off_by(t_s, place) for model in models]
    for model, mine, other in zip(models, off, reversed(off), strict=True):
        others = (mine > OFF) & (mine - other > _NEARER)
        away = np.flatnonzero(~others & (mine > _SOMEBODY_ELSE))
        others[away] = True
        if company.held and away.size:
            _, posture_px = _points(model, t_s, company.facing)
            sure = ~company.unsure(t_s) & (mine < OFF)
            others[away] = ~_in_posture(posture_px[away], posture_px[sure], place, company)
        model.leave_out(others)


def who_is_who(
    models: tuple[Filling, Filling], without: Filling, t_s: FloatArray, company: Company
) -> BoolArray:
    """Tell in which frames it stays uncertain whose points the models saw.

    Where one model's points can only be the rower's, and the other's may be somebody else's, the
    other's are forgotten.

    Parameters
    ----------
    models : pair of Filling
    without : Filling
        What the first one saw with passers-by blacked out: taken where its own points may be
        somebody else's and these can only be the rower's.
    t_s : array [shape=(T,)]
        Times, s.
    company : Company

    Returns
    -------
    array [shape=(T,)] of bool
        Also where neither model saw anybody.
    """
    seen = [np.isfinite(m.held_coco_px(t_s)[:, TORSO]).all(axis=(1, 2)) for m in models]
    nobody, unsure = ~(seen[0] | seen[1]), company.unsure(t_s)
    if not unsure.any():
        return np.asarray(nobody)
    points = [_points(model, t_s, company.facing) for model in models]
    plain = [plainly_the_rower(t_s, *each, company) for each in points]
    if without.asked.any():
        known_px = points[0][1][~unsure]
        alone = plainly_the_rower(t_s, *_points(without, t_s, company.facing), company, known_px)
        looked_s = t_s[without.asked]
        beside = np.abs(looked_s[nearest_times(looked_s, t_s)] - t_s) <= _BESIDE_S
        told = beside & (without.asked | ~models[0].asked)
        instead = unsure & alone & ~plain[0] & told
        models[0].take(instead, without)
        plain[0] |= instead
    for model, own, other in zip(models, plain, reversed(plain), strict=True):
        model.leave_out(unsure & other & ~own)
    return np.asarray(nobody | unsure & ~(plain[0] | plain[1]))


def plainly_the_rower(
    t_s: FloatArray,
    torso_px: FloatArray,
    posture_px: FloatArray,
    company: Company,
    known_px: FloatArray | None = None,
) -> BoolArray:
    """Find frames in which one model's points can only be the rower's, though somebody crosses.

    Parameters
    ----------
    t_s : array [shape=(T,)]
        Times, s.
    torso_px : array [shape=(T, 4, 2)]
        Shoulders and hips; NaN where nobody was seen.
    posture_px : array [shape=(T, 6, 2)]
        Shoulder, hip, knee, ankle, elbow and wrist of the near side.
    company : Company
    known_px : array [shape=(F, 6, 2)], optional
        Postures that are surely the rower's; those of sure frames when left out.

    Returns
    -------
    array [shape=(T,)] of bool
        True where the points sit, legs ahead, in the rower's place, or else in one of the postures
        that the rower goes through. Where others in the clip sit too, place and postures are told
        from frames alone in which they are sure (`Company.seated`), and the points have to be
        nearer to the rower's than to anybody else's. Where the shoulder is that of somebody who
        walks past, they have to be, arms and all, one body as it was seen in sure frames.
    """
    sure = company.chosen.where_sure() if company.seated else company.chosen
    if not sure.seen.any():
        return np.zeros(len(t_s), bool)
    place = Place.of(sure)
    reach = (posture_px[:, 2] - posture_px[:, 1]) / place.trunk_px
    ahead = reach[:, 0] * (1.0 if company.facing == "right" else -1.0)
    sits = (reach[:, 1] < MAX_HIP_OVER_KNEE) & (ahead > MIN_LEGS_AHEAD)
    plain = _in_place(t_s, torso_px, place, company)
    if company.held:
        unsure = company.unsure(t_s)
        known_px = posture_px[~unsure] if known_px is None else known_px
        at = np.flatnonzero(unsure & sits & ~plain)
        plain[at] = _in_posture(posture_px[at], known_px, place, company)
        at = np.flatnonzero(unsure & sits & plain)
        at = at[company.others_shoulder(t_s[at], posture_px[at, 0])]
        plain[at] = _one_body(posture_px[at], known_px, place)
    return np.asarray(plain & sits)


def _in_place(t_s: FloatArray, torso_px: FloatArray, place: Place, company: Company) -> BoolArray:
    """Tell where torsos are where the rower is expected at the time [shape=(T,)]."""
    off = place.off_by(torso_px, t_s)
    plain = off < _NEAR
    for track in company.seated:
        theirs = replace(Place.of(track), trunk_px=place.trunk_px)
        plain &= theirs.off_by(torso_px, t_s) - off > _NEARER
    return np.asarray(plain)


def _in_posture(
    posture_px: FloatArray, own_px: FloatArray, place: Place, company: Company
) -> BoolArray:
    """Tell which postures [shape=(F, 6, 2)] are like one's own, and unlike others' [shape=(F,)]."""
    posture_px, own_px = posture_px[:, _APART], own_px[:, _APART]
    own = _unlike(posture_px, own_px) / place.trunk_px
    plain = own < _OWN
    for track in company.seated:
        known_px = _postures_of(track, company.facing)[:, _APART]
        theirs = _unlike(posture_px, known_px) / place.trunk_px
        plain &= theirs > own + _OTHERS
    return np.asarray(plain)


def _one_body(posture_px: FloatArray, own_px: FloatArray, place: Place) -> BoolArray:
    """Tell which postures [shape=(F, 6, 2)] are those of one body, seen before [shape=(F,)]."""
    if len(own_px) < _LEAST_KNOWN:
        return np.ones(len(posture_px), bool)
    return np.asarray(_unlike(posture_px, own_px) < _WHOLE * place.trunk_px)


def _unlike(posture_px: FloatArray, known_px: FloatArray) -> FloatArray:
    """Distance from the likest known posture, of the joint that is furthest off [shape=(F,), px].

    Infinite where none is known, or one's own is not seen whole.
    """
    known_px = known_px[np.isfinite(known_px).all(axis=(1, 2))]
    least = np.full(len(posture_px), np.inf)
    for known in at_most(_MOST_POSTURES, known_px):
        away = np.linalg.norm(posture_px - known, axis=-1).max(axis=-1)
        least = np.fmin(least, away)
    return least


def _postures_of(track: PersonTrack, facing: Facing) -> FloatArray:
    """Return the postures in which a person was seen [shape=(S, 6, 2), px]."""
    at = [COCO_NAMES.index(f"{facing}_{joint}") for joint in _POSTURE]
    return np.asarray(track.xy_px[track.seen][:, at])


def _points(model: Filling, t_s: FloatArray, facing: Facing) -> tuple[FloatArray, FloatArray]:
    """Return torsos and near postures of what a model saw."""
    near = near_points(model.held(t_s), facing)
    return model.held_coco_px(t_s)[:, TORSO], np.stack([near[j][0] for j in _POSTURE], axis=1)
