"""Claims: that a figure keeps to its limit. A rule states one; all numbers of its result come from it.

In: what was found, its limit, the sense, the uncertain terms used. Out: the margin with its formula, evidence, the
measure that baselines compare, and the pair of numbers for the sentence. `verdict.decide` asks a rule for its claim in
one setting after the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Literal, NamedTuple

from isolint.results import Evidence, Limit, Margin, Measure
from isolint.units import show_beside, show_number
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import Quantity
from isolint.worstcase.uncertain import Setting, Term, unique

Sense = Literal["at_least", "at_most"]
_TIE = 1e-9
_FLOOR = 1e-12


class Claim(NamedTuple):
    """What holds if `margin` is `required` or more: `found` against `limit`, in one setting.

    terms: the uncertain numbers used. decided: whether it holds, where more than the margin decides. shown: the margin
    that a result shows, None where the division says nothing.
    """

    found: Figure
    limit: Figure
    sense: Sense
    margin: Figure
    required: float
    terms: tuple[Term, ...]
    decided: bool | None = None
    shown: Margin | None = None

    @property
    def holds(self) -> bool:
        """Whether it holds; a value at the limit itself is just enough, rounding must not decide."""
        if self.decided is not None:
            return self.decided
        return self.margin.si >= self.required - _TIE * abs(self.required)

    def shown_above(self, least: float) -> Claim:
        """The claim, without a margin to show where no more than `least` was found."""
        return self if self.found.si > least else self._replace(shown=None)

    @property
    def measure(self) -> Measure:
        """The number that grows worse with harm: the margin, also where it is not shown."""
        return Measure((self.margin.si if self.shown is None else self.shown.value), larger_is_worse=False)

    @property
    def bound(self) -> Limit:
        """The limit of what was found."""
        return Limit(self.sense, self.limit.si)

    @property
    def wanted(self) -> Limit:
        """The limit of the margin."""
        return Limit("at_least", self.required)

    @property
    def beside(self) -> tuple[str, str]:
        """What was found and its limit for a sentence, with as many digits as tell them apart."""
        return show_beside(self.found.si, self.limit.si, self.found.unit)

    @property
    def words(self) -> str:
        """The margin and what is wanted of it for a sentence: `headroom 1.12, wanted 1.30`."""
        return f"{self.margin.name} {ratio(self.margin.si, self.required)}, wanted {self.required:.2f}"

    def evidence(self, whole: Evidence | None = None, *, bounded: bool = False) -> tuple[Evidence, Evidence, Evidence]:
        """What was found with its limit, where the limit is from, and the margin with its formula.

        whole: both ends of what was found, in place of the end that decides. bounded: whether the margin shows what is
        required of it.
        """
        return (
            self.found.evidence(self.bound) if whole is None else whole._replace(limit=self.bound),
            self.limit.evidence(),
            self.margin.evidence(self.wanted if bounded else None, line=self.margin.name),
        )


ClaimOf = Callable[[Setting], Claim]
"""A rule's claim in a setting: at its worst there, of what the limit cares about."""


def at_most(
    found: Figure,
    limit: Figure,
    terms: Iterable[Term] = (),
    required: float = 1.0,
    *,
    least: float = _FLOOR,
    name: str = "margin",
    decided: bool | None = None,
) -> Claim:
    """That a figure does not exceed its limit: the margin is limit / figure, a figure below `least` counts as that."""
    return _claim(found, limit, "at_most", limit / found.no_less_than(least), terms, required, name, decided)


def at_least(
    found: Figure,
    limit: Figure,
    terms: Iterable[Term] = (),
    required: float = 1.0,
    *,
    least: float = _FLOOR,
    name: str = "margin",
    decided: bool | None = None,
) -> Claim:
    """That a figure reaches its limit: the margin is figure / limit, a limit below `least` counts as that."""
    return _claim(found, limit, "at_least", found / limit.no_less_than(least), terms, required, name, decided)


def _claim(
    found: Figure,
    limit: Figure,
    sense: Sense,
    quotient: Figure,
    terms: Iterable[Term],
    required: float,
    name: str,
    decided: bool | None,
) -> Claim:
    margin = quotient.called("", "1", name, end="min")
    return Claim(found, limit, sense, margin, required, tuple(terms), decided, Margin(margin.si, required))


def bare(margin: Figure, terms: Iterable[Term] = (), required: float = 1.0) -> Claim:
    """A claim on a margin that was not found by one division."""
    return Claim(
        margin, Figure("", required), "at_least", margin, required, tuple(terms), None, Margin(margin.si, required)
    )


def tightest(claims: Sequence[Claim]) -> Claim:
    """The claim of several that has least margin; it rests on the terms of all. Without any, one that holds."""
    least = min(claims, key=lambda claim: claim.margin.si, default=bare(Figure("margin", math.inf)))
    return least._replace(terms=unique(term for claim in claims for term in claim.terms))


def ratio(value: float, wanted: float | None = None) -> str:
    """A ratio in a message: two decimals, or as many more as tell it from what is wanted; large ones three digits."""
    if value >= 100.0:
        return show_number(value, 3)
    shown = (f"{value:.{digits}f}" for digits in (2, 3, 4, 5))
    return next((text for text in shown if wanted is None or float(text) != wanted), f"{value:.2f}")


def both_ends(name: str, symbol: str, unit: str, found: Quantity, limit: Limit | None = None) -> Evidence:
    """A computed quantity with both ends and their corners."""
    corners = {"min": found.low.corner, "max": found.high.corner}
    return Evidence(name, symbol, unit, found.nominal, found.low.value, found.high.value, limit, corners)
