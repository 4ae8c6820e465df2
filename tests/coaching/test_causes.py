from dataclasses import replace

import pytest

from analysis.coaching.causes import LINKS, first_check, link_causes
from analysis.coaching.findings import Finding
from analysis.coaching.standard import load_standard

STANDARD = load_standard()


def finding(check: str, level: str = "work on", side: str = "over", measure: str = "") -> Finding:
    return Finding(check, measure or check, level, 1.0, 0.1, 0.0, 0.5, "deg", side=side)


def linked(*findings: Finding) -> dict[str, str | None]:
    return {f.check: f.because_of for f in link_causes(findings)}


def first(*findings: Finding, **steps: float) -> str | None:
    return first_check(link_causes(findings), STANDARD, steps)


@pytest.mark.parametrize(
    ("consequence", "cause"),
    [
        (finding("lunge"), finding("body_over", side="under")),
        (finding("compression"), finding("lunge")),
        (finding("layback", side="under"), finding("arms_early", side="under")),
        (finding("rush", side="under"), finding("body_over", side="under")),
        (finding("handle_loop"), finding("arms_away", side="under")),
    ],
)
def test_a_consequence_names_its_cause_and_comes_after_it(consequence, cause):
    assert linked(consequence, cause)[consequence.check] == cause.check
    assert linked(consequence, cause)[cause.check] is None
    assert first(consequence, cause) == cause.check
    # Alone, or with the cause not at `work on`, it stands for itself.
    assert linked(consequence)[consequence.check] is None
    watched = replace(cause, level="watch")
    assert linked(consequence, watched)[consequence.check] is None
    assert first(consequence, watched) == consequence.check


def test_the_other_side_is_no_consequence():
    early = finding("arms_early", side="under")
    assert linked(finding("layback", side="over"), early)["layback"] is None
    assert linked(finding("compression", side="under"), finding("lunge"))["compression"] is None


def test_a_chain_leads_to_its_root():
    late, lunge, over = finding("body_over", side="under"), finding("lunge"), finding("compression")
    chain = linked(over, lunge, late)
    assert (chain["compression"], chain["lunge"], chain["body_over"]) == (
        "lunge",
        "body_over",
        None,
    )
    assert first(over, lunge, late) == "body_over"


def test_what_is_only_watched_may_name_a_cause_too():
    assert linked(finding("lunge", "watch"), finding("body_over", side="under"))["lunge"]


def test_steady_findings_name_no_cause():
    steady = finding("lunge", "steady", side=None)
    assert linked(steady, finding("body_over", side="under"))["lunge"] is None


def test_links_hold_no_circle_and_follow_the_shipped_order():
    causes = {}
    for check, _, cause, _ in LINKS:
        assert STANDARD.rank(cause) <= STANDARD.rank(check)
        causes.setdefault(check, set()).add(cause)
    for check in causes:
        seen, ahead = set(), {check}
        while ahead:
            ahead = set().union(*(causes.get(name, set()) for name in ahead)) - seen
            assert check not in ahead
            seen |= ahead


def test_nothing_at_work_on_is_nothing_first():
    assert first() is None
    assert first(finding("lunge", "watch"), finding("reach", "steady")) is None


def test_causes_come_before_symptoms():
    checks = [check for group in reversed(STANDARD.order) for check in group]
    for _ in range(len(checks)):
        found = [finding(check, side="under") for check in checks]
        assert STANDARD.rank(first(*found)) == min(STANDARD.rank(check) for check in checks)
        lead = first(*found)
        checks.remove(lead)


def test_within_a_group_the_further_past_its_limit_leads():
    legs, back = finding("legs_down", side="under"), finding("layback")
    assert first(legs, back, legs_down=1.0, layback=2.0) == "layback"
    assert first(legs, back, legs_down=3.0, layback=2.0) == "legs_down"


def test_a_consequence_never_leads_even_if_a_coach_orders_it_so():
    turned = replace(STANDARD, order=(("lunge",), ("body_over",)))
    found = link_causes([finding("lunge"), finding("body_over", side="under")])
    assert first_check(found, turned, {}) == "body_over"
