"""The report as text: one GNU-style line a result, its evidence indented beneath, a summary that explains silence.

Passes and results that don't apply are left out (passes on request). No colour, whatever the terminal.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.reports import summary
from isolint.reports.escape import log_lines, terminal
from isolint.reports.safety import caution
from isolint.reports.wording import details, evidence_lines, label
from isolint.results import NetlistReport, Report, Result

_INDENT = "    "


def render(report: Report, passes: bool = False) -> str:
    """Write the whole report; `passes` adds each pass with one line of evidence."""
    lines: list[str] = []
    for netlist in report.netlists:
        lines.extend(_netlist(netlist, passes))
    if lines:
        lines.append("")
    lines.extend(_summary(report))
    return log_lines("\n".join(lines) + "\n")


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
        yield _INDENT + next(evidence_lines(evidence))


def _result(result: Result) -> Iterator[str]:
    yield _head(result, label(result))
    for line in details(result):
        yield _INDENT + line


def _summary(report: Report) -> Iterator[str]:
    for netlist in report.netlists:
        name = terminal(netlist.netlist)
        for result in netlist.results:
            if result.suppression is not None:
                waiver = result.suppression
                told = f"waived until {waiver.until} by {waiver.by}: {waiver.justification}"
                yield f"{name}: {terminal(result.rule)} at {terminal(str(result.where))} {terminal(told)}"
        for result in filter(summary.is_stale, netlist.results):
            yield f"{terminal(str(result.where))}: {terminal(result.rule)} {terminal(result.message)}"
        for note in netlist.notes:
            yield f"{name}: {terminal(note)}"
        reasons = ", ".join(
            f"{number} {reason}" for reason, number in sorted(netlist.coverage.reasons.items()) if number
        )
        if reasons and netlist.coverage.understood < netlist.coverage.cards:
            yield f"{name}: not understood: {terminal(reasons)}"
        for told in (*netlist.coverage.notes, summary.listed(netlist), *summary.unanswered(netlist.coverage)):
            if told:
                yield f"{name}: {terminal(told)}"
        yield f"{name}: {summary.line(netlist.results, (netlist,))}"
        yield from (f"{name}: {terminal(why)}" for why in summary.why_opens_count(report, netlist))
    if not report.netlists:
        yield "no netlist was checked"
    elif len(report.netlists) > 1:
        yield f"{summary.plural(len(report.netlists), 'netlist')}: {summary.total_line(report)}"
    if report.errors:
        yield f"not done: {summary.plural(len(report.errors), 'error')} (see standard error)"
    warning = caution(report)
    if warning:
        yield f"caution: {warning}"
