"""Barriers drawn as SVG: two sides as areas, the barrier as a line between, everything that crosses it as a box on it.

Readable in black and white, text stays text, no script. Widths are counted in characters of a fixed-pitch font, so that
nothing has to be measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from isolint.reports.escape import xml
from isolint.reports.pathdrawing import path_drawing
from isolint.reports.safety import CAUTION
from isolint.reports.summary import plural
from isolint.reports.svg import RED, packed, shortened, text, wire, wrapped
from isolint.results import BarrierSheet, Crossing, Inventory, Remark, SideRecord
from isolint.units import show_share

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
_EDGE = 44
"""What a path drawn across both areas leaves free at either side."""
_LINE = 15
_SMALL = 13
_MOST_LINES = 4

_TAGS = {"part": "", "resistance": "", "capacitance": "", "joint": "JOINT", "unknown": "UNKNOWN"}
_FONT = "font-family='DejaVu Sans Mono, Consolas, Menlo, monospace'"


class Panel(NamedTuple):
    """One barrier drawn: the elements of an SVG with their height; the origin is the upper left corner."""

    elements: tuple[str, ...]
    height: int

    def document(self, label: str = "") -> str:
        """The panel as an SVG element of its own; `label` says what it shows to who does not see it."""
        return _svg(self.elements, self.height, label)


def render(inventory: Inventory) -> str:
    """Write all barriers as one SVG document, with the caution below them."""
    sides = {side.name: side for side in inventory.sides}
    title = wrapped(f"Barriers of {inventory.netlist}", 90)
    elements: list[str] = [text(20, 28 + 22 * number, line, 17, bold=True) for number, line in enumerate(title)]
    top = 22 + 22 * len(title)
    for barrier in inventory.barriers:
        drawn = panel(barrier, sides.get(barrier.sides[0]), sides.get(barrier.sides[1]))
        elements += [f'<g transform="translate(0 {top})">', *drawn.elements, "</g>"]
        top += drawn.height + 24
    if not inventory.barriers:
        elements.append(text(20, top + 12, "There is no barrier in this netlist.", 13))
        top += 30
    loose = [
        "; ".join((f"at no barrier shown: {item.name}: {item.what}", *item.details, *map(_said, item.remarks)))
        for item in inventory.others
    ]
    said = list(map(_said, inventory.remarks))
    notes = [*filter(None, (inventory.crashed,)), *(f"note: {note}" for note in inventory.notes)]
    for words in (*loose, *said, *notes, f"caution: {CAUTION}"):
        for line in wrapped(words, 128):
            elements.append(text(20, top + 12, line, 12))
            top += 16
        top += 6
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + _svg(elements, top + 10) + "\n"


def _svg(elements: Sequence[str], height: int, label: str = "") -> str:
    told = f'aria-label="{xml(label)}" ' if label else ""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" '
        f'role="img" {told}{_FONT} font-size="12" fill="#000">'
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
        rows.append(f'<rect x="{_MIDDLE - 62}" y="{top}" width="124" height="20" fill="#fff"/>')
        rows.append(text(_MIDDLE, top + 14, "nothing crosses", 12, "middle"))
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
        inner.append(wire(x, 0, x, bottom + 8, 1.4, "#000", ' stroke-dasharray="9 5"'))
    inner += rows
    below = bottom + 22
    stated = "; ".join(f"{key.replace('_', ' ')} {value}" for key, value in barrier.stated) or "nothing"
    texts = [(f"stated of the barrier: {stated}", False)]
    if barrier.doubt:
        texts.append((f"can't be judged: {barrier.doubt}", True))
    texts += [(_said(remark), True) for remark in barrier.remarks]
    if barrier.held:
        texts.append(("strength, weakest first:", False))
    for row in barrier.held:
        margin = "" if row.margin is None else f" (margin {show_share(row.margin)})"
        told = (
            f"{row.name}: {row.required} required, {row.offered} offered by {row.by}{margin}, {row.verdict}; {row.row}"
        )
        texts.append((told, row.verdict != "holds"))
    texts += [(note, False) for note in barrier.notes]
    for words, strong in texts:
        for line in wrapped(words, 128):
            inner.append(text(20, below, line, 12, bold=strong))
            below += 16
    return Panel(tuple(inner), below)


def _said(remark: Remark) -> str:
    return f"{remark.mark}: {remark.message} [{remark.rule}]"


def _heading(x: int, width: int, side: SideRecord | None, name: str) -> Iterator[str]:
    yield text(x, 28, shortened(f"side {name}", (width - 24) // 9), 15, bold=True)
    most = (width - 24) // 8
    if side is None:
        yield text(x, 46, "none of its nets is in this netlist", 12)
        return
    supplies = " ".join(side.supplies) or "none"
    bonds = f", bonded to {' '.join(side.bonded)}" if side.bonded else ""
    first = f"reference {side.reference or 'none'}, kind {side.kind or 'not stated'}{bonds}"
    size = f"{plural(side.elements, 'element')}, {plural(side.nets, 'net')}"
    for y, line in ((46, first), (62, f"supplies {supplies}"), (78, size)):
        yield text(x, y, shortened(line, most), 12)


def _row(crossing: Crossing, top: int) -> tuple[list[str], int]:
    """The box of one crossing with its nets on both sides; its elements and its height."""
    marks = dict.fromkeys(f"{remark.mark} {remark.rule}" for remark in crossing.remarks)
    fails = any(remark.mark in ("error", "warning", "note") for remark in crossing.remarks)
    head = wrapped(f"{crossing.name}  {crossing.what}", _TEXT - 4)[:_MOST_LINES]
    told = packed(crossing.details, _TEXT) if crossing.kind == "part" else crossing.details
    if crossing.path:
        # It is drawn below the box.
        told = [detail for detail in told if not detail.startswith("path: ")]
    details = [line for detail in told for line in wrapped(detail, _TEXT)]
    if len(details) > 2 * _MOST_LINES:
        details = [*details[: 2 * _MOST_LINES - 1], "..."]
    tags = [tag for tag in (_TAGS[crossing.kind], crossing.weakest.upper(), *(mark.upper() for mark in marks)) if tag]
    height = 12 + _LINE * len(head) + _SMALL * len(details) + 19 * len(tags)
    shown = ((), ()) if crossing.path else crossing.ends
    ends = [wrapped(" ".join(nets), _NETS)[:_MOST_LINES] if nets else [] for nets in shown]
    height = max(height, 14 + _LINE * max(map(len, ends)))
    middle = top + height // 2
    drawn: list[str] = []
    joint = crossing.kind in ("joint", "unknown")
    left, right = _MIDDLE - _BOX, _MIDDLE + _BOX
    # What joins the sides is drawn as an engineer would mark it: a thick wire, red where colours are shown.
    width, ink = (3.5, RED if fails else "#000") if joint else (1.2, "#000")
    for nets, x, span in ((ends[0], left - 24, (left - 20, left)), (ends[1], right + 24, (right, right + 20))):
        if nets:
            drawn.append(wire(span[0], middle, span[1], middle, width, ink))
        start = middle + 4 - (len(nets) - 1) * _LINE // 2
        anchor = "end" if x < _MIDDLE else "start"
        drawn += [text(x, start + _LINE * n, line, 11, anchor) for n, line in enumerate(nets)]
    border = _border(fails, joint, bool(crossing.remarks))
    corner = 0 if joint else 5
    drawn.append(
        f'<rect x="{left}" y="{top}" width="{2 * _BOX}" height="{height}" rx="{corner}" fill="#fff" {border}/>'
    )
    y = top + 17
    for tag in tags:
        inverted = not tag.startswith(("OPEN", "WAIVED", "UNKNOWN", "WEAKEST"))
        drawn += _tag(tag, left + 8, y - 12, inverted)
        y += 19
    for line in head:
        drawn.append(text(left + 8, y, line, 12, bold=True))
        y += _LINE
    for line in details:
        drawn.append(text(left + 8, y - 1, line, 10.5))
        y += _SMALL
    if crossing.path:
        path, more = path_drawing(crossing.path, top + height, _EDGE, WIDTH - _EDGE, fails)
        drawn += path
        height += more
    return drawn, height


def _border(fails: bool, joint: bool, remarked: bool) -> str:
    if fails:
        return f'stroke="{RED}" stroke-width="4"'
    if joint or remarked:
        return 'stroke="#000" stroke-width="3" stroke-dasharray="7 4"'
    return 'stroke="#000" stroke-width="1.4"'


def _tag(words: str, x: int, y: int, inverted: bool) -> Iterator[str]:
    shown = shortened(words, 36)
    width = round(7.3 * len(shown)) + 10
    fill, ink = ("#000", "#fff") if inverted else ("#fff", "#000")
    yield f'<rect x="{x}" y="{y}" width="{width}" height="16" fill="{fill}" stroke="#000"/>'
    yield f'<text x="{x + 5}" y="{y + 12}" font-size="12" font-weight="bold" fill="{ink}">{xml(shown)}</text>'
