"""A number against its limit: pass at worst, fail at the kindest, open between with what settles it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.checking.claims import Claim, Sense, ratio
from isolint.checking.verdict import Verdict, decide
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated


def judge(measure: Callable[[Setting], tuple[float, Sequence[Term]]], sense: Sense, limit: float) -> Verdict:
    """Compare a value without a formula against a limit, in the sense given."""

    def claim(setting: Setting) -> Claim:
        value, terms = measure(setting)
        room = 1e-9 * abs(limit)
        holds = value >= limit - room if sense == "at_least" else value <= limit + room
        found = Figure("", value)
        return Claim(found, Figure("", limit), sense, found, limit, tuple(terms), holds)

    return decide(claim)


def term(key: str, low: float, high: float, kindest: float) -> Term:
    """A defaulted term between two values."""
    return Term(key, key, "V", low, kindest, high, kindest, kindest, False, "default", f"{key} = ...")


SUPPLY = term("supply", 4.5, 5.5, 5.0)
DROP = term("drop", 1.0, 2.0, 1.0)
KNOWN = stated("known", "known", "V", 0.9, 1.0, 1.1, "stated")


def left(setting: Setting) -> tuple[float, Sequence[Term]]:
    """Smallest supply less the largest drop."""
    return setting.low(SUPPLY) - setting.high(DROP) - setting.high(KNOWN), (SUPPLY, DROP, KNOWN)


def test_what_holds_at_the_worst_end_of_everything_passes() -> None:
    verdict = judge(left, "at_least", 1.4)
    assert verdict.kind == "pass"
    assert verdict.worst.found.si == pytest.approx(1.4)
    assert [assumption.name for assumption in verdict.assumptions] == ["supply", "drop"]


def test_what_misses_even_at_the_kindest_end_of_the_defaults_fails() -> None:
    verdict = judge(left, "at_least", 2.95)
    assert verdict.kind == "fail"
    assert verdict.kindest.found.si == pytest.approx(2.9)


def test_the_stated_interval_stays_at_its_worst_at_the_kindest_end() -> None:
    # With the stated term at its kindest (0.9) the value would be 3.1 and the verdict open.
    assert judge(left, "at_least", 3.05).kind == "fail"


def test_between_it_is_open_and_names_the_terms_that_alone_settle_it() -> None:
    verdict = judge(left, "at_least", 1.8)
    assert verdict.kind == "open"
    assert [found.key for found in verdict.settling.terms] == ["supply", "drop"]
    assert not verdict.settling.together
    assert dict(verdict.settling.flips) == pytest.approx({"supply": 4.9, "drop": 1.6}, abs=1e-4)
    assert {item.name: item.flips_at for item in verdict.assumptions} == verdict.settling.flips


def test_a_term_that_cannot_settle_it_alone_is_not_asked_for() -> None:
    verdict = judge(left, "at_least", 2.2)
    assert [found.key for found in verdict.settling.terms] == ["drop"]


def test_where_no_term_alone_settles_it_the_fewest_that_do_together_are_asked_for() -> None:
    idle = term("idle", 0.0, 1.0, 0.5)

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        return left(setting)[0], (idle, SUPPLY, DROP)

    verdict = judge(measure, "at_least", 2.7)
    assert verdict.kind == "open"
    assert verdict.settling.together
    assert [found.key for found in verdict.settling.terms] == ["supply", "drop"]
    assert verdict.settling.flips == {}


def test_the_flip_is_of_the_end_that_decides() -> None:
    def largest(setting: Setting) -> tuple[float, Sequence[Term]]:
        return setting.high(SUPPLY), (SUPPLY,)

    verdict = judge(largest, "at_most", 5.2)
    assert dict(verdict.settling.flips) == pytest.approx({"supply": 5.2}, abs=1e-4)


def test_a_term_that_flips_only_at_its_very_end_is_no_fact_to_ask_for_beside_others() -> None:
    life = term("life", 10.0, 10.0, 0.0)

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        new = setting.high(life) <= 0.0
        return 9.0 if new else 5.0 - setting.high(DROP), (life, DROP)

    verdict = judge(measure, "at_least", 3.5)
    assert [found.key for found in verdict.settling.terms] == ["drop"]
    only = judge(lambda setting: (9.0 if setting.high(life) <= 0.0 else 0.0, (life,)), "at_least", 3.5)
    assert [found.key for found in only.settling.terms] == ["life"]


def test_a_value_at_the_limit_is_just_enough_whatever_rounding_does() -> None:
    assert judge(lambda _: (1.2 * (1.0 - 1e-12), ()), "at_least", 1.2).kind == "pass"
    assert judge(lambda _: (1.2 * (1.0 + 1e-12), ()), "at_most", 1.2).kind == "pass"
    assert judge(lambda _: (1.2 * (1.0 - 1e-6), ()), "at_least", 1.2).kind == "fail"


def test_what_lacks_a_fact_at_worst_is_lacking_and_what_lacks_one_only_elsewhere_is_open() -> None:
    def never(_: Setting) -> tuple[float, Sequence[Term]]:
        raise Lacking("outside the curve")

    with pytest.raises(Lacking):
        judge(never, "at_least", 1.0)

    def at_worst_only(setting: Setting) -> tuple[float, Sequence[Term]]:
        if setting.rest or setting.relaxed:
            raise Lacking("outside the curve")
        return 0.5, (SUPPLY,)

    assert judge(at_worst_only, "at_least", 1.0).kind == "open"


@given(st.floats(-3, 6), st.floats(0, 3), st.floats(0, 3))
def test_a_stricter_limit_never_turns_a_fail_into_a_pass(limit: float, wider: float, more: float) -> None:
    supply = term("supply", 5.0 - wider, 5.0, 5.0)

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        return setting.low(supply), (supply,)

    order = ("fail", "open", "pass")
    assert order.index(judge(measure, "at_least", limit + more).kind) <= order.index(
        judge(measure, "at_least", limit).kind
    )


@given(st.floats(0.1, 4.9))
def test_just_inside_the_flip_it_passes_and_just_outside_it_does_not(limit: float) -> None:
    supply = term("supply", 0.0, 10.0, 5.0)

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        return setting.low(supply), (supply,)

    flips = judge(measure, "at_least", limit).settling.flips
    flip = flips["supply"]

    def at(value: float) -> str:
        known = stated("supply", "supply", "V", value, 5.0, 10.0, "stated")
        return judge(lambda setting: (setting.low(known), (known,)), "at_least", limit).kind

    assert at(flip + 2e-4) == "pass"
    assert at(flip - 2e-4) == "fail"


def test_a_margin_just_below_what_is_wanted_is_told_from_it() -> None:
    assert [ratio(value, 1.2) for value in (1.1981, 1.25, 1.2, 132.71)] == ["1.198", "1.25", "1.20", "133"]
