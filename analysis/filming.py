"""How well a clip was filmed for what it is asked, and how to film it better."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analysis.motion.motion import Motion
from analysis.pose.track import PoseTrack
from analysis.result import QualityPoint

#: Beyond this the view is no longer side-on, degrees (a 45° line then reads 46°: see `view`).
MOST_YAW_DEG = 15.0
#: A trunk shorter than this in the picture is measured too coarsely, px: at 1 px of error at both
#: ends an angle is off by √2/L rad, 1.4° at 60 px (exact for small errors).
FAIR_TRUNK_PX, POOR_TRUNK_PX = 90.0, 60.0
#: Below this, or further off square than that, no angle is told at all.
LEAST_TRUNK_PX, MOST_YAW_AT_ALL_DEG = 45.0, 22.0
#: Fewer frames a second leave an event to chance: 25 a second are 40 ms apart.
LEAST_FPS = 20.0
#: Mean brightness of a picture (0…255) in which limbs still stand out.
LEAST_LIGHT = 45.0
#: Share of frames in which the athlete may be confused with somebody else.
MOST_UNCERTAIN = 0.05
#: Whole strokes that make the numbers steady.
WANTED_STROKES = 5


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
        _light(pose),
        _one_person(pose),
        _strokes(strokes),
    )


def what_can_be_told(motion: Motion) -> Motion:
    """Take out angles that the filming does not allow; timing and travel stay.

    An athlete smaller than ``LEAST_TRUNK_PX`` or seen more than ``MOST_YAW_AT_ALL_DEG`` off square
    keeps strokes, rate and rhythm, and loses every angle (NaN): the clip is not refused, the
    measures are.
    """
    small = motion.segments_px["trunk"] < LEAST_TRUNK_PX
    oblique = math.isfinite(motion.yaw_deg) and abs(motion.yaw_deg) > MOST_YAW_AT_ALL_DEG
    if not (small or oblique):
        return motion
    nothing = np.full_like(motion.angles_deg, np.nan)
    reason = "The athlete is too small in the picture" if small else "The view is too oblique"
    return replace(
        motion,
        angles_deg=nothing,
        angle_se_deg=nothing,
        angle_bias_se_deg=nothing,
        notes=(*motion.notes, f"{reason} for angles; strokes and rhythm are told."),
    )


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
            f" {reads:.0f}°, and near and far limbs shift against each other."
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
        f"How level the camera was held is known to ± {1.96 * se:.0f}° only, and so are layback"
        " and shin.",
        "Keep a door frame or a post in the picture, and the phone level and still.",
    )


def _in_frame(pose: PoseTrack) -> QualityPoint:
    size = np.array([pose.clip.width_px, pose.clip.height_px], dtype=float)
    seen = np.isfinite(pose.outline_px[:, 0, 0])
    if not seen.any():
        return QualityPoint("in_frame", "Whole athlete in the picture", "good", math.nan, "share")
    points = pose.outline_px[seen]
    low, high = points.min(axis=1), points.max(axis=1)
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


def _one_person(pose: PoseTrack) -> QualityPoint:
    share = float(pose.identity_uncertain.mean())
    if share <= MOST_UNCERTAIN:
        return QualityPoint("alone", "Nobody in the way", "good", share, "share")
    return QualityPoint(
        "alone",
        "Nobody in the way",
        "fair",
        share,
        "share",
        f"Somebody else is in the way in {100 * share:.0f} % of the clip; those frames are not"
        " used.",
        "Let nobody stand or row right in front of or behind the athlete.",
    )


def _strokes(strokes: int) -> QualityPoint:
    if strokes >= WANTED_STROKES:
        return QualityPoint("strokes", "Enough strokes", "good", float(strokes), "strokes")
    return QualityPoint(
        "strokes",
        "Enough strokes",
        "fair",
        float(strokes),
        "strokes",
        f"Only {strokes} whole strokes: one odd stroke weighs a lot.",
        "Film ten strokes or so without a break.",
    )
