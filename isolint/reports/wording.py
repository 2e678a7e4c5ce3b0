"""Results in words, as several formats show them. Every line comes back escaped for a terminal, without indentation."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.reports.escape import terminal, terminal_lines
from isolint.results import Assumption, Evidence, MissingFact, Result
from isolint.units import show, show_beside


def label(result: Result) -> str:
    """One word for what a result is: its level if it fails, else its kind."""
    return result.level if result.kind == "fail" else result.kind


def accepted(result: Result) -> str:
    """Who accepted a failure and why, or an empty string."""
    waiver = result.suppression
    if waiver is not None:
        return terminal(f"waived until {waiver.until} by {waiver.by}: {waiver.justification}")
    return "in the baseline" if result.baseline_state == "unchanged" else ""


def details(result: Result) -> Iterator[str]:
    """Everything below the message: its further lines, evidence, margin, assumptions, missing facts, chain, cure."""
    for line in result.more:
        yield terminal(line)
    for evidence in result.evidence:
        yield from evidence_lines(evidence)
    if result.margin is not None:
        yield "margin: {}, required {}".format(*show_beside(*result.margin, "1"))
    for assumption in result.assumptions:
        yield f"assumed: {_assumption(assumption)}"
    for missing in result.missing:
        yield from _missing(missing)
    for related in result.related:
        yield f"chain: {terminal(str(related.place))}: {terminal(related.text)}"
    if result.remedy:
        yield f"cure: {terminal(result.remedy)}"


def evidence_lines(evidence: Evidence) -> Iterator[str]:
    """The interval against its limit; then the formula, the corner that decides, the source, each on its own line."""
    name = " ".join(part for part in (evidence.name, evidence.symbol) if part)
    ends = (("min", evidence.min), ("nominal", evidence.nominal), ("max", evidence.max))
    shown = {end: show(value, evidence.unit) for end, value in ends if value is not None}
    limit = ""
    if evidence.limit is not None:
        told = show(evidence.limit.value, evidence.unit)
        (held,) = _deciding_ends(evidence)
        number = dict(ends)[held]
        if number is not None:
            shown[held], told = show_beside(number, evidence.limit.value, evidence.unit)
        limit = f"; {evidence.limit.sense.replace('_', ' ')} {told}"
    values = ", ".join(f"{end} {text}" for end, text in shown.items())
    yield terminal(f"{name}: {values or 'unknown'}{limit}")
    if evidence.formula:
        yield f"  {terminal(evidence.formula)}"
    for end in _deciding_ends(evidence):
        corner = evidence.corners.get(end)
        if corner:
            yield f"  {end} at {terminal(corner)}"
    if evidence.source:
        yield f"  source: {terminal(evidence.source)}"


def _deciding_ends(evidence: Evidence) -> tuple[str, ...]:
    if evidence.limit is None:
        return ("min", "max")
    return ("min",) if evidence.limit.sense == "at_least" else ("max",)


def _assumption(assumption: Assumption) -> str:
    unit = assumption.unit
    value = assumption.value
    # A slew rate in V/s is shown in V/us: what has any unit needs no other.
    if unit not in ("", "1") and " " not in value.partition(" to ")[0]:
        value = f"{value} {unit}"
    flips = ""
    if assumption.flips_at is not None:
        flips = f"; the verdict flips at {show(assumption.flips_at, unit)}"
    return terminal(f"{assumption.name} = {value} ({assumption.origin}){flips}")


def _missing(missing: MissingFact) -> Iterator[str]:
    yield f"missing: {terminal(missing.file)}: {terminal(missing.key)}"
    if missing.example:
        first, *others = terminal_lines(missing.example)
        yield f"  write: {first}"
        for line in others:
            yield f"         {line}"
