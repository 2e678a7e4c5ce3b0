"""How bad a failure is, as one number: what a baseline compares, so that nothing gets worse unseen.

In: a result. Out: its measure. A rule may state one, and a margin is one; else it is the number of the evidence that
stands farthest beyond its limit, which for a joint is the limit over its resistance, and where there is no number the
count of what is concerned.
"""

from __future__ import annotations

import math

from isolint.results import Evidence, Measure, Result


def measured(result: Result) -> Measure:
    """The measure of a failure or of an open result: how many facts it waits for."""
    if result.kind == "open":
        return Measure(float(max(1, len(result.missing))), larger_is_worse=True)
    if result.margin is not None and not math.isnan(result.margin.value):
        return Measure(result.margin.value, larger_is_worse=False)
    if result.measure is not None and not math.isnan(result.measure.value):
        return result.measure
    excesses = [found for item in result.evidence if (found := _excess(item)) is not None]
    if excesses:
        return Measure(max(excesses), larger_is_worse=True)
    return Measure(float(max(1, len({item.text for item in result.related}))), larger_is_worse=True)


def _excess(item: Evidence) -> float | None:
    """How far a number lies beyond its limit, as a ratio; None where it has no limit or is not known."""
    if item.limit is None:
        return None
    limit = item.limit.value
    value = item.max if item.limit.sense == "at_most" else item.min
    if value is None or math.isnan(value):
        return None
    over, under = (value, limit) if item.limit.sense == "at_most" else (limit, value)
    if over <= 0.0:
        return 0.0
    return math.inf if under <= 0.0 else over / under
