"""A claim at worst and at the kindest: pass, fail, or open with the facts that would settle it.

A pass holds with every defaulted term at its worst, a fail even with all of them at their kindest. Between, the facts
that would settle it are found one by one, each with the value at which the verdict flips; where no one alone does,
the fewest that together do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType
from typing import Literal, NamedTuple

from isolint.checking.claims import Claim, ClaimOf
from isolint.results import Assumption
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term, assumption, unique

_STEPS = 16


class Settling(NamedTuple):
    """What would settle an open verdict.

    terms: the defaulted terms that alone would turn it to a pass, or (`together`) the fewest that do so together.
    flips: the value at which it turns, by key, where one term alone turns it.
    """

    terms: tuple[Term, ...] = ()
    flips: Mapping[str, float] = MappingProxyType({})
    together: bool = False


class Verdict:
    """kind with the claim at worst and at the kindest. What would settle it is looked for when it is asked for."""

    def __init__(self, kind: Literal["pass", "fail", "open"], worst: Claim, kindest: Claim, claim: ClaimOf) -> None:
        self.kind = kind
        self.worst = worst
        self.kindest = kindest
        self._claim = claim

    @cached_property
    def settling(self) -> Settling:
        """What would settle it, nothing where it is not open."""
        return _settling(self._claim, self.worst) if self.kind == "open" else Settling()

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """What nobody stated, each with the value at which an open verdict turns."""
        flips = self.settling.flips
        return tuple(assumption(term, flips.get(term.key)) for term in unique(self.worst.terms) if not term.stated)


def decide(claim: ClaimOf) -> Verdict:
    """Whether a claim holds, asked for in one setting after the other; `Lacking` passes through from the worst."""
    worst = claim(WORST)
    if worst.holds:
        return Verdict("pass", worst, worst, claim)
    kindest = _kindest(claim) if any(term.defaulted for term in unique(worst.terms)) else worst
    if kindest is not None and not kindest.holds:
        return Verdict("fail", worst, kindest, claim)
    return Verdict("open", worst, worst if kindest is None else kindest, claim)


def _settling(claim: ClaimOf, worst: Claim) -> Settling:
    """The terms that turn an open verdict, found one by one."""

    def holds_with(relaxed: Mapping[str, float | tuple[float, float]]) -> bool:
        try:
            return claim(Setting(relaxed)).holds
        except Lacking:
            return False

    defaulted = [term for term in unique(worst.terms) if term.defaulted]
    flips = {term.key: _flip(term, holds_with) for term in defaulted if holds_with({term.key: 1.0})}
    # What turns the verdict only at its kindest end (no life at all) is worth stating only where nothing else would.
    if any(not _is_last_resort(term, flips) for term in defaulted):
        flips = {
            term.key: flips[term.key] for term in defaulted if term.key in flips and not _is_last_resort(term, flips)
        }
    alone = tuple(term for term in defaulted if term.key in flips)
    return Settling(alone, flips) if alone else Settling(_fewest(defaulted, holds_with), together=True)


def _is_last_resort(term: Term, flips: Mapping[str, float]) -> bool:
    """Whether a term does not turn the verdict, or only at its very end."""
    if term.key not in flips:
        return True
    reach = max(abs(term.kind_low - term.low), abs(term.kind_high - term.high))
    left = min(abs(flips[term.key] - term.kind_low), abs(flips[term.key] - term.kind_high))
    return left <= 1e-4 * reach


def _kindest(claim: ClaimOf) -> Claim | None:
    """The claim with everything at its kindest, None where it can't be computed there."""
    try:
        return claim(KINDEST)
    except Lacking:
        return None


def _fewest(defaulted: Sequence[Term], holds_with: Callable[..., bool]) -> tuple[Term, ...]:
    """Terms none of which can be left out: together at their kindest they turn the verdict."""
    needed = {term.key: 1.0 for term in defaulted}
    for term in defaulted:
        fewer = {key: share for key, share in needed.items() if key != term.key}
        if holds_with(fewer):
            needed = fewer
    return tuple(term for term in defaulted if term.key in needed)


def _flip(term: Term, holds_with: Callable[..., bool]) -> float:
    """The value of a term at which the verdict turns, all other defaulted terms at their worst.

    Of the end that decides.
    """
    decides_low = term.kind_low != term.low and holds_with({term.key: (1.0, 0.0)})
    decides_high = not decides_low and term.kind_high != term.high and holds_with({term.key: (0.0, 1.0)})

    def shares(share: float) -> tuple[float, float]:
        return (share, 0.0) if decides_low else (0.0, share) if decides_high else (share, share)

    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if holds_with({term.key: shares(middle)}):
            high = middle
        else:
            low = middle
    bottom, top = Setting({term.key: shares(high)}).range(term)
    if decides_low or decides_high:
        return bottom if decides_low else top
    return bottom if abs(term.kind_low - term.low) > abs(term.kind_high - term.high) else top
