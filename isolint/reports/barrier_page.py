"""The inventory of a netlist's barriers as text and as a page of HTML that works without script."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from isolint.amount_held import Held
from isolint.reports.drawing import panel
from isolint.reports.escape import html, log_lines, terminal
from isolint.reports.safety import CAUTION
from isolint.reports.summary import plural
from isolint.results import BarrierSheet, Crossing, CrossingKind, Inventory, Remark, SideRecord
from isolint.units import show_share

GROUPS: Sequence[tuple[CrossingKind, str]] = (
    ("part", "barrier parts"),
    ("resistance", "resistances"),
    ("capacitance", "capacitors"),
    ("joint", "joints"),
    ("unknown", "unknown parts"),
)
"""The kinds of crossings in the order in which they are shown, and their headings."""


def render(inventory: Inventory) -> str:
    """Write the inventory as text."""
    lines = [f"{inventory.netlist}: {_counted(inventory)}"]
    lines += [f"  side {side.name}: {side_words(side)}" for side in inventory.sides]
    for barrier in inventory.barriers:
        lines += ["", f"barrier {' | '.join(barrier.sides)}", f"  stated: {stated_words(barrier)}"]
        if barrier.doubt:
            lines.append(f"  can't be judged: {barrier.doubt}")
        lines += _held(barrier)
        for kind, heading in GROUPS:
            lines += _group(heading, [crossing for crossing in barrier.crossings if crossing.kind == kind])
        lines += [f"  {remark_words(remark)}" for remark in barrier.remarks]
    if inventory.others:
        lines += ["", "at no barrier shown above"]
        lines += [line for crossing in inventory.others for line in _crossing(crossing)]
    if inventory.remarks:
        lines += ["", *(remark_words(remark) for remark in inventory.remarks)]
    lines += ["", *(f"note: {note}" for note in inventory.notes), f"caution: {CAUTION}"]
    return log_lines("".join(f"{terminal(line)}\n" for line in lines))


_TAG = re.compile(r"<[^>]*>")
_ENTITY = re.compile(r"&[a-z0-9#]+;")
_HEADS = ("amount", "required", "offered", "margin", "verdict", "by", "row")


def held_cells(row: Held) -> tuple[str, ...]:
    """One amount of a barrier in words, a column each."""
    margin = "-" if row.margin is None else show_share(row.margin)
    by = f"{row.by}, {row.key}" if row.key else row.by
    return row.name, row.required, row.offered, margin, row.verdict, by, row.row


def _held(barrier: BarrierSheet) -> Iterator[str]:
    """What the barrier must hold, in columns; the rows of the tables are too long for one and come last."""
    if not barrier.held:
        yield "  strength: no amount was compared"
        return
    yield "  strength, weakest first:"
    cells = [_HEADS, *map(held_cells, barrier.held)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(_HEADS) - 1)]
    for row in cells:
        yield "    " + "  ".join((*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]))
    yield from (f"    {note}" for note in barrier.notes)


def _group(heading: str, crossings: Sequence[Crossing]) -> Iterator[str]:
    if not crossings:
        yield f"  {heading}: none"
        return
    yield f"  {heading}: {len(crossings)}"
    for crossing in crossings:
        yield from _crossing(crossing)


def _crossing(crossing: Crossing) -> Iterator[str]:
    ends = " | ".join(" ".join(nets) or "-" for nets in crossing.ends)
    yield f"    {crossing.name}: {crossing.what} ({ends})"
    if crossing.weakest:
        yield f"      {crossing.weakest}"
    if crossing.details:
        yield f"      {'; '.join(crossing.details)}"
    for remark in crossing.remarks:
        yield f"      {remark_words(remark)}"


def _counted(inventory: Inventory) -> str:
    """What there is; that isolint itself failed comes first, since the rest is no whole answer then."""
    told = f"{plural(len(inventory.sides), 'side')}, {plural(len(inventory.barriers), 'barrier')}"
    return f"{inventory.crashed}; {told}" if inventory.crashed else told


def side_words(side: SideRecord) -> str:
    """What is known of a side, in one line."""
    return "; ".join(
        (
            f"reference {side.reference}" if side.reference else "no reference",
            *((f"bonded to {' '.join(side.bonded)}",) if side.bonded else ()),
            f"supplies {' '.join(side.supplies)}" if side.supplies else "no supply",
            f"kind {side.kind}" if side.kind else "kind not stated",
            f"{plural(side.elements, 'element')}, {plural(side.nets, 'net')}",
        )
    )


def stated_words(barrier: BarrierSheet) -> str:
    """What is stated of a barrier, in one line."""
    return "; ".join(f"{key.replace('_', ' ')} {value}" for key, value in barrier.stated) or "nothing"


def remark_words(remark: Remark) -> str:
    """A result in one line."""
    return f"{remark.mark}: {remark.message} [{remark.rule}]"


# -- HTML ----------------------------------------------------------------------------------------------------------

_STYLE = """
body { font: 15px/1.45 sans-serif; max-width: 62rem; margin: 1.5rem auto; padding: 0 1rem }
body { color: #000; background: #fff }
h1 { font-size: 1.4rem } h2 { font-size: 1.15rem; margin-top: 2.2rem; border-top: 2px solid #000; padding-top: .6rem }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 } caption { text-align: left; font-weight: bold }
th, td { border: 1px solid #777; padding: .25rem .5rem; text-align: left; vertical-align: top }
td.net, td.name { font-family: monospace } td.long { overflow-wrap: anywhere }
.mark { font-weight: bold } .fails { border-left: 6px solid #000; padding-left: .6rem; margin: .3rem 0 }
.caution { border: 2px solid #000; padding: .6rem .8rem; margin: 1.5rem 0 }
svg { max-width: 100%; height: auto }
@media print { h2 { break-after: avoid } svg, table { break-inside: avoid } }
""".strip()


def render_html(inventory: Inventory) -> str:
    """Write the inventory as one HTML page that needs nothing else: drawings inline, text selectable, no script."""
    title = f"Barriers of {inventory.netlist}"
    body = [
        f"<h1>{html(title)}</h1>",
        f"<p>{html(_counted(inventory))}. isolint {html(inventory.version)}.</p>",
        f'<p class="caution"><span class="mark">Caution:</span> {html(CAUTION)}</p>',
        *barrier_parts(inventory),
    ]
    if inventory.notes:
        body += ["<h2>Notes</h2>", *(f"<p>{html(note)}</p>" for note in inventory.notes)]
    head = f'<meta charset="utf-8"><title>{html(title)}</title>\n<style>\n{_STYLE}\n</style>'
    text = "\n".join(body)
    return f'<!doctype html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{text}\n</body>\n</html>\n'


def barrier_parts(inventory: Inventory) -> Iterator[str]:
    """The sides, each barrier with its drawing, and what stands at none, as parts of a page."""
    yield from _sides_table(inventory.sides)
    for barrier in inventory.barriers:
        yield from _section(inventory, barrier)
    if inventory.others:
        yield "<h2>At no barrier shown above</h2>"
        yield from _crossings(inventory.others, ("one side", "other side"))
    if inventory.remarks:
        yield "<h2>Further results</h2>"
        yield from map(_remark, inventory.remarks)


def _section(inventory: Inventory, barrier: BarrierSheet) -> Iterator[str]:
    sides = {side.name: side for side in inventory.sides}
    drawn = panel(barrier, sides.get(barrier.sides[0]), sides.get(barrier.sides[1]))
    yield f"<h2>Barrier {html(' | '.join(barrier.sides))}</h2>"
    if barrier.doubt:
        yield f'<p class="fails"><span class="mark">can\'t be judged:</span> {html(barrier.doubt)}</p>'
    yield from map(_remark, barrier.remarks)
    yield drawn.document(f"barrier between {' and '.join(barrier.sides)} with what crosses it")
    yield from _held_table(barrier)
    yield from _crossings(barrier.crossings, barrier.sides)


def _sides_table(sides: Iterable[SideRecord]) -> Iterator[str]:
    yield "<table><caption>Sides</caption>"
    heads = ("side", "reference", "bonded to", "supplies", "kind", "elements", "nets")
    yield f"<tr>{''.join(f'<th>{head}</th>' for head in heads)}</tr>"
    for side in sides:
        kind = side.kind or "not stated"
        cells = (side.reference or "none", " ".join(side.bonded) or "-", " ".join(side.supplies) or "none", kind)
        row = "".join(cell(html(words)) for words in (*cells, str(side.elements), str(side.nets)))
        yield f"<tr>{cell(html(side.name), 'name')}{row}</tr>"
    yield "</table>"


def _held_table(barrier: BarrierSheet) -> Iterator[str]:
    if not barrier.held:
        return
    yield "<table><caption>Strength, weakest first</caption>"
    yield f"<tr>{''.join(f'<th>{head}</th>' for head in _HEADS)}</tr>"
    for row in barrier.held:
        cells = "".join(cell(html(words)) for words in held_cells(row))
        yield f"<tr>{cells}</tr>"
    yield "</table>"
    yield from (f"<p>{html(note)}</p>" for note in barrier.notes)


def _crossings(crossings: Sequence[Crossing], sides: tuple[str, str]) -> Iterator[str]:
    if not crossings:
        yield "<p>Nothing crosses.</p>"
        return
    headings = dict(GROUPS)
    yield "<table><caption>What crosses</caption>"
    heads = ("what", "name", "type or value", f"nets on {sides[0]}", f"nets on {sides[1]}", "ratings, path, results")
    yield f"<tr>{''.join(f'<th>{html(head)}</th>' for head in heads)}</tr>"
    order = [kind for kind, _ in GROUPS]
    for crossing in sorted(crossings, key=lambda crossing: order.index(crossing.kind)):
        nets = "".join(cell(html(" ".join(names)) or "-", "net") for names in crossing.ends)
        details = "<br>".join(map(html, (*filter(None, (crossing.weakest,)), *crossing.details)))
        remarks = "".join(map(_remark, crossing.remarks))
        yield (
            f"<tr><td>{html(headings[crossing.kind])}</td>{cell(html(crossing.name), 'name')}"
            f"{cell(html(crossing.what))}{nets}{cell(details + remarks)}</tr>"
        )
    yield "</table>"


def cell(inner: str, kind: str = "", most: int = 28) -> str:
    """A cell of HTML. Only one that holds a word of more than so many characters may be broken anywhere, since columns
    that may be are narrowed until short words are."""
    long = max(map(len, _ENTITY.sub("x", _TAG.sub(" ", inner)).split()), default=0) > most
    named = " ".join(filter(None, (kind, "long" if long else "")))
    return f'<td class="{named}">{inner}</td>' if named else f"<td>{inner}</td>"


def _remark(remark: Remark) -> str:
    text = f'<span class="mark">{html(remark.mark)}:</span> {html(remark.message)} [{html(remark.rule)}]'
    return f'<div class="fails">{text}</div>'
