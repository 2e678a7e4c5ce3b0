"""A conducting path drawn as an engineer marks it: one thick line from net to net, each element a box on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from isolint.reports.escape import xml
from isolint.reports.svg import RED, shortened, text, wire
from isolint.results import Hop

_MOST = 30
"""Characters of a name on the path."""
_CHARACTER = 6.7
"""Width of a character of 11 px in a fixed-pitch font, rounded up."""
_BOX = 22
_ROW = 52
_ABOVE = 30
"""From the top of a row to its line: the names of nets stand above the line."""


@dataclass(frozen=True, slots=True)
class _Placed:
    """One hop with the space that it takes in its row."""

    hop: Hop
    shown: str
    width: float


def path_drawing(hops: Sequence[Hop], top: float, left: float, right: float, fails: bool) -> tuple[list[str], int]:
    """Draw a path between two edges below `top`; its elements and its height.

    The element to cut lies halfway, where the barrier is, as far as there is room; a path too long for one row goes on
    in the next. Red where it fails, black and broken where it is open or waived.
    """
    ink = RED if fails else "#000"
    extra = "" if fails else ' stroke-dasharray="7 4"'
    rows = _rows([_placed(hop) for hop in hops], right - left)
    drawn = [f"<g><title>{xml(' - '.join(hop.text for hop in hops))}</title>"]
    for number, row in enumerate(rows):
        y = top + _ABOVE + number * _ROW
        start = _start(row, left, right) if len(rows) == 1 else left
        end = start + sum(placed.width for placed in row)
        last = number == len(rows) - 1
        first, until = start + row[0].width / 2, end - row[-1].width / 2
        drawn.append(wire(first if number == 0 else left - 6, y, until if last else right + 6, y, 3.5, ink, extra))
        if not last:
            # Down at the right, back between the rows, down at the left.
            below, between = y + _ROW, y + _BOX / 2 + 6
            corners = f"{right + 6:g},{y:g} {right + 6:g},{between:g} {left - 6:g},{between:g} {left - 6:g},{below:g}"
            drawn.append(f'<polyline points="{corners}" fill="none" stroke="{ink}" stroke-width="3.5"{extra}/>')
        for placed in row:
            drawn += _hop(placed, start, y, ink)
            start += placed.width
    return [*drawn, "</g>"], _ROW * len(rows)


def _placed(hop: Hop) -> _Placed:
    shown = shortened(hop.text, _MOST)
    return _Placed(hop, shown, _CHARACTER * len(shown) + (30 if hop.kind == "element" else 14))


def _rows(hops: Sequence[_Placed], room: float) -> list[list[_Placed]]:
    rows: list[list[_Placed]] = [[]]
    used = 0.0
    for placed in hops:
        if rows[-1] and used + placed.width > room:
            rows.append([])
            used = 0.0
        rows[-1].append(placed)
        used += placed.width
    return rows


def _start(row: Sequence[_Placed], left: float, right: float) -> float:
    """Where a single row begins: the element to cut halfway, else its middle, moved so that all of it has room."""
    total = sum(placed.width for placed in row)
    halfway, at = total / 2, 0.0
    for placed in row:
        if placed.hop.cut:
            halfway = at + placed.width / 2
            break
        at += placed.width
    return max(left, min(right - total, (left + right) / 2 - halfway))


def _hop(placed: _Placed, x: float, y: float, ink: str) -> list[str]:
    middle = x + placed.width / 2
    wide = _CHARACTER * len(placed.shown)
    if placed.hop.kind == "net":
        back = f'<rect x="{middle - wide / 2 - 2:g}" y="{y - 21:g}" width="{wide + 4:g}" height="14" fill="#fff"/>'
        dot = f'<circle cx="{middle:g}" cy="{y:g}" r="4.5" fill="{ink}"/>'
        return [back, dot, text(middle, y - 10, placed.shown, 11, "middle")]
    width = 3.5 if placed.hop.cut else 1.8
    box = f'<rect x="{x + 6:g}" y="{y - _BOX / 2:g}" width="{placed.width - 12:g}" height="{_BOX}" fill="#fff" '
    box += f'stroke="{ink}" stroke-width="{width:g}"/>'
    return [box, text(middle, y + 4, placed.shown, 11, "middle", bold=placed.hop.cut)]
