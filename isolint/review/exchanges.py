"""One fault of which another rule speaks now: whether two rules speak of the same, and which of the two is worse."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Literal

from isolint.checking.rule import Rule
from isolint.results import LEVELS
from isolint.review.findings import Finding
from isolint.review.result_pairs import Match

FindRule = Callable[[str], Rule | None]


def replaced(
    rule_of: FindRule, after: Finding, hidden: Iterable[Match], fixed: Iterable[Match], used: set[int]
) -> Finding | None:
    """The failure of before in whose place a new one stands: not judged behind it now, or passed; None for none.

    hidden: what is blocked now; fixed: what passes now. used: the ids of findings whose place is taken.
    """
    gone = [match for match in hidden if match.after is not None and match.after.result.blocked_by == after.result.rule]
    for before, now in (*gone, *fixed):
        if before is None or now is None or before.kind != "fail" or id(before) in used:
            continue
        same = now.result.subject.casefold() == after.result.subject.casefold()
        if same and _share(rule_of(before.result.rule), rule_of(after.result.rule)):
            return before
    return None


def _share(one: Rule | None, other: Rule | None) -> bool:
    """Whether two rules speak of one aspect of a part."""
    if one is None or other is None:
        return False
    return bool({*one.needs, *one.blocks} & {*other.needs, *other.blocks})


def weighed(rule_of: FindRule, before: Finding, after: Finding) -> Literal["worse", "better"]:
    """Whether the fault that stands in the place of another is worse."""
    first, second = rule_of(before.result.rule), rule_of(after.result.rule)
    was, now = LEVELS.index(before.result.level), LEVELS.index(after.result.level)
    structural = first is not None and first.structural and not (second is not None and second.structural)
    # Harm of two rules can't be compared: another fault of the same weight is never taken for progress.
    return "better" if now < was or (now == was and structural and math.isfinite(after.harm)) else "worse"
