"""The report as text: one GNU-style line a result, its evidence indented beneath, a summary that explains silence.

Passes and results that don't apply are left out (passes on request). No colour, whatever the terminal.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.reports import summary
from isolint.reports.escape import terminal, terminal_lines
from isolint.reports.safety import caution
from isolint.results import Assumption, Evidence, MissingFact, NetlistReport, Report, Result
from isolint.units import show

_INDENT = "    "


def render(report: Report, passes: bool = False) -> str:
    """Write the whole report; `passes` adds each pass with one line of evidence."""
    lines: list[str] = []
    for netlist in report.netlists:
        lines.extend(_netlist(netlist, passes))
    if lines:
        lines.append("")
    lines.extend(_summary(report))
    return "\n".join(lines) + "\n"


def _netlist(netlist: NetlistReport, passes: bool) -> Iterator[str]:
    reason = summary.not_judged(netlist)
    if reason:
        yield f"{terminal(netlist.netlist)}: {reason}"
    for result in netlist.results:
        if result.kind == "pass":
            if passes:
                yield from _pass(result)
        elif result.kind != "notApplicable" and not summary.is_waived(result) and not summary.is_known(result):
            yield from _result(result)


def _head(result: Result, label: str) -> str:
    return f"{terminal(str(result.where))}: {label}: {terminal(result.message)} [{terminal(result.rule)}]"


def _pass(result: Result) -> Iterator[str]:
    yield _head(result, "pass")
    for evidence in result.evidence[:1]:
        yield _INDENT + next(_evidence(evidence))


def _result(result: Result) -> Iterator[str]:
    yield _head(result, "open" if result.kind == "open" else result.level)
    for evidence in result.evidence:
        for line in _evidence(evidence):
            yield _INDENT + line
    if result.margin is not None:
        yield f"{_INDENT}margin: {show(result.margin.value, '1')}, required {show(result.margin.required, '1')}"
    for assumption in result.assumptions:
        yield f"{_INDENT}assumed: {_assumption(assumption)}"
    for missing in result.missing:
        for line in _missing(missing):
            yield _INDENT + line
    for related in result.related:
        yield f"{_INDENT}chain: {terminal(str(related.place))}: {terminal(related.text)}"
    if result.remedy:
        yield f"{_INDENT}cure: {terminal(result.remedy)}"


def _evidence(evidence: Evidence) -> Iterator[str]:
    """The interval against its limit; then the formula, the corner that decides, the source, each on its own line."""
    name = " ".join(part for part in (evidence.name, evidence.symbol) if part)
    ends = (("min", evidence.min), ("nominal", evidence.nominal), ("max", evidence.max))
    values = ", ".join(f"{end} {show(value, evidence.unit)}" for end, value in ends if value is not None)
    limit = ""
    if evidence.limit is not None:
        limit = f"; {evidence.limit.sense.replace('_', ' ')} {show(evidence.limit.value, evidence.unit)}"
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
    if unit not in ("", "1") and not value.endswith(unit):
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


def _summary(report: Report) -> Iterator[str]:
    for netlist in report.netlists:
        name = terminal(netlist.netlist)
        for result in netlist.results:
            if result.suppression is not None:
                waiver = result.suppression
                told = f"waived until {waiver.until} by {waiver.by}: {waiver.justification}"
                yield f"{name}: {terminal(result.rule)} at {terminal(str(result.where))} {terminal(told)}"
        for note in netlist.notes:
            yield f"{name}: {terminal(note)}"
        reasons = ", ".join(
            f"{number} {reason}" for reason, number in sorted(netlist.coverage.reasons.items()) if number
        )
        if reasons and netlist.coverage.understood < netlist.coverage.cards:
            yield f"{name}: not understood: {terminal(reasons)}"
        yield f"{name}: {summary.line(netlist.results, (netlist,))}"
    if not report.netlists:
        yield "no netlist was checked"
    elif len(report.netlists) > 1:
        yield f"{summary.plural(len(report.netlists), 'netlist')}: {summary.total_line(report)}"
    if report.errors:
        yield f"not done: {summary.plural(len(report.errors), 'error')} (see standard error)"
    warning = caution(report)
    if warning:
        yield f"caution: {warning}"
