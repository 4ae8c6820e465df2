"""How the made rower rows: one technique a stroke, sound ones for each stage, odd orders."""

from __future__ import annotations

from dataclasses import dataclass

#: Where a named pause lies: 0…1 drive, 1…2 recovery.
PHASE_OF_PAUSE = {"mid_drive": 0.4, "hands_away": 1.15, "body_over": 1.4, "half_slide": 1.72}


@dataclass(frozen=True)
class Technique:
    """How one stroke is rowed; the defaults are sound.

    ``…_start`` and ``…_end`` are shares of the drive (legs, back, arms) or of the recovery
    (arms away, body, slide). `pauses` holds (place, seconds): a name of ``PHASE_OF_PAUSE`` or a
    number, 0…1 in the drive and 1…2 in the recovery.
    """

    rate_spm: float = 22.0  # without pauses
    drive_s: float = 0.9
    front_hold_s: float = 0.0
    back_hold_s: float = 0.0
    pauses: tuple[tuple[str | float, float], ...] = ()
    # drive
    legs_start: float = 0.0
    legs_end: float = 0.80
    back_start: float = 0.28
    back_length: float = 0.67
    arms_start: float = 0.55
    arms_end: float = 1.0
    slip_share: float = 0.0
    # recovery
    arms_away_end: float = 0.25
    arms_away_length: float = 0.25
    body_end: float = 0.42
    body_length: float = 0.34
    slide_start: float = 0.38
    slide_rush: float = 0.0  # 0: half a cosine … 1: slow, then fast into the catch
    lunge_deg: float = 0.0
    # postures
    catch_trunk_deg: float = 28.0
    layback_deg: float = 10.0
    shin_catch_deg: float = -2.0
    slide: float = 1.0  # share of the way from legs flat to `shin_catch_deg`
    knee_release_deg: float = 171.0
    elbow_straight_deg: float = 174.0
    elbow_drawn_deg: float = 75.0
    rounding_front_deg: float = 4.0  # over neutral
    rounding_drive_deg: float = 0.0  # on top, in mid-drive
    rounding_back_deg: float = 2.0
    head_deg: float = 5.0
    # handle
    hand_height: float = 0.45  # of the trunk's height, at the release
    catch_rise_m: float = 0.05
    level_m: float = 0.0
    loop_m: float = -0.02
    dip_m: float = 0.0


#: One sound technique for each step of the build-up.
STAGES = {
    "arms_only": Technique(slide=0.0, catch_trunk_deg=0.0, layback_deg=0.0, arms_start=0.0,
                           arms_away_end=1.0, arms_away_length=1.0, catch_rise_m=0.02),
    "arms_and_body": Technique(slide=0.0, back_start=0.0, back_length=0.8, arms_start=0.35,
                               arms_away_end=0.35, arms_away_length=0.35, body_end=1.0,
                               body_length=0.75),
    "quarter_slide": Technique(slide=0.25),
    "half_slide": Technique(slide=0.5),
    "full_slide": Technique(),
}  # fmt: skip

#: Odd sequences: what happens when legs, back and arms do not follow one another.
ORDERS = {
    "in turn": Technique(legs_end=0.6, back_start=0.4, back_length=0.4, arms_start=0.7),
    "overlapping": Technique(back_start=0.1, back_length=0.8, arms_start=0.3),
    "simultaneous": Technique(legs_end=1.0, back_start=0.0, back_length=1.0, arms_start=0.0),
    "reversed": Technique(arms_start=0.0, arms_end=0.5, back_start=0.2, back_length=0.5,
                          legs_start=0.4, legs_end=1.0),
}  # fmt: skip
