"""Set-up hints: what the height of feet, handle or oarlock might have to do with it.

Hints are never findings. Each rests on one or two witnesses and says so: ``fairly sure`` when two
agree, ``worth a look`` when one stands alone. The rules are common coaching practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from analysis.coaching.findings import Hint, Side
from analysis.coaching.levels import Judgement, judge
from analysis.coaching.standard import Standard
from analysis.coaching.words import number
from analysis.stroke.strokes import Strokes

Sure = Literal["fairly sure", "worth a look"]

#: Builds that differ by less than this share are called alike.
BUILD_DIFFERENCE = 0.05


def setup_hints(strokes: Strokes, standard: Standard) -> tuple[Hint, ...]:
    """Return the hints for one clip, at most one each on feet, hands and foot-stretcher.

    `strokes` must hold rounding as departure from neutral (``with_rounding``).
    """
    judged = _judge_all(strokes, standard)
    hands = _oarlock(judged) if strokes.setting == "boat" else _handle_height(judged)
    hints = (hands, _foot_height(judged), _foot_stretcher(judged))
    return tuple(hint for hint in hints if hint is not None)


def _judge_all(strokes: Strokes, standard: Standard) -> dict[str, Judgement]:
    """Judge every measure that applies here, by name."""
    limits = standard.at(strokes.stage, strokes.setting).values()
    rate = strokes.measures.get("rate_spm")
    told = rate is not None and bool(np.any(np.isfinite(rate.values)))
    rate_spm = float(np.nanmedian(rate.values)) if rate is not None and told else float("nan")
    return {
        limit.measure: judge(limit, strokes.measures.get(limit.measure), rate_spm)
        for limit in limits
        if limit.applies(strokes.stage, strokes.setting)
    }


def _clear(judged: Mapping[str, Judgement], measure: str) -> Side | None:
    """Return the side on which a measure is clearly past its limit."""
    found = judged.get(measure)
    return found.side if found is not None and found.level == "work on" else None


def _hands(judged: Mapping[str, Judgement]) -> tuple[Side, Sure] | None:
    """Return whether the hands end too high or too low at the release, and how sure that is."""
    height = _clear(judged, "hand_height_share")
    forearm = _clear(judged, "forearm_release_deg")
    if height is not None and height == forearm:
        return height, "fairly sure"
    if height is not None and forearm is not None:
        return None  # The two contradict each other.
    side = height or forearm
    return None if side is None else (side, "worth a look")


def _facts(judged: Mapping[str, Judgement]) -> str:
    """Write what the two witnesses of the hands show."""
    parts = []
    for measure, unit, text in (
        ("hand_height_share", "share", "hands at {} of the way from hip to shoulder"),
        ("forearm_release_deg", "deg", "forearm sloping {}, 0° being level"),
    ):
        found = judged.get(measure)
        if found is not None and np.isfinite(found.value):
            parts.append(text.format(number(found.value, unit)))
    return "; ".join(parts)


def _handle_height(judged: Mapping[str, Judgement]) -> Hint | None:
    hands = _hands(judged)
    if hands is None:
        return None
    side, sure = hands
    where = "high on the chest" if side == "over" else "low, towards the lap"
    return Hint(
        key="handle_height",
        text=f"The handle is drawn to a place {where} ({_facts(judged)}).",
        sure=sure,
        step="Draw it to just below the chest with level forearms for ten strokes and film again.",
    )


def _oarlock(judged: Mapping[str, Judgement]) -> Hint | None:
    hands = _hands(judged)
    if hands is None:
        return None
    side, sure = hands
    word, change = ("high", "down") if side == "over" else ("low", "up")
    return Hint(
        key="oarlock_height",
        text=f"The oarlock may be too {word}: at the release the hands are {word} "
        f"({_facts(judged)}).",
        sure=sure,
        step=f"With the boat level and the blade covered, move the oarlock {change} by one spacer, "
        f"row ten strokes and film again.",
    )


def _foot_height(judged: Mapping[str, Judgement]) -> Hint | None:
    shin = _clear(judged, "shin_catch_deg")
    if shin is None:
        return None
    value = number(judged["shin_catch_deg"].value, "deg")
    if shin == "over":
        return Hint(
            key="foot_height",
            text=f"The feet may be too low: the knees travel past the ankles (shin {value}), which "
            f"low feet make easy.",
            sure="worth a look",
            step="Raise the feet by one hole, row ten strokes and look at the shins again.",
        )
    stiff = (
        _clear(judged, "rounding_catch_deg") == "over"
        or _clear(judged, "catch_trunk_deg") == "under"
    )
    why = ", and the hips do not come over either" if stiff else ""
    return Hint(
        key="foot_height",
        text=f"The feet may be too high: the slide stops short (shin {value}){why}.",
        sure="fairly sure" if stiff else "worth a look",
        step="Lower the feet by one hole, row ten strokes and look at the shins again.",
    )


def _foot_stretcher(judged: Mapping[str, Judgement]) -> Hint | None:
    side = _clear(judged, "hand_gap_share")
    if side is None:
        return None
    value = number(judged["hand_gap_share"].value, "share")
    if side == "over":
        text = f"At the release the hands stop short of the body (gap of {value} forearm lengths)."
        step = "Move the foot-stretcher one notch towards the stern and film ten strokes again."
    else:
        text = f"At the release the hands end up beside the body (gap {value} forearm lengths)."
        step = "Move the foot-stretcher one notch towards the bow and film ten strokes again."
    # One witness only: an athlete who stops the pull early shows the same gap.
    return Hint(key="foot_stretcher", text=text, sure="worth a look", step=step)


@dataclass(frozen=True)
class Build:
    """What is known of an athlete's build.

    ``legs_per_trunk`` is (thigh + shank) ÷ trunk as seen in the clip; `stature_m` is NaN when
    nobody gave it.
    """

    legs_per_trunk: float
    stature_m: float = float("nan")


def build_of(segments_px: Mapping[str, float], stature_m: float = float("nan")) -> Build:
    """Return the build from segment lengths in px, as in ``Motion.segments_px``."""
    legs = segments_px["thigh"] + segments_px["shank"]
    return Build(legs / segments_px["trunk"], stature_m)


def shared_boat(
    hints: Mapping[str, tuple[Hint, ...]], builds: Mapping[str, Build]
) -> dict[str, tuple[Hint, ...]]:
    """Name the athletes' build as the reason where several share a boat.

    Parameters
    ----------
    hints : mapping of athlete to hints
        Of the athletes who row the same boat in the same seat.
    builds : mapping of athlete to Build

    Returns
    -------
    mapping of athlete to hints
        Boat hints name the other athlete whose build differs most, or say that the builds are
        alike. Hints on the feet and on machines stay as they are.
    """
    out = {}
    for athlete, own in hints.items():
        reason = _build_reason(athlete, builds)
        out[athlete] = tuple(
            replace(hint, text=f"{hint.text} {reason}")
            if reason and hint.key in ("oarlock_height", "foot_stretcher")
            else hint
            for hint in own
        )
    return out


def _build_reason(athlete: str, builds: Mapping[str, Build]) -> str:
    """Say how the athlete's build differs from that of the others in the boat."""
    others = {name: build for name, build in builds.items() if name != athlete}
    if athlete not in builds or not others:
        return ""
    own = builds[athlete]
    found: list[tuple[float, str]] = []
    for name, other in others.items():
        tall = own.stature_m / other.stature_m - 1
        legs = own.legs_per_trunk / other.legs_per_trunk - 1
        if abs(tall) >= BUILD_DIFFERENCE:
            word = "taller" if tall > 0 else "shorter"
            found.append((abs(tall), f"is {abs(tall):.0%} {word} than {name}"))
        if abs(legs) >= BUILD_DIFFERENCE:
            word = "longer" if legs > 0 else "shorter"
            found.append(
                (abs(legs), f"has legs {abs(legs):.0%} {word} for the upper body than {name}")
            )
    if not found:
        return f"The builds of {', '.join(sorted(builds))} are alike: look at the way of sitting."
    return (
        f"A likely reason is the build: {athlete} {max(found)[1]}, who shares the boat. Note both "
        f"settings and change them with the athlete."
    )
