"""One stroke as its measures see it: curves, events, body, and the progress of each part."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.motion import Motion
from analysis.stroke.progress import (
    LEAST_ELBOW_DEG,
    LEAST_SLIDE_SHARE,
    LEAST_TRUNK_DEG,
    first_time,
    last_time,
    progress,
    rest_place,
)
from analysis.stroke.signals import Curves

#: Upper arm, forearm, trunk and thigh as a share of stature: Drillis & Contini 1966, as in
#: Winter, Biomechanics and Motor Control of Human Movement, 4th ed., 2009, Fig. 4.1.
REACH_OF_STATURE = 0.186 + 0.146 + 0.288 + 0.245

#: Knees within so much of their straightest are straight, degrees: twice what they seem to bend by
#: while only the body moves, and a hundredth of the slide or less.
STRAIGHT_DEG = 3.0


@dataclass(frozen=True)
class Body:
    """What a stroke's lengths are measured in.

    Attributes
    ----------
    forearm_px, arm_px, reach_px : float
        Forearm; upper arm and forearm; these with trunk and thigh.
    full_slide_px : float
        Seat travel from legs straight to shins vertical.
    neutral_deg : float
        Raw back angle of the athlete sitting upright; NaN when not known.
    stature_m : float
        NaN when not given.
    """

    forearm_px: float
    arm_px: float
    reach_px: float
    full_slide_px: float
    neutral_deg: float
    stature_m: float


@dataclass(frozen=True)
class StrokeTimes:
    """Instants of one stroke, s; as in :class:`analysis.stroke.events.Events`."""

    catch: float
    release: float
    away: float
    arrival: float
    next_catch: float
    compression: float
    next_compression: float


@dataclass(frozen=True)
class Part:
    """Times [shape=(n,), s] and progress [shape=(n,), 0…1] of one part of the body."""

    t_s: FloatArray
    done: FloatArray

    def at(self, time_s: float) -> float:
        """Return the progress at an instant: 0 before the start; NaN when not told."""
        return float(np.interp(time_s, self.t_s, self.done)) if np.isfinite(time_s) else np.nan

    def reaches(self, share: float) -> float:
        """Return when `share` is done, s."""
        return first_time(self.t_s, self.done, share)


@dataclass(frozen=True)
class StrokeView:
    """One whole stroke.

    Attributes
    ----------
    curves : Curves
    times : StrokeTimes
    travel_px : float
        Handle travel of the drive.
    body : Body
    slides : bool
        Whether the seat moves (8 % of a full slide or more).
    """

    curves: Curves
    times: StrokeTimes
    travel_px: float
    body: Body
    slides: bool

    def at(self, name: str, time_s: float) -> float:
        """Return a signal at an instant."""
        return self.curves.at(name, time_s)

    def span(self, name: str, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
        """Return times and values [shape=(n,)] of a signal between two instants."""
        return self.curves.span(name, start_s, end_s)

    @cached_property
    def drive_start_s(self) -> float:
        """The earlier of catch and full compression, s."""
        return float(np.fmin(self.times.catch, self.times.compression))

    @cached_property
    def legs(self) -> Part:
        """Legs in the drive: the seat's way back."""
        return self._part("seat_x", -1.0, LEAST_SLIDE_SHARE * self.body.full_slide_px, drive=True)

    @cached_property
    def back(self) -> Part:
        """Back in the drive: the trunk's swing."""
        return self._part("trunk_deg", -1.0, LEAST_TRUNK_DEG, drive=True)

    @cached_property
    def arms(self) -> Part:
        """Arms in the drive: the elbow's closing."""
        return self._part("elbow_deg", -1.0, LEAST_ELBOW_DEG, drive=True)

    @cached_property
    def body_over(self) -> Part:
        """Back in the recovery: the trunk's swing forward."""
        return self._part("trunk_deg", 1.0, LEAST_TRUNK_DEG, drive=False)

    @cached_property
    def arms_away(self) -> Part:
        """Arms in the recovery: the elbow's straightening."""
        return self._part("elbow_deg", 1.0, LEAST_ELBOW_DEG, drive=False)

    def _part(self, name: str, sign: float, least: float, *, drive: bool) -> Part:
        times = self.times
        ends = (
            (self.drive_start_s, times.release)
            if drive
            else (times.release, times.next_compression)
        )
        t_s, x = self.span(name, *ends)
        return Part(t_s, progress(sign * x, least))

    @cached_property
    def knees_rise_s(self) -> float:
        """When the knee is 10° below its straightest, searched from mid-drive on, s."""
        middle = (self.times.catch + self.times.release) / 2
        t_s, knee = self.span("knee_deg", middle, self.times.next_compression)
        if not self.slides or np.isnan(knee).any():
            return float("nan")
        at = int(np.argmax(knee))
        straight = rest_place(knee, at, 2.0)
        return first_time(t_s[at:], -knee[at:], 10.0 - straight)

    @cached_property
    def slide(self) -> Part:
        """The seat's way forward from where it rests to full compression.

        While the knees are straight the seat cannot have left: the hip's landmark wanders by 3 % of
        the slide while the body swings over, and a slide that begins at 2 % would begin anywhere.
        """
        middle = (self.times.catch + self.times.release) / 2
        t_s, seat = self.span("seat_x", middle, self.times.next_compression)
        knee = self.span("knee_deg", middle, self.times.next_compression)[1]
        if not self.slides or np.isnan(seat).any():
            return Part(t_s, np.full_like(t_s, np.nan))
        held = np.flatnonzero(knee >= np.max(knee) - STRAIGHT_DEG)
        if len(held):
            rear, place = int(held[0]), float(np.median(seat[held]))
        else:  # the knee is not seen
            rear = int(np.argmin(seat))
            place = -rest_place(-seat, rear, 0.02 * float(seat[-1] - seat[rear]))
        done = (seat - place) / (seat[-1] - place)
        if len(held):
            straight = slice(rear, held[-1] + 1)
            done[straight] = np.minimum(done[straight], 0.0)
        return Part(t_s[rear:], done[rear:])

    def slide_time(self, share: float) -> float:
        """Return when the seat is last no further than `share` of its way forward, s."""
        return last_time(self.slide.t_s, self.slide.done, share)


def body_of(motion: Motion, neutral_deg: float, stature_m: float) -> Body:
    """Return the lengths that measures are told in.

    The full slide follows from the legs: hip from straight leg to vertical shin, at the hip's own
    height above the ankle (law of the triangle).
    """
    length = motion.segments_px
    thigh, shank = length["thigh"], length["shank"]
    heights = motion.place("hip")[:, 1]
    height = float(np.median(heights[np.isfinite(heights)])) if np.isfinite(heights).any() else 0.0
    straight = np.sqrt(max((thigh + shank) ** 2 - height**2, 0.0))
    upright = np.sqrt(max(thigh**2 - (shank - height) ** 2, 0.0))
    arm = length["upper_arm"] + length["forearm"]
    return Body(
        forearm_px=length["forearm"],
        arm_px=arm,
        reach_px=arm + length["trunk"] + thigh,
        full_slide_px=float(straight - upright),
        neutral_deg=neutral_deg,
        stature_m=stature_m,
    )
