"""Barriers drawn as SVG: two sides as areas, the barrier as a line between, everything that crosses it as a box on it.

Readable in black and white, text stays text, no script. Widths are counted in characters of a fixed-pitch font, so that
nothing has to be measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from isolint.reports.escape import xml
from isolint.reports.safety import CAUTION
from isolint.results import BarrierSheet, Crossing, Inventory, SideRecord

WIDTH = 1000
_MIDDLE = WIDTH // 2
_GAP = 26
"""Half of the width of the gap between two areas."""
_BOX = 150
"""Half of the width of a box on the barrier."""
_NETS = 40
"""Characters of a line of net names beside a box."""
_TEXT = 44
"""Characters of a line in a box."""
_LINE = 15
_SMALL = 13
_MOST_LINES = 4

_TAGS = {"part": "", "resistance": "", "capacitance": "", "joint": "JOINT", "unknown": "UNKNOWN"}
_RED = "#b00018"
_FONT = "font-family='DejaVu Sans Mono, Consolas, Menlo, monospace'"


class Panel(NamedTuple):
    """One barrier drawn: the elements of an SVG with their height; the origin is the upper left corner."""

    elements: tuple[str, ...]
    height: int

    def document(self) -> str:
        """The panel as an SVG element of its own."""
        return _svg(self.elements, self.height)


def render(inventory: Inventory) -> str:
    """Write all barriers as one SVG document, with the caution below them."""
    sides = {side.name: side for side in inventory.sides}
    elements: list[str] = [_text(20, 28, f"Barriers of {inventory.netlist}", 17, bold=True)]
    top = 44
    for barrier in inventory.barriers:
        drawn = panel(barrier, sides.get(barrier.sides[0]), sides.get(barrier.sides[1]))
        elements += [f'<g transform="translate(0 {top})">', *drawn.elements, "</g>"]
        top += drawn.height + 24
    if not inventory.barriers:
        elements.append(_text(20, top + 12, "There is no barrier in this netlist.", 13))
        top += 30
    loose = [f"at no barrier shown: {item.name}: {item.what}" for item in inventory.others]
    said = [f"{remark.mark}: {remark.message} [{remark.rule}]" for remark in inventory.remarks]
    for text in (*loose, *said, f"caution: {CAUTION}"):
        for line in wrapped(text, 128):
            elements.append(_text(20, top + 12, line, 12))
            top += 16
        top += 6
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + _svg(elements, top + 10) + "\n"


def _svg(elements: Sequence[str], height: int) -> str:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" '
        f'role="img" {_FONT} font-size="12" fill="#000">'
    )
    ground = f'<rect x="0" y="0" width="{WIDTH}" height="{height}" fill="#fff"/>'
    return "\n".join((head, ground, *elements, "</svg>"))


def panel(barrier: BarrierSheet, one: SideRecord | None, other: SideRecord | None) -> Panel:
    """Draw one barrier between two sides; None for a side of which no net is in the netlist."""
    inner: list[str] = []
    rows: list[str] = []
    top = 92
    for crossing in barrier.crossings:
        drawn, height = _row(crossing, top)
        rows += drawn
        top += height + 12
    if not barrier.crossings:
        rows.append(_text(_MIDDLE, top + 14, "nothing crosses", 12, "middle"))
        top += 26
    bottom = top + 4
    left, right = (20, _MIDDLE - _GAP), (_MIDDLE + _GAP, WIDTH - 20)
    for (start, end), side, name, fill in (
        (left, one, barrier.sides[0], "#ededed"),
        (right, other, barrier.sides[1], "#fff"),
    ):
        inner.append(
            f'<rect x="{start}" y="8" width="{end - start}" height="{bottom - 8}" fill="{fill}" stroke="#000"/>'
        )
        inner += _heading(start + 12, end - start, side, name)
    for x in (_MIDDLE - 3, _MIDDLE + 3):
        inner.append(_wire(x, 0, x, bottom + 8, 1.4, "#000", ' stroke-dasharray="9 5"'))
    inner += rows
    below = bottom + 22
    stated = "; ".join(f"{key.replace('_', ' ')} {value}" for key, value in barrier.stated) or "nothing"
    texts = [(f"stated of the barrier: {stated}", False)]
    if barrier.doubt:
        texts.append((f"can't be judged: {barrier.doubt}", True))
    texts += [(f"{remark.mark}: {remark.message} [{remark.rule}]", True) for remark in barrier.remarks]
    for text, strong in texts:
        for line in wrapped(text, 128):
            inner.append(_text(20, below, line, 12, bold=strong))
            below += 16
    return Panel(tuple(inner), below)


def _heading(x: int, width: int, side: SideRecord | None, name: str) -> Iterator[str]:
    yield _text(x, 28, shortened(f"side {name}", (width - 24) // 9), 15, bold=True)
    most = (width - 24) // 8
    if side is None:
        yield _text(x, 46, "none of its nets is in this netlist", 12)
        return
    supplies = " ".join(side.supplies) or "none"
    first = f"reference {side.reference or 'none'}, kind {side.kind or 'not stated'}"
    size = f"{side.elements} elements, {side.nets} nets"
    for y, line in ((46, first), (62, f"supplies {supplies}"), (78, size)):
        yield _text(x, y, shortened(line, most), 12)


def _row(crossing: Crossing, top: int) -> tuple[list[str], int]:
    """The box of one crossing with its nets on both sides; its elements and its height."""
    marks = dict.fromkeys(f"{remark.mark} {remark.rule}" for remark in crossing.remarks)
    fails = any(remark.mark in ("error", "warning", "note") for remark in crossing.remarks)
    head = wrapped(f"{crossing.name}  {crossing.what}", _TEXT - 4)[:_MOST_LINES]
    told = packed(crossing.details, _TEXT) if crossing.kind == "part" else crossing.details
    details = [line for detail in told for line in wrapped(detail, _TEXT)]
    if len(details) > 2 * _MOST_LINES:
        details = [*details[: 2 * _MOST_LINES - 1], "..."]
    tags = [tag for tag in (_TAGS[crossing.kind], *(mark.upper() for mark in marks)) if tag]
    height = 12 + _LINE * len(head) + _SMALL * len(details) + 19 * len(tags)
    ends = [wrapped(" ".join(nets), _NETS)[:_MOST_LINES] if nets else [] for nets in crossing.ends]
    height = max(height, 14 + _LINE * max(map(len, ends)))
    middle = top + height // 2
    drawn: list[str] = []
    joint = crossing.kind in ("joint", "unknown")
    left, right = _MIDDLE - _BOX, _MIDDLE + _BOX
    # What joins the sides is drawn as an engineer would mark it: a thick wire, red where colours are shown.
    width, ink = (3.5, _RED if fails else "#000") if joint else (1.2, "#000")
    for nets, x, wire in ((ends[0], left - 24, (left - 20, left)), (ends[1], right + 24, (right, right + 20))):
        if nets:
            drawn.append(_wire(wire[0], middle, wire[1], middle, width, ink))
        start = middle + 4 - (len(nets) - 1) * _LINE // 2
        anchor = "end" if x < _MIDDLE else "start"
        drawn += [_text(x, start + _LINE * n, line, 11, anchor) for n, line in enumerate(nets)]
    border = _border(fails, joint, bool(crossing.remarks))
    corner = 0 if joint else 5
    drawn.append(
        f'<rect x="{left}" y="{top}" width="{2 * _BOX}" height="{height}" rx="{corner}" fill="#fff" {border}/>'
    )
    y = top + 17
    for tag in tags:
        inverted = not tag.startswith(("OPEN", "WAIVED", "UNKNOWN"))
        drawn += _tag(tag, left + 8, y - 12, inverted)
        y += 19
    for number, line in enumerate(head):
        drawn.append(_text(left + 8, y, line, 12, bold=number == 0))
        y += _LINE
    for line in details:
        drawn.append(_text(left + 8, y - 1, line, 10.5))
        y += _SMALL
    return drawn, height


def _wire(x1: int, y1: int, x2: int, y2: int, width: float, ink: str, extra: str = "") -> str:
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{ink}" stroke-width="{width:g}"{extra}/>'


def _border(fails: bool, joint: bool, remarked: bool) -> str:
    if fails:
        return f'stroke="{_RED}" stroke-width="4"'
    if joint or remarked:
        return 'stroke="#000" stroke-width="3" stroke-dasharray="7 4"'
    return 'stroke="#000" stroke-width="1.4"'


def _tag(text: str, x: int, y: int, inverted: bool) -> Iterator[str]:
    shown = shortened(text, 36)
    width = round(7.3 * len(shown)) + 10
    fill, ink = ("#000", "#fff") if inverted else ("#fff", "#000")
    yield f'<rect x="{x}" y="{y}" width="{width}" height="16" fill="{fill}" stroke="#000"/>'
    yield f'<text x="{x + 5}" y="{y + 12}" font-size="12" font-weight="bold" fill="{ink}">{xml(shown)}</text>'


def _text(x: float, y: float, text: str, size: float, anchor: str = "start", bold: bool = False) -> str:
    extra = f' text-anchor="{anchor}"' if anchor != "start" else ""
    extra += ' font-weight="bold"' if bold else ""
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}"{extra}>{xml(text)}</text>'


def wrapped(text: str, most: int) -> list[str]:
    """Break a text into lines of at most `most` characters, at blanks where there are any."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        while len(word) > most:
            room = most - len(line) - 1 if line else most
            if room < most // 3:
                lines.append(line)
                line, room = "", most
            lines.append(f"{line} {word[:room]}".lstrip())
            line, word = "", word[room:]
        if line and len(line) + 1 + len(word) > most:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".lstrip()
    return [*lines, line] if line or not lines else lines


def packed(items: Sequence[str], most: int) -> list[str]:
    """Put short items side by side into lines of at most `most` characters."""
    lines: list[str] = []
    for item in items:
        if lines and len(lines[-1]) + 2 + len(item) <= most:
            lines[-1] += f"; {item}"
        else:
            lines.append(item)
    return lines


def shortened(text: str, most: int) -> str:
    """A text that fits in `most` characters, its end cut off where it must be."""
    return text if len(text) <= most else text[: most - 3] + "..."
