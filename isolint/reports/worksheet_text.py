"""Calculation sheets as text: titled blocks of lines that can be redone by hand."""

from __future__ import annotations

from collections.abc import Iterable

from isolint.reports.escape import terminal
from isolint.results import WorksheetSection


def render(sections: Iterable[WorksheetSection]) -> str:
    """Write each section: its title, then `name = formula = numbers = result unit`, origin after `  # `."""
    blocks = []
    for section in sections:
        lines = [terminal(section.title)]
        for line in section.lines:
            origin = f"  # {terminal(line.origin)}" if line.origin else ""
            lines.append(f"  {terminal(line.text)}{origin}")
        blocks.append("\n".join(lines) + "\n")
    return "\n".join(blocks)
