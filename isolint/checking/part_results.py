"""Results about a part as a whole, of which no channel is made or whose channels share what is judged.

In: a rule, a part, a verdict and its words. Out: results as those of channels, with the part as their subject.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from isolint.checking.context import Context
from isolint.checking.result_builder import rests_on
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict
from isolint.errors import Place
from isolint.interfaces.entities import Part
from isolint.results import Evidence, Level, MissingFact, Result
from isolint.worstcase.uncertain import Lacking


def judged(
    context: Context,
    rule: Rule,
    part: Part,
    verdict: Verdict,
    text: str,
    element: int | None = None,
    *,
    evidence: Iterable[Evidence],
    remedy: str | Callable[[], str] = "",
    chain: Iterable[int] = (),
    role: str = "",
    level: Level | None = None,
) -> Result:
    """The result of a verdict about a part; as `judged` of a channel otherwise."""
    missing: tuple[MissingFact, ...] = ()
    said = f"{part.path}: {text}"
    if verdict.kind == "open":
        missing = context.missing(verdict.settling.terms)
        said = f"{said}; {rests_on(verdict)}"
    failed = verdict.kind == "fail" and not context.is_trial
    made = context.result(
        rule,
        verdict.kind,
        said,
        context.place(part.element if element is None else element),
        part.path,
        level=level if verdict.kind == "fail" else None,
        role=role,
        evidence=evidence,
        margin=verdict.worst.shown,
        measure=verdict.worst.measure,
        remedy="" if not failed else remedy if isinstance(remedy, str) else remedy(),
        related=context.related([part.element, *chain]),
        missing=missing,
        element=part.element,
    )
    return made._replace(assumptions=verdict.assumptions, part=part.path)


def lacking(context: Context, rule: Rule, part: Part, reason: Lacking, role: str = "") -> Result:
    """What a rule says of a part where a quantity could not be computed."""
    where: Place = context.place(part.element if reason.element is None else reason.element)
    if reason.blocked_by is not None:
        text, kind = f"{part.path}: {reason.reason}", "notApplicable"
        blocked = context.speaker(reason.blocked_by)
    else:
        text, kind, blocked = f"{part.path}: not judged: {reason.reason}", "open", ""
    made = context.result(
        rule,
        "open" if kind == "open" else "notApplicable",
        text,
        where,
        part.path,
        missing=reason.missing if kind == "open" else (),
        remedy=reason.remedy,
        role=role,
        blocked_by=blocked,
        element=part.element,
    )
    return made._replace(part=part.path)
