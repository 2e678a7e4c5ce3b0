"""A number against its limit: pass, fail, or open with the facts that would settle it.

A pass holds with every defaulted term at its worst, a fail even with all of them at their kindest. Between, the facts that
would settle it are found one by one, each with the value at which the verdict flips.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from isolint.results import Assumption
from isolint.worstcase.terms import KINDEST, WORST, Setting, Term, assumption, unique

Measure = Callable[[Setting], tuple[float, Sequence[Term]]]
"""The worst value of a quantity in a setting (the end that the limit cares about) and the terms that it used."""

_STEPS = 16


@dataclass(frozen=True, slots=True)
class Verdict:
    """kind with the value at worst and at the kindest; `settled_by` are defaulted terms that alone would turn it to a pass."""

    kind: Literal["pass", "fail", "open"]
    worst: float
    kindest: float
    assumptions: tuple[Assumption, ...]
    settled_by: tuple[Term, ...]


def judge(measure: Measure, sense: Literal["at_least", "at_most"], limit: float) -> Verdict:
    """Compare the value that `measure` gives against `limit` in the sense given."""

    def holds(value: float) -> bool:
        return value >= limit if sense == "at_least" else value <= limit

    worst, used = measure(WORST)
    terms = unique(used)
    defaulted = [term for term in terms if term.defaulted]
    below_record = [term for term in terms if not term.stated]
    if holds(worst):
        return Verdict("pass", worst, worst, tuple(map(assumption, below_record)), ())
    kindest = measure(KINDEST)[0] if defaulted else worst
    if not holds(kindest):
        return Verdict("fail", worst, kindest, tuple(map(assumption, below_record)), ())
    flips: dict[str, float | None] = {}
    for term in defaulted:
        if holds(measure(Setting({term.key: 1.0}))[0]):
            flips[term.key] = _flip(term, measure, holds)
    settled_by = [term for term in defaulted if term.key in flips] or defaulted
    return Verdict("open", worst, kindest, tuple(assumption(term, flips.get(term.key)) for term in below_record), tuple(settled_by))


def _flip(term: Term, measure: Measure, holds: Callable[[float], bool]) -> float | None:
    """The value of a term at which the verdict turns, all other defaulted terms at their worst."""
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if holds(measure(Setting({term.key: middle}))[0]):
            high = middle
        else:
            low = middle
    bottom, top = Setting({term.key: high}).range(term)
    moved_low, moved_high = abs(term.kind_low - term.low), abs(term.kind_high - term.high)
    return bottom if moved_low >= moved_high else top
