"""Causes before symptoms: which finding likely follows from which, and what to fix first.

The links and the order are common coaching practice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from analysis.coaching.findings import Finding, Side
from analysis.coaching.standard import Standard

#: (check, side) likely follows from (check, side): ``None`` stands for either side. The first
#: link whose cause is at ``work on`` is taken, so the deeper cause stands first.
LINKS: tuple[tuple[str, Side | None, str, Side | None], ...] = (
    # A body that is not over early has to come over at the end of the slide.
    ("lunge", None, "body_over", None),
    # Falling forward at the end carries the lean and the knees too far.
    ("reach", "over", "lunge", None),
    ("compression", "over", "lunge", None),
    # Arms that have done their pull before the legs and back leave no room to lean back.
    ("layback", "under", "arms_early", None),
    # Who waits for hands and body has to hurry the slide.
    ("rush", None, "body_over", None),
    ("rush", None, "arms_away", None),
    # Knees that rise before hands and body are past them force the hands up and over.
    ("handle_loop", None, "arms_away", None),
    ("handle_loop", None, "body_over", None),
    # Hands that went up have to come down again.
    ("handle_dip", None, "handle_loop", None),
    # Falling over the toes at the front: hands drop and have to wait there.
    ("handle_dip", None, "lunge", None),
    ("dwell", None, "lunge", None),
)


def link_causes(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with ``because_of`` set where their likely cause is at ``work on``."""
    findings = tuple(findings)
    faults = {(f.check, f.side) for f in findings if f.level == "work on"}
    return tuple(_link(finding, faults) for finding in findings)


def _link(finding: Finding, faults: set[tuple[str, Side | None]]) -> Finding:
    if finding.level not in ("work on", "watch"):
        return finding
    for check, side, cause, cause_side in LINKS:
        if finding.check != check or side not in (None, finding.side):
            continue
        if any(name == cause and cause_side in (None, its) for name, its in faults):
            return replace(finding, because_of=cause)
    return finding


def first_check(
    findings: Iterable[Finding], standard: Standard, past_steps: dict[str, float]
) -> str | None:
    """Return the check to fix first, or ``None`` when nothing is at ``work on``.

    A finding that follows from another never comes before it, whatever the order says; then the
    standard's order of groups decides, then how many steps past its limit (`past_steps`, by
    measure) the fault is.
    """
    faults = [f for f in findings if f.level == "work on"]
    causes = [f for f in faults if f.because_of is None] or faults
    if not causes:
        return None
    return min(
        causes, key=lambda f: (standard.rank(f.check), -past_steps.get(f.measure, 0.0))
    ).check
