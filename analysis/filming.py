"""How well a clip was filmed for what it is asked, and how to film it better."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.evidence import apart, near_side_evidence
from analysis.motion.filters import bridge_gaps, runs
from analysis.motion.motion import JOINTS, Motion
from analysis.pose.track import PoseTrack
from analysis.result import QualityPoint

#: Beyond this the view is no longer side-on, degrees (a 45° line then reads 46°: see `view`).
MOST_YAW_DEG = 15.0
#: A trunk shorter than this in the picture is measured too coarsely, px: at 1 px of error at both
#: ends an angle is off by √2/L rad, 1.4° at 60 px (exact for small errors).
FAIR_TRUNK_PX, POOR_TRUNK_PX = 90.0, 60.0
#: Below this, or further off square than that, no angle is told at all: on rendered boats with
#: trunks of 40 to 50 px knees are 9° off on average, beyond their stated error in 43 % of frames.
LEAST_TRUNK_PX, MOST_YAW_AT_ALL_DEG = 52.0, 22.0
#: Lasting error of a point of a small athlete, px: the hidden feet, on which the hull's path
#: rests, and the models' own (our judgement; an angle would be off by 5° and more).
SMALL_BIAS_PX = 3.0
#: Hands of a small athlete lost for no longer than this are bridged, s: rate and rhythm do not need
#: more, and a lost catch would cost the stroke before it as well.
SMALL_GAP_S = 0.45
#: Fewer frames a second leave an event to chance: 25 a second are 40 ms apart.
LEAST_FPS = 20.0
#: Mean brightness of a picture (0…255) in which limbs still stand out.
LEAST_LIGHT = 45.0
#: Share of frames in which the athlete may be confused with somebody else.
MOST_UNCERTAIN = 0.05
#: Joints by which one body is told from another.
TORSO = [JOINTS.index("shoulder"), JOINTS.index("hip")]
#: Whole strokes with which one odd stroke no longer decides: of three the median is a usual one.
#: (Being ready for the next step takes more; the readiness says so itself.)
ENOUGH_STROKES = 3
#: Blur of the sharpest edges, in trunk lengths, at which a joint's place spreads by degrees:
#: 0.02 is 1.1° (exact for small angles). Sharp rendered clips have up to 0.01.
MOST_BLUR = 0.02
#: Edges cannot be much sharper than this in pixels; of a small athlete the size tells.
SHARPEST_PX = 1.3
#: Shaking quicker than a second, in trunk lengths, that leaves jolts in the handle's path.
#: A rendered clip from a moving launch has 0.04.
MOST_SHAKE = 0.08
#: Typical angles of a stroke against the vertical, for telling what an oblique view does to each:
#: body over and layback, and an over-compressed shin.
TYPICAL_DEG = {"trunk at the catch": 25.0, "layback": 15.0, "shin": 10.0}


@dataclass(frozen=True)
class Checked:
    """What the filming of one clip allows.

    Attributes
    ----------
    file : str
        The clip's name.
    seen : str
        One line of what was seen: who faces where, how large, how many strokes.
    points : tuple of QualityPoint
        As in a review.
    refused : str
        What cannot be measured at all in this clip, in one sentence; empty when everything can.
    yaw_deg : float
        Estimated departure from square-on; NaN when it cannot be told.
    yaw_effects_deg : mapping of str to float
        What the oblique view does to angles before it is corrected for; NaN when not known.
    """

    file: str
    seen: str
    points: tuple[QualityPoint, ...]
    refused: str
    yaw_deg: float
    yaw_effects_deg: dict[str, float]

    @property
    def good(self) -> bool:
        """Whether nothing is to be filmed better."""
        return all(point.level == "good" for point in self.points)


def filming_quality(pose: PoseTrack, motion: Motion, strokes: int) -> tuple[QualityPoint, ...]:
    """Judge the filming of one clip.

    Parameters
    ----------
    pose : PoseTrack
    motion : Motion
    strokes : int
        Whole strokes found.

    Returns
    -------
    tuple of QualityPoint
        One a point, in the order in which a coach would put them right; what costs nothing is
        ``good`` and says nothing.
    """
    return (
        _side_on(motion),
        _level(motion),
        _in_frame(pose),
        _tall_enough(motion),
        _quick_enough(pose),
        _sharp(pose, motion),
        _light(pose),
        _steady(pose, motion),
        _one_person(pose, motion),
        _strokes(strokes),
    )


def yaw_effects_deg(yaw_deg: float) -> dict[str, float]:
    """Return what an oblique view does to angles of a stroke before it is corrected for.

    Parameters
    ----------
    yaw_deg : float
        Departure from square-on; NaN gives NaN.

    Returns
    -------
    dict of str to float
        Degrees by which each of ``TYPICAL_DEG`` reads too small: widths shrink by cos ψ, so
        tan θ′ = tan θ · cos ψ against the vertical (exact for a far camera).
    """
    shrink = math.cos(math.radians(yaw_deg))
    return {
        name: math.degrees(math.atan(math.tan(math.radians(deg)) * shrink)) - deg
        for name, deg in TYPICAL_DEG.items()
    }


def what_can_be_told(motion: Motion) -> Motion:
    """Take out angles that the filming does not allow; timing and travel stay.

    An athlete smaller than ``LEAST_TRUNK_PX`` or seen more than ``MOST_YAW_AT_ALL_DEG`` off square
    keeps strokes, rate and rhythm, and loses every angle (NaN): the clip is not refused, the
    measures are. A small one loses the height of the hands too, and short gaps of the hands are
    bridged.
    """
    small = motion.segments_px["trunk"] < LEAST_TRUNK_PX
    oblique = math.isfinite(motion.yaw_deg) and abs(motion.yaw_deg) > MOST_YAW_AT_ALL_DEG
    if not (small or oblique):
        return motion
    nothing = np.full_like(motion.angles_deg, np.nan)
    reason = "The athlete is too small in the picture" if small else "The view is too oblique"
    if small:
        motion = _rhythm_only(motion)
    return replace(
        motion,
        angles_deg=nothing,
        angle_se_deg=nothing,
        angle_bias_se_deg=nothing,
        notes=(*motion.notes, f"{reason} for angles; strokes and rhythm are told."),
    )


def _rhythm_only(motion: Motion) -> Motion:
    """Bridge short gaps of the hands along the boat, take out their height, and own up to bias."""
    wrist = JOINTS.index("wrist")
    handle, place, filled = motion.handle_px.copy(), motion.place_px.copy(), motion.filled.copy()
    hands = handle[:, 0]
    _, lost = bridge_gaps(motion.t_s, hands, longest_s=SMALL_GAP_S)
    for gap in runs(lost):
        hands[gap] = _swung(motion.t_s, hands, gap)
    handle[:, 1] = np.nan
    place[:, wrist, 1] = np.nan
    filled[:, wrist] |= lost
    bias = max(motion.place_bias_se_px, SMALL_BIAS_PX)
    return replace(motion, place_px=place, handle_px=handle, filled=filled, place_bias_se_px=bias)


def _swung(t_s: FloatArray, x: FloatArray, gap: slice) -> FloatArray:
    """Go on as before a gap and come in as after it (a cubic): a turn in it stays a turn."""
    from scipy.interpolate import CubicHermiteSpline  # takes a while to load, and is rarely needed

    ends = [gap.start - 1, gap.stop]
    slopes = []
    for near in (slice(max(gap.start - 4, 0), gap.start), slice(gap.stop, gap.stop + 4)):
        known = np.isfinite(x[near])
        t, y = t_s[near][known], x[near][known]
        slopes.append(float(np.polyfit(t - t[0], y, 1)[0]) if len(t) >= 3 else 0.0)
    return np.asarray(CubicHermiteSpline(t_s[ends], x[ends], slopes)(t_s[gap]))


def _side_on(motion: Motion) -> QualityPoint:
    yaw = motion.yaw_deg
    level = "good"
    costs = remedy = ""
    if math.isfinite(yaw) and abs(yaw) > MOST_YAW_DEG - 3.0:
        level = "poor" if abs(yaw) > MOST_YAW_DEG + 3.0 else "fair"
        # tan θ′ = tan θ / cos ψ (exact for a far camera).
        reads = math.degrees(math.atan(1.0 / math.cos(math.radians(yaw))))
        costs = (
            f"The camera stood about {abs(yaw):.0f}° off square: a 45° line then reads"
            f" {reads:.0f}°, and near and far limbs shift against each other. Uncorrected,"
            " it makes "
            + ", ".join(f"{name} {abs(off):.1f}°" for name, off in yaw_effects_deg(yaw).items())
            + " too small."
        )
        towards = "the handle end" if yaw < 0 else "the seat end"
        remedy = f"Walk a step towards {towards}, so that you look straight at the side."
    return QualityPoint("side_on", "Seen from the side", level, yaw, "deg", costs, remedy)


def _level(motion: Motion) -> QualityPoint:
    se = motion.tilt_se_deg
    if se <= 1.2:
        return QualityPoint("level", "Held level", "good", motion.tilt_deg, "deg")
    return QualityPoint(
        "level",
        "Held level",
        "fair",
        motion.tilt_deg,
        "deg",
        f"How level the camera was held is known to ± {1.96 * se:.0f}° only, and so is how"
        " far body and shins lean.",
        "Keep a door frame or a post in the picture, and the phone level and still.",
    )


def _in_frame(pose: PoseTrack) -> QualityPoint:
    size = np.array([pose.clip.width_px, pose.clip.height_px], dtype=float)
    seen = np.isfinite(pose.outline_px[:, 0, 0])
    if not seen.any():
        return QualityPoint("in_frame", "Whole athlete in the picture", "good", math.nan, "share")
    low, high = pose.outline_px.min(axis=1)[seen], pose.outline_px.max(axis=1)[seen]
    cut = ((low < 2.0) | (high > size - 3.0)).any(axis=1).mean()
    if cut < 0.05:
        return QualityPoint("in_frame", "Whole athlete in the picture", "good", cut, "share")
    return QualityPoint(
        "in_frame",
        "Whole athlete in the picture",
        "poor" if cut > 0.3 else "fair",
        float(cut),
        "share",
        f"Part of the athlete leaves the picture in {100 * cut:.0f} % of it.",
        "Step back until there is room around the athlete at the catch and at the finish.",
    )


def _tall_enough(motion: Motion) -> QualityPoint:
    trunk = motion.segments_px["trunk"]
    if trunk >= FAIR_TRUNK_PX:
        return QualityPoint("size", "Large enough", "good", trunk, "px")
    coarse = math.degrees(math.sqrt(2.0) / trunk)
    return QualityPoint(
        "size",
        "Large enough",
        "poor" if trunk < POOR_TRUNK_PX else "fair",
        trunk,
        "px",
        f"The athlete is small in the picture (trunk {trunk:.0f} px): one pixel is {coarse:.1f}°.",
        "Go closer, or film with more pixels, until the athlete fills half of the height.",
    )


def _quick_enough(pose: PoseTrack) -> QualityPoint:
    fps = pose.clip.mean_fps
    if fps >= LEAST_FPS:
        return QualityPoint("frame_rate", "Pictures a second", "good", fps, "1/s")
    return QualityPoint(
        "frame_rate",
        "Pictures a second",
        "poor" if fps < LEAST_FPS / 2 else "fair",
        fps,
        "1/s",
        f"Only {fps:.0f} pictures a second: the order of legs, body and arms blurs.",
        "Set the phone to 30 pictures a second or more.",
    )


def _sharp(pose: PoseTrack, motion: Motion) -> QualityPoint:
    blur = pose.blur_px / motion.segments_px["trunk"]
    if not (blur > MOST_BLUR and pose.blur_px > SHARPEST_PX):
        return QualityPoint("sharp", "Sharp", "good", pose.blur_px, "px")
    return QualityPoint(
        "sharp",
        "Sharp",
        "poor" if blur > 2 * MOST_BLUR else "fair",
        pose.blur_px,
        "px",
        f"Edges are blurred over {pose.blur_px:.1f} px, about {math.degrees(blur):.0f}° of the"
        " trunk.",
        "Wipe the lens, tap on the athlete to focus, and film in more light or at 60 pictures a"
        " second.",
    )


def _steady(pose: PoseTrack, motion: Motion) -> QualityPoint:
    shake_px = _shake_px(pose.t_s, pose.camera_shift_px)
    share = shake_px / motion.segments_px["trunk"]
    if not share > MOST_SHAKE:
        return QualityPoint("steady", "Steady", "good", shake_px, "px")
    return QualityPoint(
        "steady",
        "Steady",
        "poor" if share > 2 * MOST_SHAKE else "fair",
        shake_px,
        "px",
        f"The picture shakes by {shake_px:.0f} px, which leaves jolts in the handle's path.",
        "Rest the phone on something firm, or hold it with both hands and elbows at the ribs.",
    )


def _shake_px(t_s: FloatArray, shift_px: FloatArray) -> float:
    """RMS of the shift about its mean over a second around each frame, px."""
    first = np.searchsorted(t_s, t_s - 0.5)
    last = np.searchsorted(t_s, t_s + 0.5, side="right")
    total = np.vstack([np.zeros(2), np.cumsum(shift_px, axis=0)])
    mean = (total[last] - total[first]) / (last - first)[:, None]
    return float(np.sqrt(((shift_px - mean) ** 2).sum(axis=1).mean()))


def _light(pose: PoseTrack) -> QualityPoint:
    light = pose.light
    if not light < LEAST_LIGHT:
        return QualityPoint("light", "Light", "good", light, "")
    return QualityPoint(
        "light",
        "Light",
        "fair",
        light,
        "",
        "The picture is dark, and limbs are hard to tell from their shadows.",
        "Switch on more light, or film with the windows behind you.",
    )


def _one_person(pose: PoseTrack, motion: Motion) -> QualityPoint:
    share = float(pose.identity_uncertain.mean())
    costs = (
        f"Somebody else is in the way in {100 * share:.0f} % of the clip; those frames are not"
        " used."
    )
    if share <= MOST_UNCERTAIN:
        # Nobody crosses, but one model may still put the athlete together from two bodies.
        torn = apart(near_side_evidence(pose), pose.t_s, motion.segments_px["trunk"])
        share = max(share, float(torn[:, TORSO].any(axis=1).mean()))
        costs = (
            f"Somebody else is so close in {100 * share:.0f} % of the clip that the two may be"
            " mixed up: trust these angles less."
        )
    if share <= MOST_UNCERTAIN:
        return QualityPoint("alone", "Nobody in the way", "good", share, "share")
    return QualityPoint(
        "alone",
        "Nobody in the way",
        "fair",
        share,
        "share",
        costs,
        "Let nobody stand or row right in front of or behind the athlete.",
    )


def _strokes(strokes: int) -> QualityPoint:
    if strokes >= ENOUGH_STROKES:
        return QualityPoint("strokes", "Enough strokes", "good", float(strokes), "strokes")
    said = {0: "No whole stroke is", 1: "Only one whole stroke is"}.get(
        strokes, f"Only {strokes} whole strokes are"
    )
    costs = "nothing can be measured." if strokes < 2 else "one odd stroke weighs a lot."
    return QualityPoint(
        "strokes",
        "Enough strokes",
        "poor" if strokes < 2 else "fair",
        float(strokes),
        "strokes",
        f"{said} in the clip: {costs}",
        "Film ten strokes or so without a break, from before the first catch until after the last.",
    )
