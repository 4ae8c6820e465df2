"""Every measure of a stroke, in the order of strokes.csv.

All travel of handle and seat is in the athlete's own frame, so a moving camera does not count.
Each measure is one small function; its docstring is its definition.
"""

from __future__ import annotations

from analysis.stroke.measures import catch, drive, handle, posture, recovery, release, timing
from analysis.stroke.measures.measure import Measure, Reading

MEASURES: tuple[Measure, ...] = (
    timing.rate_spm,
    timing.drive_s,
    timing.recovery_s,
    timing.ratio,
    timing.slide_time_share,
    timing.front_speed_share,
    timing.catch_dwell_s,
    timing.stroke_length_share,
    timing.stroke_length_m,
    catch.catch_trunk_deg,
    recovery.body_over_share,
    recovery.arms_away_share,
    recovery.lunge_deg,
    catch.shin_catch_deg,
    catch.knee_catch_deg,
    catch.elbow_catch_deg,
    posture.rounding_catch_deg,
    posture.rounding_drive_deg,
    posture.rounding_release_deg,
    posture.rounding_catch_raw_deg,
    posture.rounding_drive_raw_deg,
    posture.rounding_release_raw_deg,
    drive.legs_at_back_open,
    drive.legs_at_arm_bend,
    timing.legs_peak_pct,
    timing.back_peak_pct,
    timing.arms_peak_pct,
    drive.seat_slip_share,
    release.knee_release_deg,
    release.layback_deg,
    handle.handle_level_share,
    handle.handle_loop_share,
    handle.handle_dip_share,
    release.hand_height_share,
    release.forearm_release_deg,
    release.hand_gap_share,
    posture.head_deg,
)

__all__ = ["MEASURES", "Measure", "Reading"]
