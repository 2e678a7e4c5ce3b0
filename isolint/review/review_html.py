"""A review as one page of HTML without script: each margin as a bar before and now against what is wanted."""

from __future__ import annotations

import math
from collections.abc import Iterator

from isolint.reports.escape import html
from isolint.reports.svg import RED, text, wire
from isolint.review.review_words import because, headline, label, numbers, remarks, tally
from isolint.review.values import COUNTING, Item, NetlistReview, Review

_WIDTH, _ROW, _CHARACTER = 520, 18, 7
_STYLE = (
    "body{font:15px/1.45 sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#111;background:#fff}"
    "article{border-left:4px solid #888;margin:1.2rem 0;padding:.2rem 0 .2rem 1rem}article.counts{border-color:#b00018}"
    "h2{font-size:1.05rem;margin:.2rem 0}code,pre{font-family:monospace}pre{white-space:pre-wrap;background:#f4f4f4;"
    "padding:.6rem}table{border-collapse:collapse}td,th{border:1px solid #aaa;padding:.2rem .6rem;text-align:left}"
)


def render(review: Review) -> str:
    """Write the page; the same review gives the same bytes."""
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8"><title>isolint review</title>',
        f"<style>{_STYLE}</style></head><body>",
        f"<h1>Review of {html(review.head[:12] or 'the work tree')} against {html(review.base[:12])}</h1>",
        f"<p>{html(tally(review))}.</p>",
    ]
    parts += [f"<p><strong>Not done:</strong> {html(error)}</p>" for error in review.errors]
    for item in review.items:
        parts.extend(_item(item))
    for netlist in review.netlists:
        parts.extend(_netlist(netlist))
    if review.policy:
        parts.append("<h2>Policy</h2><table><tr><th>file</th><th>key</th><th>before</th><th>now</th></tr>")
        parts += [
            f"<tr>{''.join(f'<td>{html(cell)}</td>' for cell in (each.file, each.what, each.before, each.after))}</tr>"
            for each in review.policy
        ]
        parts.append("</table>")
    parts += [f"<p>{html(note)}</p>" for note in review.notes]
    if review.caution:
        parts.append(f"<p><strong>Caution:</strong> {html(review.caution)}</p>")
    return "\n".join([*parts, "</body></html>", ""])


def _item(item: Item) -> Iterator[str]:
    yield '<article class="counts">' if item.counts else "<article>"
    yield f"<h2>{html(label(item))}: {html(headline(item))} <code>[{html(item.rule)}]</code></h2>"
    yield f"<p><code>{html(str(item.where))}</code></p>"
    yield from _bars(item)
    for line in (numbers(item), because(item.cause, item.where), *remarks(item)):
        if line:
            yield f"<p>{html(line)}</p>"
    if item.cure:
        yield f"<p>Cure: {html(item.cure)}</p>"
    if item.details and item.state in COUNTING:
        yield "<details><summary>Chain and numbers</summary><pre>"
        yield "\n".join(html(line) for line in item.details)
        yield "</pre></details>"
    yield "</article>"


def _bars(item: Item) -> Iterator[str]:
    """The margins before and now as bars, with a line where they just suffice."""
    pairs = [("before", item.before.margin), ("now", item.after.margin)]
    known = [value for _, value in pairs if value is not None and math.isfinite(value)]
    wanted = item.after.required or item.before.required
    if not known or wanted is None:
        return
    most = max(*known, wanted) * 1.1
    scale = (_WIDTH - 200) / most if most > 0.0 else 0.0
    line = 60 + wanted * scale
    said = ", ".join(f"{name} {value:.2f}" for name, value in pairs if value is not None)
    told = f"margin {said}; wanted {wanted:.2f}"
    yield f'<svg width="{_WIDTH}" height="{3 * _ROW}" role="img" aria-label="{html(told)}">'
    for row, (name, value) in enumerate(pairs):
        y = (row + 0.6) * _ROW
        if value is None or not math.isfinite(value):
            yield text(0, y + 4, name, 12)
            yield text(66, y + 4, "no margin", 12)
            continue
        short = value < wanted
        length = max(value, 0.0) * scale
        dashes = ' stroke-dasharray="4 2"' if short else ""
        yield text(0, y + 4, name, 12)
        yield wire(60, y, 60 + length, y, 10, RED if short else "#444", dashes)
        label = f"{value:.2f}{' too little' if short else ''}"
        at = 66 + length
        if at - _CHARACTER < line < at + _CHARACTER * len(label):
            at = line + _CHARACTER  # beside the line, not across it
        yield text(at, y + 4, label, 12)
    yield wire(line, 2, line, 2 * _ROW + 4, 1.5, "#000")
    yield text(line, 2.8 * _ROW, f"wanted {wanted:.2f}", 11, "middle")
    yield "</svg>"


def _netlist(netlist: NetlistReview) -> Iterator[str]:
    if not netlist.differences and not netlist.notes:
        return
    yield f"<h2><code>{html(netlist.name)}</code></h2><ul>"
    for note in netlist.notes:
        yield f"<li>{html(note)}</li>"
    for change in netlist.differences:
        yield f"<li>{html(change.kind)}: {html(change.text)}</li>"
    if netlist.more:
        yield f"<li>and {netlist.more} more differences</li>"
    yield "</ul>"
