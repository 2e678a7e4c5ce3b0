"""The report as workflow commands, which a CI service shows as annotations at the lines of a change.

The service shows ten errors, ten warnings and ten notices a step and fifty a job, and drops the rest without a word. So
the worst come first, no more than ten of a level are written, and a plain line at the end gives the totals.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from isolint.reports import summary
from isolint.reports.escape import command_message, command_property, log_lines, terminal
from isolint.reports.safety import caution
from isolint.results import LEVELS, Level, Report, Result

COMMANDS: Final[dict[Level, str]] = {"error": "error", "warning": "warning", "note": "notice"}
MOST_OF_A_LEVEL: Final = 10


def render(report: Report) -> str:
    """Write the commands, worst level first, then the totals."""
    counted = [(report.counted_level(result), result) for result in report.results if _shown(report, result)]
    lines: list[str] = []
    for level in reversed(LEVELS[1:]):
        of_level = [result for counts, result in counted if counts == level]
        lines.extend(_command(level, result) for result in of_level[:MOST_OF_A_LEVEL])
    return "".join(f"{line}\n" for line in lines) + log_lines(
        "".join(f"{line}\n" for line in _rest(report, lines, counted))
    )


def _shown(report: Report, result: Result) -> bool:
    return summary.is_active(result) or (result.kind == "open" and report.counted_level(result) != "none")


def _command(level: Level, result: Result) -> str:
    line, column = max(1, result.where.line), max(1, result.where.column)
    title = f"{'open ' if result.kind == 'open' else ''}{result.rule}"
    properties = {
        "file": result.where.file,
        "line": str(line),
        "endLine": str(line),
        "col": str(column),
        "endColumn": str(column + 1),
        "title": title,
    }
    written = ",".join(f"{name}={command_property(value)}" for name, value in properties.items())
    message = f"{result.message}. Cure: {result.remedy}" if result.remedy else result.message
    return f"::{COMMANDS[level]} {written}::{command_message(message or result.rule)}"


def _rest(report: Report, lines: list[str], counted: list[tuple[Level, Result]]) -> Iterator[str]:
    yield f"isolint: {summary.plural(len(report.netlists), 'netlist')}: {summary.total_line(report)}"
    hidden = len(counted) - len(lines)
    if hidden:
        told = f"{len(lines)} of {len(counted)} are shown as annotations"
        yield f"isolint: {told}, since the service drops more than {MOST_OF_A_LEVEL} of a level"
    for error in report.errors:
        yield f"isolint: not done: {terminal(error)}"
    told = caution(report)
    if told:
        yield f"isolint: caution: {told}"
