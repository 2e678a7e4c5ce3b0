"""Calculation sheets as one HTML page: titled tables of lines, with drawings of a period and of an edge.

Nothing is loaded from elsewhere and nothing runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.reports.escape import html, terminal
from isolint.reports.svg import text, wire
from isolint.results import Plot, PlotCurve, WorksheetSection
from isolint.units import show

WIDTH, LEFT, RIGHT, HEIGHT, GAP, TOP = 720.0, 90.0, 150.0, 96.0, 34.0, 46.0
"""Of a drawing, its margins, one curve and the room between two, in points."""

INK, GRID, MARK = "#1a1a1a", "#c8c8c8", "#b00018"

_STYLE = """
body { font: 15px/1.45 sans-serif; color: #1a1a1a; max-width: 1100px; margin: 2em auto; padding: 0 1em }
h1 { font-size: 1.4em } h2 { font-size: 1em; margin: 1.6em 0 .4em }
pre { margin: 0; white-space: pre-wrap; overflow-wrap: anywhere; font: 13px/1.5 monospace }
.origin { color: #555 } svg { max-width: 100%; height: auto } svg text { font-family: sans-serif }
""".strip()


def render(sections: Iterable[WorksheetSection], title: str) -> str:
    """The page of all sections; `title` names the netlist."""
    body = [f"<h1>{html(terminal(title))}</h1>"]
    for section in sections:
        body.append(f"<h2>{html(terminal(section.title))}</h2>")
        if section.lines:
            body.append("<pre>" + "\n".join(_lines(section)) + "</pre>")
        if section.plot is not None:
            body.append(drawing(section.plot))
    head = f'<meta charset="utf-8"><title>{html(terminal(title))}</title>\n<style>\n{_STYLE}\n</style>'
    text_of = "\n".join(body)
    return f'<!doctype html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{text_of}\n</body>\n</html>\n'


def _lines(section: WorksheetSection) -> Iterator[str]:
    for line in section.lines:
        origin = f'  <span class="origin"># {html(terminal(line.origin))}</span>' if line.origin else ""
        yield f"{html(terminal(line.text))}{origin}"


def drawing(plot: Plot) -> str:
    """Curves over one time, one above the other, each with its own scale."""
    end = max((t for curve in plot.curves for t, _ in curve.points), default=0.0)
    height = TOP + len(plot.curves) * (HEIGHT + GAP) + 14.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" role="img" '
        f'aria-label="{html(terminal(plot.title))}" width="{WIDTH:g}">',
        text(LEFT, 16.0, terminal(plot.title), 13.0, bold=True),
    ]
    for number, curve in enumerate(plot.curves):
        parts.extend(_curve(curve, TOP + number * (HEIGHT + GAP), end))
    parts.append(text(WIDTH - RIGHT, height - 4.0, f"t = {show(end, 's')}", 11.0, "end"))
    parts.append(text(LEFT, height - 4.0, "t = 0", 11.0))
    return "".join([*parts, "</svg>"])


def _curve(curve: PlotCurve, top: float, end: float) -> Iterator[str]:
    values = [value for _, value in curve.points] + [level for _, level in curve.marks]
    low, high = min(0.0, *values), max(0.0, *values)
    span = high - low or 1.0

    def x(seconds: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (seconds / end if end > 0.0 else 0.0)

    def y(value: float) -> float:
        return top + HEIGHT * (high - value) / span

    yield wire(LEFT, top, LEFT, top + HEIGHT, 1.0, INK)
    yield wire(LEFT, y(0.0), WIDTH - RIGHT, y(0.0), 1.0, GRID)
    yield text(LEFT, top - 6.0, terminal(curve.name), 11.0)
    yield text(LEFT - 6.0, y(high) + 4.0, show(high, curve.unit), 11.0, "end")
    if low < 0.0:
        yield text(LEFT - 6.0, y(low) + 4.0, show(low, curve.unit), 11.0, "end")
    yield text(LEFT - 6.0, y(0.0) + (4.0 if high > 0.0 else 14.0), "0", 11.0, "end")
    for words, level in curve.marks:
        yield wire(LEFT, y(level), WIDTH - RIGHT, y(level), 1.0, MARK, ' stroke-dasharray="5 3"')
        yield text(WIDTH - RIGHT + 6.0, y(level) + 4.0, terminal(words), 11.0)
    points = " ".join(f"{x(t):.1f},{y(value):.1f}" for t, value in curve.points)
    yield f'<polyline points="{points}" fill="none" stroke="{INK}" stroke-width="2"/>'
