"""Waivers ready to paste: one for each failure, complete but for who accepts it and why.

A waiver without reason and role is malformed and accepts nothing, so that pasting alone hides no failure.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from isolint.reports import summary
from isolint.reports.escape import terminal
from isolint.results import Report, Result
from isolint.tables import basic_string

HELD_FOR: Final = timedelta(days=180)


def render(report: Report, today: date) -> str:
    """Write one `[[waivers]]` table for each failure that nobody accepted, valid for half a year from `today`."""
    lines: list[str] = []
    for netlist in report.netlists:
        failures = [result for result in netlist.results if summary.is_active(result) and result.acceptable]
        if failures:
            lines += ["", f"# for the isolint.toml of {terminal(netlist.netlist)}; state reason and by"]
        for result in failures:
            lines.extend(_waiver(result, today + HELD_FOR))
    return "\n".join(lines) + "\n" if lines else "\n# no failure to waive\n"


def _waiver(result: Result, until: date) -> Iterator[str]:
    yield f"# {terminal(str(result.where))}: {terminal(result.message)}"
    yield "[[waivers]]"
    yield f"rule = {basic_string(result.rule)}"
    yield f"where = {basic_string(result.members[0] if result.members else result.subject)}"
    yield 'reason = ""'
    yield 'by = ""'
    yield f"until = {until.isoformat()}"
    if result.margin is not None and math.isfinite(result.margin.value) and result.margin.value >= 0.01:
        yield f'bound = "margin >= {math.floor(result.margin.value * 100) / 100:g}"'
