"""What a body does that no rower's does: lying, arms that stay as they are, hands in turn."""

from __future__ import annotations

import numpy as np

from analysis.checks import FloatArray
from analysis.pose.linking import PersonTrack
from analysis.pose.people import ANKLES, ELBOWS, HIPS, KNEES, SHOULDERS, WRISTS
from analysis.pose.swings import without_jumps

#: A trunk this far back is somebody on their back, this far forward somebody on their front. A
#: tenth of the time rowers lean back up to 27° (91 rendered clips); 58° are the most we planted.
LYING_BACK_DEG, LYING_FORWARD_DEG = 50.0, 60.0
#: Elbows bend and stretch by 43° and more in rowing (rendered clips, few looks; 60° with many);
#: on a swing, or in sit-ups with the hands at the head, they stay as they are.
MIN_ELBOW_DEG = 32.0
#: Legs bent by more all the time and hardly moving sit on a chair: drills without the slide are
#: rowed with flat legs, 148° and more as landmarks show them.
BENT_KNEE_DEG, STILL_KNEE_DEG = 130.0, 25.0
#: Correlation of both hands' places: rowers' hands go together (0.3 and more), a kayaker's in turn.
IN_TURN = -0.1
#: Standard deviation of a hand's place that is more than a model's trembling, in trunk lengths; of
#: swings, a third of their travel.
_MOVES = 0.15
#: Rise of the hands' path over its length: up to 0.67 in rendered rowing with the hands lifted far
#: over the knees, and badly seen.
MOST_RISE = 1.0
#: Points seen worse than this may be guesses, or the other side's, copied.
_PLAIN_SCORE = 0.3
#: Share of the looks in which legs must be plainly seen: a boat's high side hides them, and what
#: is guessed of them hardly moves.
_MOSTLY = 0.6
#: Looks needed to say anything.
_ENOUGH = 8


def unlike_rowing(track: PersonTrack, sign: float, *, many_looks: bool = False) -> str:
    """Name what somebody who seems to row does that no rower does.

    Parameters
    ----------
    track : PersonTrack
    sign : float
        +1 where the feet are to the right, −1 to the left.
    many_looks : bool
        Whether the person was looked at so often, and so closely, that the shape of the hands'
        path can be told.

    Returns
    -------
    str
        Empty, ``"lying"``, ``"arms stay"``, ``"chair"``, ``"in turn"`` or ``"round"``. What is not
        seen well enough speaks for nothing.
    """
    shoulder, hip, wrist = (middle(track, pair) for pair in (SHOULDERS, HIPS, WRISTS))
    up = shoulder - hip
    lean = np.degrees(np.arctan2(sign * up[:, 0], -up[:, 1]))
    if _share(lean, 10) < -LYING_BACK_DEG or _share(lean, 50) > LYING_FORWARD_DEG:
        return "lying"
    elbow = _bend(track, shoulder, middle(track, ELBOWS), wrist)
    if _share(elbow, 97) - _share(elbow, 3) < MIN_ELBOW_DEG:
        return "arms stay"
    if _on_a_chair(track, hip):
        return "chair"
    if _in_turn(track, shoulder, hip):
        return "in turn"
    along, up_down = (without_jumps(track.t_s, (wrist - hip)[:, k]) for k in (0, 1))
    rise, length = (_share(x, 90) - _share(x, 10) for x in (up_down, along))
    return "round" if many_looks and rise > MOST_RISE * length else ""


def middle(track: PersonTrack, pair: list[int], least_score: float = 0.15) -> FloatArray:
    """Middle of a left and right point by score [shape=(S, 2)], NaN where both are guesses."""
    weight = np.where(track.score[:, pair] >= least_score, track.score[:, pair], 0.0)
    total = weight.sum(axis=1)
    xy = np.nan_to_num(track.xy_px[:, pair])
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (xy * weight[..., None]).sum(axis=1) / total[:, None]
    return np.where(total[:, None] > 0, mean, np.nan)


def _bend(track: PersonTrack, a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Angle at `b` [shape=(S,), degrees], single wrong points taken out."""
    u, v = a - b, c - b
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = (u * v).sum(axis=1) / (np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1))
    return without_jumps(track.t_s, np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _on_a_chair(track: PersonTrack, hip: FloatArray) -> bool:
    """Tell whether the legs, plainly seen, are bent and stay so."""
    ankle = middle(track, ANKLES, _PLAIN_SCORE)
    if np.isfinite(ankle[:, 0]).mean() < _MOSTLY * max(track.seen.mean(), 1e-9):
        return False
    knee = _bend(track, hip, middle(track, KNEES), ankle)
    bent, swing = _share(knee, 50), _share(knee, 90) - _share(knee, 10)
    return bent < BENT_KNEE_DEG and swing < STILL_KNEE_DEG


def _in_turn(track: PersonTrack, shoulder: FloatArray, hip: FloatArray) -> bool:
    """Tell whether one hand goes forward while the other comes back; a swap of names is no help.

    With somebody else in the way one hand may be theirs.
    """
    hands = track.xy_px[:, WRISTS, 0] - hip[:, :1]
    plain = (track.score[:, WRISTS] >= _PLAIN_SCORE).all(axis=1) & ~track.unsure
    plain &= np.isfinite(hands).all(axis=1)
    if plain.sum() < _ENOUGH:
        return False
    one, other = hands[plain].T
    trunk_px = float(np.median(np.linalg.norm(shoulder - hip, axis=1)[plain]))
    moves = min(one.std(), other.std()) > _MOVES * trunk_px
    return bool(moves and np.corrcoef(one, other)[0, 1] < IN_TURN)


def _share(x: FloatArray, percent: float) -> float:
    """Percentile of what is known; NaN, which is neither more nor less, when that is too little."""
    known = x[np.isfinite(x)]
    return float(np.percentile(known, percent)) if known.size >= _ENOUGH else float("nan")
