"""The report as JUnit XML, the common ground of its dialects: a suite a netlist, a case for each verdict.

A failure that nobody accepted is a `failure`; so is an open result that makes the exit status 1. Waived and old
failures, other open results and results that don't apply are `skipped` and say why; a rule or a job that broke is an
`error`. Passes are cases with their numbers. Times are 0 and there is no date: same report, same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from isolint.reports import summary
from isolint.reports.escape import xml
from isolint.reports.safety import caution
from isolint.reports.wording import accepted, details, label
from isolint.results import NetlistReport, Report, Result

Outcome = Literal["passed", "failure", "error", "skipped"]


class _Case(NamedTuple):
    """One test case; `message` and `text` belong to its outcome."""

    classname: str
    name: str
    file: str
    line: int
    outcome: Outcome
    type: str = ""
    message: str = ""
    text: str = ""


def render(report: Report) -> str:
    """Write one document."""
    suites = [(netlist.netlist, _notes(netlist), _cases(report, netlist)) for netlist in report.netlists]
    if report.errors:
        cases = [
            _Case("isolint", f"error {number}", "", 0, "error", "not done", error.partition("\n")[0], error)
            for number, error in enumerate(report.errors, 1)
        ]
        suites.append(("isolint", [], cases))
    every = [case for _, _, cases in suites for case in cases]
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', f'<testsuites name="isolint"{_counts(every)}>']
    for name, notes, cases in suites:
        lines.append(f'  <testsuite name="{xml(name)}"{_counts(cases)}>')
        for case in cases:
            lines.extend(_written(case))
        if notes:
            lines.append(f"    <system-out>{_block(notes)}</system-out>")
        lines.append("  </testsuite>")
    told = caution(report)
    if told:
        # Readers know no text below `testsuites`; a comment may not hold `--`.
        lines.append(f"  <!-- caution: {xml(told).replace('--', '- -')} -->")
    return "\n".join([*lines, "</testsuites>"]) + "\n"


def _counts(cases: list[_Case]) -> str:
    number = {outcome: sum(case.outcome == outcome for case in cases) for outcome in ("failure", "error", "skipped")}
    return (
        f' tests="{len(cases)}" failures="{number["failure"]}" errors="{number["error"]}"'
        f' skipped="{number["skipped"]}" time="0"'
    )


def _notes(netlist: NetlistReport) -> list[str]:
    reason = summary.not_judged(netlist)
    return [*([reason] if reason else []), *netlist.notes, summary.line(netlist.results, (netlist,))]


def _cases(report: Report, netlist: NetlistReport) -> list[_Case]:
    seen: dict[str, int] = {}
    cases = []
    for result in netlist.results:
        if result.kind == "notApplicable" and not (result.blocked_by or result.message):
            continue
        name = " ".join(part for part in (result.rule, result.subject, result.role) if part)
        seen[name] = seen.get(name, 0) + 1
        if seen[name] > 1:
            name = f"{name} ({seen[name]})"
        outcome, kind, message = _outcome(report, netlist, result)
        text = "\n".join((result.message, *details(result)))
        cases.append(_Case(netlist.netlist, name, result.where.file, result.where.line, outcome, kind, message, text))
    return cases


def _outcome(report: Report, netlist: NetlistReport, result: Result) -> tuple[Outcome, str, str]:
    """The outcome of a result, its type and message."""
    if summary.is_crash(result):
        return "error", "open", result.message
    if result.kind == "pass":
        return "passed", "", ""
    if summary.is_active(result):
        return "failure", result.level, result.message
    if result.kind == "open" and not summary.is_known(result):
        return ("failure" if report.decides(netlist, result) else "skipped"), "open", f"open: {result.message}"
    if result.kind == "notApplicable":
        return "skipped", "notApplicable", result.message or f"not applicable while {result.blocked_by} fails"
    return "skipped", label(result), f"{accepted(result)}: {result.message}"


def _written(case: _Case) -> Iterator[str]:
    place = f' file="{xml(case.file)}" line="{case.line}"' if case.file else ""
    head = f'    <testcase classname="{xml(case.classname)}" name="{xml(case.name)}"{place} time="0"'
    if case.outcome == "passed":
        yield f"{head}>"
        yield f"      <system-out>{_block(case.text.splitlines())}</system-out>"
    elif case.outcome == "skipped":
        yield f"{head}>"
        yield f'      <skipped type="{xml(case.type)}" message="{xml(case.message)}"/>'
        yield f"      <system-out>{_block(case.text.splitlines())}</system-out>"
    else:
        body = _block(case.text.splitlines())
        yield f"{head}>"
        yield f'      <{case.outcome} type="{xml(case.type)}" message="{xml(case.message)}">{body}</{case.outcome}>'
    yield "    </testcase>"


def _block(lines: list[str]) -> str:
    return "\n".join(map(xml, lines))
