"""Whether the athlete is ready for the next step of the build-up, and what is still missing."""

from __future__ import annotations

from analysis.coaching.findings import Finding, Readiness
from analysis.coaching.words import CHECK_WORDS, STAGE_WORDS
from analysis.stroke.strokes import STAGES, Stage

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
    work_on = _checks(findings, "work on")
    rowing = [f"{CHECK_WORDS.get(check, check)}: still to work on" for check in work_on]
    watch = [check for check in _checks(findings, "watch") if check not in work_on]
    if len(watch) > MOST_WATCH:
        names = ", ".join(CHECK_WORDS.get(check, check) for check in watch)
        rowing.append(f"at most one thing to watch (now {len(watch)}: {names})")
    longer, clearer = [], []
    if strokes < LEAST_STROKES:
        had = f"{strokes} whole stroke{'' if strokes == 1 else 's'}"
        longer = [f"a clip with at least {LEAST_STROKES} whole strokes (this one has {had})"]
    if POSTURE in _checks(findings, "cannot tell"):
        clearer = ["a clip that shows the shape of the back"]
    missing = (*longer, *rowing, *clearer)
    return Readiness(
        stage,
        STAGES[at + 1],
        ready=not missing,
        missing=missing,
        only_the_clip=bool(missing) and not rowing,
    )


def readiness_text(answer: Readiness) -> str:
    """Say the answer in one plain sentence."""
    if answer.ready is None or answer.next_stage is None:
        return f"{STAGE_WORDS[answer.stage].capitalize()} is the last step of the build-up."
    following = STAGE_WORDS[answer.next_stage]
    if answer.ready:
        return f"Ready for {following}."
    if answer.only_the_clip:
        needed = " and ".join(answer.missing)
        return f"Whether ready for {following} cannot be told yet. It takes {needed}."
    return f"Not ready for {following} yet. Still missing: {'; '.join(answer.missing)}."


def _checks(findings: tuple[Finding, ...], level: str) -> list[str]:
    """Return the checks of which some measure is at `level`, in order, each once."""
    return list(dict.fromkeys(f.check for f in findings if f.level == level))
