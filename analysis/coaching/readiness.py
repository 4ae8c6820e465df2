"""Whether the athlete is ready for the next step of the build-up, and what is still missing."""

from __future__ import annotations

from analysis.coaching.findings import Finding, Readiness
from analysis.coaching.words import CHECK_WORDS, STAGE_WORDS
from analysis.stroke.strokes import STAGES, Stage

#: How everything begins that another clip would bring, and not another stroke.
CLIP = "a clip "

LEAST_STROKES = 5
MOST_WATCH = 1
POSTURE = "rounding"


def readiness(findings: tuple[Finding, ...], stage: Stage, strokes: int) -> Readiness:
    """Answer "ready for the next step?".

    Ready means at least five whole strokes, nothing at ``work on``, at most one check at
    ``watch``, and a posture that could be told. A check counts once, by its worst measure.
    """
    at = STAGES.index(stage)
    if at == len(STAGES) - 1:
        return Readiness(stage, None, None)
    missing = []
    if strokes < LEAST_STROKES:
        had = f"{strokes} whole stroke{'' if strokes == 1 else 's'}"
        missing.append(f"{CLIP}with at least {LEAST_STROKES} whole strokes (this one has {had})")
    work_on = _checks(findings, "work on")
    missing += [f"{CHECK_WORDS.get(check, check)}: still to work on" for check in work_on]
    watch = [check for check in _checks(findings, "watch") if check not in work_on]
    if len(watch) > MOST_WATCH:
        names = ", ".join(CHECK_WORDS.get(check, check) for check in watch)
        missing.append(f"at most one thing to watch (now {len(watch)}: {names})")
    if POSTURE in _checks(findings, "cannot tell"):
        missing.append(f"{CLIP}that shows the shape of the back")
    return Readiness(stage, STAGES[at + 1], not missing, tuple(missing))


def only_the_clip(answer: Readiness) -> bool:
    """Tell whether nothing speaks against the next step but that the clip shows too little."""
    return bool(answer.missing) and all(text.startswith(CLIP) for text in answer.missing)


def readiness_text(answer: Readiness) -> str:
    """Say the answer in one plain sentence."""
    if answer.ready is None or answer.next_stage is None:
        return f"{STAGE_WORDS[answer.stage].capitalize()} is the last step of the build-up."
    following = STAGE_WORDS[answer.next_stage]
    if answer.ready:
        return f"Ready for {following}."
    if only_the_clip(answer):
        needed = " and ".join(answer.missing)
        return f"Whether ready for {following} cannot be told yet. It takes {needed}."
    return f"Not ready for {following} yet. Still missing: {'; '.join(answer.missing)}."


def _checks(findings: tuple[Finding, ...], level: str) -> list[str]:
    """Return the checks of which some measure is at `level`, in order, each once."""
    return list(dict.fromkeys(f.check for f in findings if f.level == level))
