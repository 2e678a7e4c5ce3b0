"""A claim at worst and at the kindest: pass, fail, or open with the facts that would settle it.

A pass holds with every defaulted term at its worst, a fail even with all of them at their kindest. Between, the facts
that would settle it are found one by one, each with the value at which the verdict flips; where no one alone does,
the fewest that together do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal, NamedTuple

from isolint.checking.claims import Claim, ClaimOf
from isolint.results import Assumption
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term, assumption, unique

_STEPS = 16


class Verdict(NamedTuple):
    """kind with the claim at worst and at the kindest.

    settled_by: of an open verdict the defaulted terms that alone would turn it to a pass, or (`together`) the fewest
    that do so together. flips: the value at which it turns, by key, where one term alone turns it.
    """

    kind: Literal["pass", "fail", "open"]
    worst: Claim
    kindest: Claim
    assumptions: tuple[Assumption, ...]
    settled_by: tuple[Term, ...] = ()
    flips: Mapping[str, float] | None = None
    together: bool = False


def decide(claim: ClaimOf) -> Verdict:
    """Whether a claim holds, asked for in one setting after the other; `Lacking` passes through from the worst."""

    def holds_with(relaxed: Mapping[str, float | tuple[float, float]], rest: float = 0.0) -> bool:
        try:
            return claim(Setting(relaxed, rest)).holds
        except Lacking:
            return False

    worst = claim(WORST)
    terms = unique(worst.terms)
    not_stated = [term for term in terms if not term.stated]
    assumed = tuple(map(assumption, not_stated))
    if worst.holds:
        return Verdict("pass", worst, worst, assumed)
    defaulted = [term for term in terms if term.defaulted]
    kindest = _kindest(claim) if defaulted else worst
    if kindest is not None and not kindest.holds:
        return Verdict("fail", worst, kindest, assumed)
    flips = {term.key: _flip(term, holds_with) for term in defaulted if holds_with({term.key: 1.0})}
    # What turns the verdict only at its kindest end (no life at all) is worth stating only where nothing else would.
    if any(not _is_last_resort(term, flips) for term in defaulted):
        flips = {
            term.key: flips[term.key] for term in defaulted if term.key in flips and not _is_last_resort(term, flips)
        }
    alone = tuple(term for term in defaulted if term.key in flips)
    open_assumed = tuple(assumption(term, flips.get(term.key)) for term in not_stated)
    reached = worst if kindest is None else kindest
    if alone:
        return Verdict("open", worst, reached, open_assumed, alone, flips)
    return Verdict("open", worst, reached, open_assumed, _fewest(defaulted, holds_with), {}, True)


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
