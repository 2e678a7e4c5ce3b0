"""Uncertain numbers and how far each is taken towards its kindest end."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.results import MissingFact
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term, assumption, stated, unique

DEFAULT = Term('elements."R1".tolerance', "tolerance of R1", "1", -0.05, 0.0, 0.05, 0.0, 0.0, False, "default", "line")
KNOWN = stated('supplies."V5".voltage', "supply V5", "V", 4.75, 5.0, 5.25, "isolint.toml")


def test_a_default_is_an_interval_at_worst_and_its_kindest_end_at_the_kindest() -> None:
    assert WORST.range(DEFAULT) == (-0.05, 0.05)
    assert KINDEST.range(DEFAULT) == (0.0, 0.0)
    assert Setting({DEFAULT.key: 0.5}).range(DEFAULT) == (-0.025, 0.025)
    assert Setting({"another": 1.0}).range(DEFAULT) == (-0.05, 0.05)


def test_a_stated_term_stays_at_worst_whatever_the_setting() -> None:
    for setting in (WORST, KINDEST, Setting({KNOWN.key: 1.0})):
        assert setting.range(KNOWN) == (4.75, 5.25)
        assert (setting.low(KNOWN), setting.high(KNOWN)) == (4.75, 5.25)


def test_the_two_ends_of_a_default_may_be_taken_apart() -> None:
    assert Setting({DEFAULT.key: (1.0, 0.0)}).range(DEFAULT) == (0.0, 0.05)


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_kinder_setting_never_widens(a: float, b: float) -> None:
    less, more = sorted((a, b))
    wide, narrow = Setting(rest=less).range(DEFAULT), Setting(rest=more).range(DEFAULT)
    assert wide[0] <= narrow[0] <= 0.0 <= narrow[1] <= wide[1]


def test_only_what_could_change_a_verdict_counts_as_defaulted() -> None:
    assert DEFAULT.defaulted
    assert not KNOWN.defaulted
    point = Term("a", "a", "1", 1.0, 1.0, 1.0, 1.0, 1.0, False, "generic")
    assert point.is_point
    assert not point.defaulted


def test_settings_can_be_keys() -> None:
    assert {Setting({"a": 0.5}): 1}[Setting({"a": 0.5})] == 1
    assert Setting({"a": 0.5}) != Setting({"a": 0.25})


def test_terms_stand_once_in_the_order_of_first_use() -> None:
    assert unique([KNOWN, DEFAULT, KNOWN]) == (KNOWN, DEFAULT)


@pytest.mark.parametrize(
    ("term", "value"),
    [
        (DEFAULT, "-0.05 to 0.05"),
        (KNOWN, "4.75 V to 5.25 V"),
        (Term("environment.life", "life", "h", 8766.0, 8766.0, 8766.0, 0.0, 0.0, False, "default"), "8766 h"),
    ],
)
def test_an_assumption_shows_its_interval(term: Term, value: str) -> None:
    found = assumption(term, 0.01)
    assert (found.name, found.value, found.flips_at) == (term.name, value, 0.01)


def test_what_lacks_carries_the_facts_that_would_settle_it() -> None:
    fact = MissingFact("isolint.toml", 'supplies."V5".voltage', '[supplies."V5"]')
    reason = Lacking("the voltage of supply V5 is not known", [fact], "drive")
    assert (reason.reason, reason.missing, reason.blocked_by) == (str(reason), (fact,), "drive")
