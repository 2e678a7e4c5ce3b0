"""The report as Markdown, for a pull request, a wiki or the summary page of a CI job.

Nothing from a netlist can mention anyone, refer to anything or give the forge an order: see `escape`.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.reports import summary
from isolint.reports.escape import html, markdown, markdown_block, markdown_cell, markdown_code
from isolint.reports.safety import caution
from isolint.reports.wording import details, label
from isolint.results import NetlistReport, Report, Result
from isolint.units import show


def render(report: Report) -> str:
    """Write the whole report."""
    lines = ["## isolint", "", f"{markdown(summary.total_line(report))}."]
    if not report.netlists:
        lines = ["## isolint", "", "No netlist was checked."]
    for error in report.errors:
        lines += ["", f"**Not done:** {markdown(error)}"]
    for netlist in report.netlists:
        lines.extend(_netlist(report, netlist))
    told = caution(report)
    if told:
        lines += ["", f"> {markdown(told)}"]
    return "\n".join(lines) + "\n"


def _netlist(report: Report, netlist: NetlistReport) -> Iterator[str]:
    yield from (
        "",
        f"### {markdown_code(netlist.netlist)}",
        "",
        f"{markdown(summary.line(netlist.results, (netlist,)))}.",
    )
    reason = summary.not_judged(netlist)
    if reason:
        yield from ("", f"{markdown(reason)}.")
    failures = [result for result in netlist.results if summary.is_active(result)]
    opens = [result for result in netlist.results if result.kind == "open" and not summary.is_known(result)]
    if failures:
        yield from ("", "| level | place | rule | what | margin |", "| --- | --- | --- | --- | --- |")
        yield from map(_row, failures)
    if opens:
        yield from (
            "",
            "Open, for want of a fact:",
            "",
            "| counts as | place | rule | what | write |",
            "| --- | --- | --- | --- | --- |",
        )
        yield from (_open_row(report, result) for result in opens)
    for result in (*failures, *opens):
        yield from _details(result)
    waived = [result for result in netlist.results if summary.is_waived(result)]
    if waived:
        yield from (
            "",
            "Waived:",
            "",
            "| place | rule | what | until | by | reason |",
            "| --- | --- | --- | --- | --- | --- |",
        )
        yield from map(_waived_row, waived)
    known = [result for result in netlist.results if summary.is_known(result)]
    if known:
        yield from ("", f"In the baseline, not looked at yet: {len(known)}.", "")
        yield from (f"- {_place(result)} {markdown_code(result.rule)} {markdown(result.subject)}" for result in known)
    stale = [result for result in netlist.results if summary.is_stale(result)]
    if stale:
        yield from ("", f"In the baseline and no longer found: {len(stale)}.", "")
        yield from (f"- {markdown_code(result.rule)} {markdown(result.subject)}" for result in stale)
    for note in netlist.notes:
        yield from ("", f"{markdown(note)}.")


def _place(result: Result) -> str:
    return markdown_code(f"{result.where.file}:{result.where.line}")


def _cells(*cells: str) -> str:
    return f"| {' | '.join(markdown_cell(cell) for cell in cells)} |"


def _row(result: Result) -> str:
    margin = "-"
    if result.margin is not None:
        margin = f"{show(result.margin.value, '1')} of {show(result.margin.required, '1')}"
    told = markdown(result.message)
    if result.remedy:
        told += f"<br>Cure: {markdown(result.remedy)}"
    return _cells(label(result), _place(result), markdown_code(result.rule), told, markdown(margin))


def _open_row(report: Report, result: Result) -> str:
    keys = ", ".join(markdown_code(fact.key) for fact in result.missing) or "-"
    counts = report.counted_level(result)
    return _cells(counts, _place(result), markdown_code(result.rule), markdown(result.message), keys)


def _waived_row(result: Result) -> str:
    waiver = result.suppression
    assert waiver is not None
    told = (waiver.until, waiver.by, waiver.justification)
    return _cells(_place(result), markdown_code(result.rule), markdown(result.message), *map(markdown, told))


def _details(result: Result) -> Iterator[str]:
    """The evidence, folded away."""
    lines = list(details(result))
    if lines:
        # A forge looks for no mentions inside `code`.
        name = f"{html(result.rule)} <code>{html(result.subject)}</code>"
        yield from ("", f"<details><summary>{name}</summary>", "")
        yield from (*markdown_block(lines), "", "</details>")
