"""The report as Markdown, for a pull request, a wiki or the summary page of a CI job.

Nothing from a netlist can mention anyone, refer to anything or give the forge an order: see `escape`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.reports import summary
from isolint.reports.escape import html, markdown, markdown_block, markdown_cell, markdown_code
from isolint.reports.safety import caution
from isolint.reports.wording import details, label
from isolint.results import NetlistReport, Report, Result
from isolint.units import show

LIMIT = 60_000
"""Bytes that a report takes at most: forges refuse comments a little above."""

_CLOSING = 600
"""Bytes that are kept for the line that says what was left out."""


class _Line(NamedTuple):
    """One line, and whether it tells a failure or an open result that nobody accepted."""

    text: str
    counts: bool = False

    @property
    def size(self) -> int:
        return len(self.text.encode("utf-8", "replace")) + 1


def render(report: Report) -> str:
    """Write the whole report; one that is larger than `LIMIT` without the evidence, and then as far as it goes.

    The totals at the top are those of the whole report in each case.
    """
    lines = list(_document(report, True))
    if sum(line.size for line in lines) > LIMIT:
        lines = _cut(report, list(_document(report, False)))
    return "\n".join(line.text for line in lines) + "\n"


def _document(report: Report, evidence: bool) -> Iterator[_Line]:
    yield from _plain("## isolint", "")
    yield _Line(f"{markdown(summary.total_line(report))}." if report.netlists else "No netlist was checked.")
    for error in report.errors:
        yield from _plain("", f"**Not done:** {markdown(error)}")
    for netlist in report.netlists:
        yield from _netlist(report, netlist, evidence)
    yield from _plain(*_caution(report))


def _caution(report: Report) -> list[str]:
    told = caution(report)
    return ["", f"> {markdown(told)}"] if told else []


def _cut(report: Report, lines: list[_Line]) -> list[_Line]:
    """As many whole lines as fit, then what is missing, then the caution."""
    end = [_Line(text) for text in _caution(report)]
    body = lines[: len(lines) - len(end)]
    room = LIMIT - _CLOSING - sum(line.size for line in end)
    kept = 0
    while kept < len(body) and body[kept].size <= room:
        room -= body[kept].size
        kept += 1
    left = sum(line.counts for line in body[kept:])
    told = f"**Shortened** to {LIMIT} bytes: the evidence is left out"
    if kept < len(body):
        told += f", and {left} failures and open results of those counted at the top ({len(body) - kept} lines)"
    told += ". The formats text and json hold all."
    return [*body[:kept], _Line(""), _Line(told), *end]


def _plain(*texts: str) -> Iterator[_Line]:
    return map(_Line, texts)


def _netlist(report: Report, netlist: NetlistReport, evidence: bool) -> Iterator[_Line]:
    yield from _plain(
        "",
        f"### {markdown_code(netlist.netlist)}",
        "",
        f"{markdown(summary.line(netlist.results, (netlist,)))}.",
    )
    reason = summary.not_judged(netlist)
    if reason:
        yield from _plain("", f"{markdown(reason)}.")
    failures = [result for result in netlist.results if summary.is_active(result)]
    opens = [result for result in netlist.results if result.kind == "open" and not summary.is_known(result)]
    if failures:
        yield from _plain("", "| level | place | rule | what | margin |", "| --- | --- | --- | --- | --- |")
        yield from (_Line(_row(result), True) for result in failures)
    if opens:
        yield from _plain(
            "",
            "Open, for want of a fact:",
            "",
            "| counts as | place | rule | what | write |",
            "| --- | --- | --- | --- | --- |",
        )
        yield from (_Line(_open_row(report, result), True) for result in opens)
    for result in (*failures, *opens) if evidence else ():
        yield from _plain(*_details(result))
    waived = [result for result in netlist.results if summary.is_waived(result)]
    if waived:
        yield from _plain(
            "",
            "Waived:",
            "",
            "| place | rule | what | until | by | reason |",
            "| --- | --- | --- | --- | --- | --- |",
        )
        yield from _plain(*map(_waived_row, waived))
    known = [result for result in netlist.results if summary.is_known(result)]
    if known:
        yield from _plain("", f"In the baseline, not looked at yet: {len(known)}.", "")
        yield from _plain(
            *(f"- {_place(result)} {markdown_code(result.rule)} {markdown(result.subject)}" for result in known)
        )
    stale = [result for result in netlist.results if summary.is_stale(result)]
    if stale:
        yield from _plain("", f"In the baseline and no longer found: {len(stale)}.", "")
        yield from _plain(*(f"- {markdown_code(result.rule)} {markdown(result.subject)}" for result in stale))
    for note in netlist.notes:
        yield from _plain("", f"{markdown(note)}.")


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
