"""Claims: margin, evidence, measure and the sentence's numbers from one comparison."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.checking.claims import Claim, at_least, at_most, tightest
from isolint.checking.verdict import decide
from isolint.results import Limit, Margin, Measure
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term
from tests.arithmetic import evaluate, read

TYPICAL = Term("limit", "limit", "A", 0.02, 0.05, 0.05, 0.05, 0.05, False, "default", 'limit = "50 mA"')


def current(amps: float) -> Figure:
    """A current that was found."""
    return Figure("IF", amps, "A", "LED current")


def limit(amps: float) -> Figure:
    """The current that it is held against."""
    return Figure("IF_max", amps, "A", "LED current limit", source="record DEMO")


POSITIVE = st.floats(1e-6, 1e3)


@given(POSITIVE, POSITIVE)
def test_the_margin_is_above_1_just_where_the_comparison_holds(found: float, held: float) -> None:
    most, least = at_most(current(found), limit(held)), at_least(current(found), limit(held))
    assert most.holds == (found <= held * (1 + 1e-9)) or found == pytest.approx(held, rel=1e-8)
    assert least.holds == (found >= held * (1 - 1e-9)) or found == pytest.approx(held, rel=1e-8)
    assert most.margin.si * least.margin.si == pytest.approx(1.0)


@given(POSITIVE, POSITIVE)
def test_the_margin_in_the_evidence_is_that_of_the_result_and_can_be_redone(found: float, held: float) -> None:
    claim = at_most(current(found), limit(held))
    _, _, shown = claim.evidence()
    assert claim.shown == Margin(claim.margin.si, 1.0)
    assert shown.min == claim.margin.si
    assert evaluate(read(shown.formula).numbers) == pytest.approx(claim.margin.si, rel=1e-4)


def test_evidence_is_what_was_found_with_its_limit_where_that_is_from_and_the_division() -> None:
    found, held, margin = at_most(current(0.04), limit(0.02), required=1.3, name="headroom").evidence(bounded=True)
    assert (found.symbol, found.max, found.limit) == ("IF", 0.04, Limit("at_most", 0.02))
    assert (held.symbol, held.max, held.source) == ("IF_max", 0.02, "record DEMO")
    assert (margin.name, margin.symbol, margin.limit) == ("headroom", "IF_max / IF", Limit("at_least", 1.3))
    assert margin.formula == "headroom = IF_max / IF = 0.02 / 0.04 = 0.5"


def test_a_margin_at_what_is_required_is_just_enough_and_below_it_is_not() -> None:
    assert at_most(current(1.0), limit(1.3 * (1 - 1e-12)), required=1.3).holds
    assert not at_most(current(1.0), limit(1.3 * (1 - 1e-6)), required=1.3).holds


def test_what_is_next_to_nothing_counts_as_the_least_that_is_said() -> None:
    claim = at_most(current(0.0), limit(1.0), least=1e-3)
    assert claim.margin.si == pytest.approx(1e3)
    assert claim.margin.numbers() == "1 / 0.001"
    assert claim.evidence()[0].max == 0.0


def test_the_measure_of_a_margin_gets_worse_as_it_gets_smaller() -> None:
    assert at_most(current(2.0), limit(1.0)).measure == Measure(0.5, larger_is_worse=False)


def test_numbers_for_a_sentence_are_told_apart() -> None:
    assert at_most(current(4.9972e-3), limit(5e-3)).beside == ("4.997 mA", "5 mA")


def test_the_tightest_claim_rests_on_the_terms_of_all() -> None:
    other = TYPICAL._replace(key="other")
    worst = tightest([at_most(current(1.0), limit(2.0), [TYPICAL]), at_most(current(3.0), limit(2.0), [other])])
    assert worst.found.si == 3.0
    assert [term.key for term in worst.terms] == ["limit", "other"]
    assert tightest([]).holds
    assert math.isinf(tightest([]).margin.si)


def test_the_verdict_asks_for_the_claim_at_worst_and_at_the_kindest() -> None:
    def claim(setting: Setting) -> Claim:
        return at_most(current(0.03), limit(setting.low(TYPICAL)), [TYPICAL])

    verdict = decide(claim)
    assert verdict.kind == "open"
    assert (verdict.worst.limit.si, verdict.kindest.limit.si) == (0.02, 0.05)
    assert verdict.settling.flips == pytest.approx({"limit": 0.03}, rel=1e-3)
