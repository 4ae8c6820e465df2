"""A made-up review for the tests of what a review writes: known strokes with known faults."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np
from drawn_rower import DRIVE, LEAD_S, Array, made_motion, uneven_times, write_clip

from analysis.coaching.findings import Drill, Finding, Findings, Hint, Readiness
from analysis.motion.motion import Motion
from analysis.pose.track import OUTLINE_POINTS, ClipFacts, LandmarkTrack, PoseTrack
from analysis.result import QualityPoint, Review
from analysis.stroke.strokes import MeasureColumn, Strokes


def made_strokes(motion: Motion, strokes: int, stroke_s: float) -> Strokes:
    """Return the exact events, and measures read off the exact angles."""
    t_s = motion.t_s
    catch = LEAD_S + stroke_s * np.arange(strokes)
    release, after = catch + DRIVE * stroke_s, catch + stroke_s
    number = np.zeros(len(t_s), dtype=np.int64)
    phase = np.full(len(t_s), "", dtype="<U8")
    for i in range(strokes):
        inside = (t_s >= catch[i]) & (t_s < after[i])
        number[inside] = i + 1
        p = (t_s - catch[i]) / stroke_s
        phase[inside & (p < DRIVE)] = "drive"
        phase[inside & (p >= DRIVE)] = "recovery"
        phase[inside & (p < 0.03)] = "catch"
        phase[inside & (abs(p - DRIVE) < 0.03)] = "release"
    spread = 1.0 + 0.04 * np.sin(1.0 + 2.0 * np.arange(strokes))

    def column(
        name: str, unit: str, value: float, moment: Array, se: float = 0.8, wide: float = 1.0
    ) -> MeasureColumn:
        values = value * (1.0 + wide * (spread - 1.0))
        return MeasureColumn(name, unit, values, np.full(strokes, se), 0.5 * se, moment)

    def at(name: str, moment: Array) -> float:
        return float(np.interp(moment[0], t_s, motion.angle(name)))

    knees = catch + 0.55 * stroke_s
    made = [
        column("rate_spm", "1/min", 60.0 / stroke_s, catch, 0.1),
        column("drive_s", "s", DRIVE * stroke_s, release, 0.01),
        column("recovery_s", "s", (1 - DRIVE) * stroke_s, catch, 0.01),
        column("ratio", "share", (1 - DRIVE) / DRIVE, after, 0.03),
        column("catch_trunk_deg", "deg", at("trunk_deg", catch), catch),
        column("body_over_share", "share", 0.294, knees, 0.04, wide=10.0),
        column("arms_away_share", "share", 0.93, knees, 0.04),
        column("lunge_deg", "deg", 8.0, after - 0.05 * stroke_s),
        column("shin_catch_deg", "deg", at("shin_deg", catch), catch),
        column("elbow_catch_deg", "deg", at("elbow_deg", catch), catch),
        column("rounding_catch_deg", "deg", 13.0, catch, 1.6),
        column("rounding_catch_raw_deg", "deg", 38.0, catch, 1.6),
        column("knee_release_deg", "deg", at("knee_deg", release), release),
        column("layback_deg", "deg", -at("trunk_deg", release), release),
        column("legs_peak_pct", "pct", 31.0, catch + 0.12 * stroke_s, 2.0),
        column("back_peak_pct", "pct", 58.0, catch + 0.24 * stroke_s, 2.0),
        column("arms_peak_pct", "pct", 79.0, catch + 0.32 * stroke_s, 2.0),
        column("hand_gap_share", "share", float("nan"), release),
    ]
    return Strokes(
        catch_s=catch,
        release_s=release,
        next_catch_s=after,
        full_compression_s=catch.copy(),
        phase=phase,
        stroke=number,
        stage="full_slide",
        stage_named=True,
        stage_of_stroke=("full_slide",) * strokes,
        setting="erg",
        measures={c.name: c for c in made},
    )


def made_findings(strokes: Strokes) -> Findings:
    """Return findings that fit the made-up measures: a late body, a lunge, too much layback."""
    count = strokes.count
    middle = (count + 1) // 2

    def finding(
        check: str,
        measure: str,
        level: str,
        low: float | None,
        high: float | None,
        title: str,
        athlete: str,
        **more: object,
    ) -> Finding:
        column = strokes.measures[measure]
        seen = count if level == "work on" else 1 if level == "watch" else 0
        return Finding(
            check=check,
            measure=measure,
            level=level,  # type: ignore[arg-type]
            value=float(np.median(column.values)),
            u=1.96 * float(column.se[0]),
            low=low,
            high=high,
            unit=column.unit,
            strokes_seen=seen,
            strokes=count,
            worst_stroke=middle,
            typical_stroke=1,
            show_at_s=float(column.moment_s[middle - 1]),
            title=title,
            athlete_text=athlete,
            coach_text=f"{title}: {check}.",
            **more,  # type: ignore[arg-type]
        )

    rows = (
        finding(
            "body_over",
            "body_over_share",
            "work on",
            0.75,
            None,
            "The body comes over late",
            "Your knees come up before your body is over, so you have to reach at the end.",
            side="under",
        ),
        finding(
            "layback",
            "layback_deg",
            "work on",
            3.0,
            20.0,
            "Leaning back a long way",
            "You lean back further than you need to at the finish.",
            side="over",
        ),
        finding(
            "lunge",
            "lunge_deg",
            "watch",
            None,
            5.0,
            "A last reach at the catch",
            "You dip forward in the last bit of the slide.",
            side="over",
            because_of="body_over",
        ),
        finding(
            "rounding",
            "rounding_catch_deg",
            "steady",
            None,
            15.0,
            "The back at the catch",
            "Your back keeps its shape.",
            close=True,
        ),
        finding(
            "arms_away",
            "arms_away_share",
            "steady",
            0.85,
            None,
            "Hands away first",
            "Your hands go away before your body moves.",
        ),
        finding(
            "compression",
            "shin_catch_deg",
            "steady",
            -12.0,
            5.0,
            "Shins at the catch",
            "Your shins stop close to upright.",
        ),
        finding(
            "legs_down",
            "knee_release_deg",
            "steady",
            150.0,
            None,
            "Legs down at the finish",
            "Your legs are down at the finish.",
        ),
        Finding(
            "head",
            "head_deg",
            "cannot tell",
            float("nan"),
            float("nan"),
            -25.0,
            25.0,
            "deg",
            reason="The ear was hidden by hair in most frames.",
            title="Head",
            athlete_text="",
            coach_text="",
        ),
    )
    return Findings(
        findings=rows,
        first_check="body_over",
        first_text="Get your body over before your knees come up.",
        drill=Drill(
            "pause_body_over",
            "Pause with the body over",
            "Row slowly. After each finish send the hands away, swing the body over, and stop "
            "there with straight legs. Count two, then slide.",
            "3 × 10 strokes at 18 a minute, resting a minute between.",
            "Your weight moves onto the feet before the seat does.",
            "Film ten strokes from the side, straight after the third set.",
        ),
        readiness=Readiness(
            "full_slide",
            None,
            None,
            (),
        ),
        hints=(
            Hint(
                "foot_height",
                "The feet look a little high for these shins.",
                "worth a look",
                "Lower the footboard by one hole and film again.",
            ),
        ),
        did_well=(
            "Your hands go away before your body moves.",
            "Your shins stop close to upright at the front.",
            "Your legs are down at the finish.",
        ),
        standard_name="novice",
        standard_version="1",
        neutral_source="the standard's number, because the clip does not show a tall seat",
    )


def made_review(
    folder: Path,
    *,
    strokes: int = 4,
    stroke_s: float = 2.5,
    fps: float = 30.0,
    size: tuple[int, int] = (960, 540),
    athlete: str = "Mara",
    facing: Literal["left", "right"] = "right",
    change: Callable[[Review], Review] | None = None,
) -> Review:
    """Return a whole review of a made-up clip written to `folder`."""
    t_s = uneven_times(strokes, stroke_s, fps)
    t_s = np.round((t_s - t_s[0]) * 9000) / 9000
    motion = made_motion(t_s, strokes, stroke_s, size, facing)
    path = folder / "Mara_2026-03-02.mp4"
    write_clip(path, motion, size)
    facts = ClipFacts(
        file=path.name,
        sha256="0f" * 32,
        frames=len(t_s),
        mean_fps=fps,
        width_px=size[0],
        height_px=size[1],
        duration_s=float(t_s[-1] - t_s[0] + 1 / fps),
    )
    thunder = LandmarkTrack(
        "thunder", ("right_hip",), motion.joint("hip")[:, None, :], np.ones((len(t_s), 1))
    )
    pose = PoseTrack(
        clip=facts,
        t_s=t_s,
        landmarks={"thunder": thunder},
        outline_px=np.full((len(t_s), OUTLINE_POINTS, 2), np.nan),
        facing=facing,
        people_seen=1,
        identity_uncertain=np.zeros(len(t_s), dtype=np.bool_),
        camera_shift_px=np.zeros((len(t_s), 2)),
        models={"movenet_thunder.onnx": "ab" * 32},
    )
    measured = made_strokes(motion, strokes, stroke_s)
    review = Review(
        source=str(path),
        out_name=path.stem,
        athlete=athlete,
        pose=pose,
        motion=motion,
        strokes=measured,
        findings=made_findings(measured),
        quality=(
            QualityPoint("angle", "Camera square to the rower", "good", 2.0, "deg"),
            QualityPoint(
                "light",
                "Light",
                "fair",
                61.0,
                "luma",
                "Joints are a little less certain.",
                "Film with the windows behind the camera.",
            ),
        ),
        versions={"sideon": "0.1.0", "standard": "novice 1", "movenet_thunder.onnx": "ab" * 32},
        date="2026-03-02",
        note="First week on the full slide.",
    )
    return change(review) if change else review
