"""What each barrier must hold beside what holds it: the amounts that the rules of the barrier compared, weakest first.

In: results. Out: `Held` rows. No number is worked out anew: each stands in the evidence of a result.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from isolint.amount_held import Held
from isolint.results import Evidence, Result
from isolint.units import rounded_down, rounded_up, show

_SLACK = 1e-9
_MOST_NAMES = 3


def held(results: Iterable[Result], subject: str) -> tuple[Held, ...]:
    """The amounts of one barrier: first what nobody knows, then by margin; counts that are met come last."""
    found = [
        row
        for result in results
        if result.subject == subject and result.kind in ("pass", "fail", "open")
        for item in result.evidence
        for row in _rows(result, item)
    ]
    return tuple(sorted(found, key=_order))


def _order(row: Held) -> tuple[float, str, str]:
    """What is counted is met or not: that it is just met says nothing of the next weakest part."""
    counted = row.verdict == "holds" and row.required.isdecimal()
    return (math.inf if counted else -1.0 if row.margin is None else row.margin), row.name, row.by


def assumed(results: Iterable[Result], subject: str) -> tuple[str, ...]:
    """What is assumed in the amounts of one barrier, one line each."""
    each = (one for result in results if result.subject == subject for one in result.assumptions)
    return tuple(dict.fromkeys(f"{one.name} {one.value} ({one.origin})" for one in each))


def _rows(result: Result, item: Evidence) -> Iterator[Held]:
    limit = item.limit
    # A resistance across joins or does not: it is no strength.
    if (limit is None and result.kind != "open") or item.unit == "ohm":
        return
    upper = limit is not None and limit.sense == "at_most"
    value = item.max if upper else item.min
    margin = None
    if limit is not None and value is not None:
        least, most = (value, limit.value) if upper else (limit.value, value)
        margin = most / least if least else math.inf
    elif result.kind == "pass":
        return
    verdict: Literal["holds", "short", "open"]
    verdict = "holds" if margin is not None and margin >= 1.0 - _SLACK else "short" if result.kind == "fail" else "open"
    if limit is None or not limit.value:
        required = "not known"
    elif upper:
        required = f"at most {show(rounded_down(limit.value), item.unit)}"
    else:
        required = show(rounded_up(limit.value), item.unit)
    offered = "not known" if value is None else show((rounded_up if upper else rounded_down)(value), item.unit)
    # What amounts say of themselves: `offered: KEY; wanted: ROW`.
    given, _, row = item.source.removeprefix("offered: ").partition("; wanted: ")
    key = given if row and given != "not known" else ""
    yield Held(item.name, required, offered, margin, _by(result), key, row or item.source or item.formula, verdict)


def _by(result: Result) -> str:
    """Who offers it: the elements, and the record where one describes them."""
    names: Sequence[str] = result.members or [related.text.split()[0] for related in result.related]
    shown = [*names[:_MOST_NAMES], *([f"{len(names) - _MOST_NAMES} more"] if len(names) > _MOST_NAMES else [])]
    listed = ", ".join(shown)
    if result.role == "board":
        return "the board"
    record = f" ({result.role})" if result.members and result.role not in ("", ", ".join(names), "chain") else ""
    return f"{listed}{record}" or "what is stated"
