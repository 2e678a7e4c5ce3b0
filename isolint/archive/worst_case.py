"""The worst-case table: every number that was held against a limit, with margin, corner and source."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from isolint.results import Evidence, Result

_NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w.])", re.ASCII)
_DIGITS = 2e-5
"""Numbers of a formula are printed with six digits."""
_EQUAL = 1e-6
MARGIN = "margin"
"""How the evidence is called that is a margin itself."""


class WorstCaseLine(NamedTuple):
    """One line of the worst-case table. verdict: of this number. held: its end that was held against the limit."""

    subject: str
    item: str
    parameter: str
    unit: str
    least: float | None
    nominal: float | None
    most: float | None
    limit_kind: str
    limit: float
    margin: float | None
    required: float | None
    corner: str
    method: str
    source: str
    verdict: str
    rule: str
    held: float | None


def quantities(results: Iterable[Result]) -> Iterator[WorstCaseLine]:
    """All lines, passes too. A number that holds within a failure says so, and has a margin of its own."""
    for result in results:
        if result.kind not in ("pass", "fail", "open"):
            continue
        first = deciding(result)
        for evidence in result.evidence:
            if evidence.limit is None:
                continue
            own = evidence is first and result.margin is not None
            margin = result.margin.value if own and result.margin is not None else ratio(evidence)
            corner = corner_of(result, evidence)
            yield WorstCaseLine(
                result.subject,
                item_of(result, evidence),
                evidence.symbol,
                evidence.unit,
                evidence.min,
                evidence.nominal,
                evidence.max,
                evidence.limit.sense.replace("_", " "),
                evidence.limit.value,
                margin,
                result.margin.required if own and result.margin is not None else None if margin is None else 1.0,
                corner,
                f"extreme value{', solved at the corner' if corner else ''}",
                evidence.source or _sources(result),
                "holds" if result.kind == "fail" and evidence is not first and _holds(evidence) else result.kind,
                result.rule,
                held(evidence),
            )


def item_of(result: Result, evidence: Evidence) -> str:
    """What the number is of; the part, pin or net that the result is about is named once."""
    told = not result.role or result.role in evidence.name or result.role == result.subject
    return evidence.name if told else f"{evidence.name}, {result.role}"


def deciding(result: Result) -> Evidence | None:
    """The number whose comparison with its limit gave the margin: of several that were compared the one that fits it,
    else the one that is nearest to its limit or furthest beyond."""
    compared = [evidence for evidence in result.evidence if evidence.limit is not None]
    if len(compared) < 2:
        return next(iter(compared), None)
    named = [evidence for evidence in compared if evidence.name != MARGIN] or compared
    if result.margin is not None:
        for evidence in named:
            if _fits(evidence, result.margin.value, result.margin.required):
                return evidence
    known = [(found, at) for at, evidence in enumerate(named) if (found := ratio(evidence)) is not None]
    return named[min(known)[1]] if known else named[0]


def held(evidence: Evidence) -> float | None:
    """The end of a number that is held against its limit."""
    if evidence.limit is None:
        return None
    ends = (evidence.min, evidence.max) if evidence.limit.sense == "at_least" else (evidence.max, evidence.min)
    return next((end for end in (*ends, evidence.nominal) if end is not None), None)


def ratio(evidence: Evidence) -> float | None:
    """How many times a number holds its limit, 1 is just enough; None where such a ratio says nothing."""
    value = held(evidence)
    if evidence.limit is None or value is None or evidence.unit in ("degC", "K"):
        return None
    over, under = (value, evidence.limit.value) if evidence.limit.sense == "at_least" else (evidence.limit.value, value)
    if over < 0.0 or under <= 0.0:
        return None
    found = over / under
    return found if math.isfinite(found) else None


def _holds(evidence: Evidence) -> bool:
    value = held(evidence)
    if evidence.limit is None or value is None:
        return False
    return value >= evidence.limit.value if evidence.limit.sense == "at_least" else value <= evidence.limit.value


def _fits(evidence: Evidence, margin: float, required: float) -> bool:
    own = ratio(evidence)
    wanted = (margin, margin / required) if required > 0.0 else (margin,)
    return any(
        each is not None and math.isclose(each, w, rel_tol=_EQUAL) for each in (own, held(evidence)) for w in wanted
    )


def corner_of(result: Result, evidence: Evidence) -> str:
    """The corner at the end that was held against the limit; of a number that was made of others those that it was
    made of, "" where none was solved at a corner."""
    if evidence.limit is None:
        return ""
    own = evidence.corners.get("min" if evidence.limit.sense == "at_least" else "max", "")
    if own:
        return own
    formulas = [each.formula for each in result.evidence if each is evidence or each.name == MARGIN]
    numbers = [float(text) for formula in formulas for text in _NUMBER.findall(formula)]
    found: dict[str, str] = {}
    for other in result.evidence:
        for end, value in (("min", other.min), ("max", other.max)):
            corner = other.corners.get(end, "")
            if corner and value and any(math.isclose(number, value, rel_tol=_DIGITS) for number in numbers):
                found.setdefault(other.symbol or other.name, corner)
    if len(set(found.values())) == 1:
        return next(iter(found.values()))
    return "; ".join(f"{name}: {corner}" for name, corner in found.items())


def _sources(result: Result) -> str:
    """Where the other numbers of a verdict come from, its limit too: those that are named, else what was assumed."""
    named = [evidence.source for evidence in result.evidence if evidence.source]
    assumed = [f"{each.name}: {each.origin}" for each in result.assumptions]
    return "; ".join(dict.fromkeys(named or assumed))
