"""A channel drawn as a small schematic in SVG: nets as lines in the order of their voltages, elements between them.

Drawn by hand rather than by a library: each byte depends on the channel alone, nothing has to be searched for or
measured, and any network can be drawn, whatever it looks like. A dot joins, a crossing without a dot does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from isolint.drawn import ChannelSheet, DrawnElement, NetLevel, NetworkSheet
from isolint.reports.escape import html
from isolint.reports.svg import shortened, text, wire, wrapped
from isolint.units import show

MOST_ELEMENTS = 12
"""Elements of a network that are drawn; of more the number is told."""
_GUTTER = 150
_COLUMN = 124
_STEP = 58
_TOP = 56
_GAP = 70
_BROAD = 1180
"""What is wider is drawn below, not beside."""
_WORDS = 14
_INK = "#000"
_FONT = "font-family='DejaVu Sans Mono, Consolas, Menlo, monospace'"
_TERMINALS = {"Q": "CBE", "M": "DGS", "J": "DGS"}


def schematic(sheet: ChannelSheet) -> str:
    """Draw a channel: its drive on the left, its load on the right, the barrier between."""
    left, left_size = _network(sheet.drive, "drive")
    right, right_size = _network(sheet.load, "load")
    beside = left_size[0] + _GAP + right_size[0] <= _BROAD
    if beside:
        at = (left_size[0] + _GAP, 0)
        width, height = left_size[0] + _GAP + right_size[0], max(left_size[1], right_size[1])
        middle = left_size[0] + _GAP // 2
        barrier = [wire(x, 20, x, height - 8, 1.4, _INK, _DASHED) for x in (middle - 3, middle + 3)]
        barrier.append(text(middle, 14, "barrier", 11, "middle"))
    else:
        at = (0, left_size[1] + 44)
        width, height = max(left_size[0], right_size[0]), left_size[1] + 44 + right_size[1]
        middle = left_size[1] + 20
        barrier = [wire(0, y, width - 60, y, 1.4, _INK, _DASHED) for y in (middle - 3, middle + 3)]
        barrier.append(text(width - 52, middle + 4, "barrier", 11))
    told = html(f"schematic of {sheet.subject}: drive and load network with voltages and currents")
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" aria-label="{told}" {_FONT} font-size="11" fill="{_INK}">'
    )
    ground = f'<rect x="0" y="0" width="{width}" height="{height}" fill="#fff"/>'
    moved = f'<g transform="translate({at[0]} {at[1]})">'
    return "\n".join((head, ground, *left, *barrier, moved, *right, "</g>", "</svg>"))


_DASHED = ' stroke-dasharray="9 5"'


def _network(sheet: NetworkSheet, what: str) -> tuple[list[str], tuple[int, int]]:
    """The elements of one network's drawing, and its width and height."""
    *others, own = sheet.elements
    shown = [*others[:MOST_ELEMENTS], own] if what == "drive" else [own, *others[:MOST_ELEMENTS]]
    used = {net for element in shown for net in element.nets}
    nets = [level for level in _in_order(sheet.nets) if level.name in used]
    rows = {level.name: _TOP + at * _STEP for at, level in enumerate(nets)}
    drawn: list[str] = []
    joined: dict[str, list[int]] = {level.name: [] for level in nets}
    for at, element in enumerate(shown):
        x = _GUTTER + at * _COLUMN + 24
        drawn += _element(element, x, rows, joined)
    width = _GUTTER + len(shown) * _COLUMN
    lines: list[str] = []
    for level in nets:
        y = rows[level.name]
        lines.append(wire(8, y, max(joined[level.name], default=_GUTTER), y, 1.2, _INK))
        volts = "" if level.volts is None else f" {show(level.volts + 0.0, 'V')}"
        lines.append(text(8, y - 5, shortened(level.name, 22 - len(volts)) + volts, 11, bold=True))
        lines += [f'<circle cx="{place}" cy="{y}" r="2.6"/>' for place in sorted(set(joined[level.name]))]
    bottom = _TOP + len(nets) * _STEP
    told = [f"{what}: {sheet.why or sheet.corner or 'not solved'}"]
    if len(others) > MOST_ELEMENTS:
        told.append(f"{len(others) - MOST_ELEMENTS} more elements are not drawn")
    notes = [line for words in told for line in wrapped(words, max(40, width // 7))]
    lines += [text(8, bottom + 14 * at, line, 11) for at, line in enumerate(notes)]
    return [*lines, *drawn], (width, bottom + 14 * len(notes) + 6)


def _in_order(nets: Sequence[NetLevel]) -> list[NetLevel]:
    """The highest voltage first; what was not solved as it comes, between what lies above and below zero."""
    solved = sorted((level for level in nets if level.volts is not None), key=lambda level: -(level.volts or 0.0))
    others = [level for level in nets if level.volts is None]
    above = [level for level in solved if (level.volts or 0.0) > 0.0]
    return [*above, *others, *(level for level in solved if level not in above)]


def _element(element: DrawnElement, x: int, rows: dict[str, int], joined: dict[str, list[int]]) -> Iterator[str]:
    ends = [(rows[net], net) for net in element.nets if net in rows]
    if not ends:
        return
    heights = sorted({y for y, _ in ends})
    if len(heights) == 1:
        middle = heights[0] + _STEP // 2
    elif len(heights) == 2 or element.letter not in _TERMINALS:
        # In the gap below the highest net that it hangs on, so that it lies on no line.
        middle = heights[0] + _STEP // 2
    else:
        middle = heights[1] + _STEP // 2 if heights[2] - heights[1] >= heights[1] - heights[0] else heights[0] + 29
    places = [x] if len(heights) == 2 and len(ends) == 2 else _spread(x, len(ends))
    for at, (y, net) in enumerate(ends):
        place = places[at % len(places)]
        yield wire(place, y, place, middle, 1.2, _INK)
        joined[net].append(place)
    yield from _symbol(element, x, middle, ends[0][0] <= ends[-1][0], len(places))
    letters = _TERMINALS.get(element.letter, "")
    if len(letters) <= len(ends) and len(places) > 1:
        for place, letter, (y, _) in zip(places, letters, ends, strict=False):
            yield text(place + 2, middle - 15 if y < middle else middle + 23, letter, 9)
    words = [element.name, element.what, "" if element.amps is None else show(element.amps + 0.0, "A")]
    at = middle - 8
    offset = max(16, _half(element.letter, len(places)) + 5)
    for number, word in enumerate(word for word in words if word):
        yield text(x + offset, at + 12 * number, shortened(word, _WORDS), 10, bold=number == 0)


def _spread(x: int, number: int) -> list[int]:
    return [x + round((at - (number - 1) / 2) * 13) for at in range(number)]


def _half(letter: str, pins: int) -> int:
    """Half the width of a box."""
    return max(11, 7 * pins, 4 * len(letter) if letter == "load" else 0)


def _symbol(element: DrawnElement, x: int, y: int, downwards: bool, pins: int) -> Iterator[str]:
    letter = element.letter
    if letter in ("D", "led") and pins == 1:
        tip, base = (y + 8, y - 8) if downwards else (y - 8, y + 8)
        yield f'<path d="M{x - 9} {base}L{x + 9} {base}L{x} {tip}Z" fill="#fff" stroke="{_INK}" stroke-width="1.4"/>'
        yield wire(x - 9, tip, x + 9, tip, 2, _INK)
        if letter == "led":
            for shift in (0, 7):
                yield wire(x - 12, y - 4 + shift, x - 20, y - 9 + shift, 1.2, _INK)
                yield f'<path d="M{x - 22} {y - 10 + shift}l6 0.5l-3.2 4.6Z"/>'
        return
    if letter == "C" and pins == 1:
        yield f'<rect x="{x - 10}" y="{y - 3}" width="20" height="6" fill="#fff"/>'
        yield wire(x - 10, y - 3, x + 10, y - 3, 2, _INK)
        yield wire(x - 10, y + 3, x + 10, y + 3, 2, _INK)
        return
    if letter in "RL" and pins == 1:
        fill = "#fff" if letter == "R" else "#000"
        box = f'<rect x="{x - 6}" y="{y - 13}" width="12" height="26"'
        yield f'{box} fill="{fill}" stroke="{_INK}" stroke-width="1.4"/>'
        return
    half = _half(letter, pins)
    corner = 11 if letter in "VIQMJ" else 0
    yield (
        f'<rect x="{x - half}" y="{y - 11}" width="{2 * half}" height="22" rx="{corner}" fill="#fff" '
        f'stroke="{_INK}" stroke-width="1.4"/>'
    )
    yield text(x, y + 4, "out" if letter == "output" else "LED" if letter == "led" else letter, 10, "middle")
