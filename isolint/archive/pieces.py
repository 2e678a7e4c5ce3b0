"""What all pages of a record are made of: one style, one small script that filters and sorts, tables, bars.

A page needs nothing else and asks for nothing; without the script everything is there. What a stranger wrote is escaped
where it is put in, and a policy in the page lets no other script run and nothing be loaded.
"""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Iterable, Sequence
from typing import Final

from isolint.reports.barrier_page import cell
from isolint.reports.escape import html, terminal
from isolint.reports.safety import CAUTION
from isolint.reports.svg import RED, text, wire
from isolint.units import show, show_beside

STYLE: Final = """
body { font: 15px/1.45 sans-serif; max-width: 76rem; margin: 1.5rem auto; padding: 0 1rem }
body { color: #000; background: #fff }
h1 { font-size: 1.4rem; overflow-wrap: anywhere }
h2 { font-size: 1.15rem; margin-top: 2.2rem; border-top: 2px solid #000; padding-top: .6rem }
h3 { font-size: 1rem; margin: 1.4rem 0 .4rem }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 }
caption { text-align: left; font-weight: bold; padding: .2rem 0 }
th, td { border: 1px solid #777; padding: .2rem .45rem; text-align: left; vertical-align: top }
th { background: #ececec } .w, td.n { white-space: nowrap } td.n { text-align: right }
td.long { overflow-wrap: anywhere }
td.net, td.name, code, pre { font-family: monospace }
pre { white-space: pre-wrap; overflow-wrap: anywhere; font-size: .85rem; border: 1px solid #777; padding: .5rem }
a { color: #003a8c } a:visited { color: #4b1a6b }
.mark { font-weight: bold } .fails { border-left: 6px solid #000; padding-left: .6rem; margin: .5rem 0 }
.caution, .incomplete { border: 2px solid #000; padding: .6rem .8rem; margin: 1.2rem 0 }
.incomplete { border-width: 4px; font-weight: bold }
.blank td { height: 2.2rem }
.filter { margin: .8rem 0 } .filter input { font: inherit; width: 22rem }
th button { font: inherit; font-weight: bold; background: none; border: 0; padding: 0; color: #000; cursor: pointer }
svg { max-width: 100%; height: auto }
nav { margin: .6rem 0 }
@media print {
  body { max-width: none; margin: 0; font-size: 11px } h2, h3 { break-after: avoid }
  svg, tr { break-inside: avoid } .filter, nav { display: none } thead { display: table-header-group }
  th, td { padding: .1rem .25rem } .wide { font-size: 9px }
}
""".strip()

SCRIPT: Final = """
for (const table of document.querySelectorAll("table[data-sorts]")) {
  const body = table.tBodies[0], all = [...body.rows], box = document.createElement("p");
  box.className = "filter";
  const label = document.createElement("label"), input = document.createElement("input");
  label.append("Show lines that hold: ", input);
  box.append(label);
  table.before(box);
  input.type = "search";
  input.addEventListener("input", () => {
    const wanted = input.value.toLowerCase();
    for (const row of all) row.hidden = !row.textContent.toLowerCase().includes(wanted);
  });
  [...table.tHead.rows[0].cells].forEach((head, at) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const up = head.getAttribute("aria-sort") !== "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      const value = row => row.cells[at].textContent.trim();
      const number = text => text === "" || text === "-" ? Infinity : Number(text);
      const order = (one, two) => {
        const a = number(one), b = number(two);
        return Number.isNaN(a) || Number.isNaN(b) ? one.localeCompare(two) : a === b ? 0 : a - b;
      };
      const sorted = [...all].sort((one, two) => order(value(one), value(two)));
      body.append(...(up ? sorted : sorted.reverse()));
    });
  });
}
""".strip()

_HASH: Final = base64.b64encode(hashlib.sha256(SCRIPT.encode()).digest()).decode()
_POLICY: Final = (
    f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{_HASH}'; base-uri 'none'; form-action 'none'"
)
_WIDTH = 620
_NAMES = 280


def page(title: str, body: Iterable[str], script: bool = False) -> str:
    """A whole page. script: whether its tables filter and sort."""
    inner = "\n".join(body)
    run = f"<script>{SCRIPT}</script>\n" if script else ""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{html(_POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html(title)}</title>\n<style>\n{STYLE}\n</style>\n</head>\n<body>\n<main>\n{inner}\n</main>\n{run}"
        "</body>\n</html>\n"
    )


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]], numbers: Sequence[int] = (),
          sorts: bool = False) -> str:  # fmt: skip
    """A table of cells that are HTML already. numbers: the columns that stand to the right."""
    wide = ' class="wide"' if len(heads) > 9 else ""
    lines = [f"<table{wide}{' data-sorts' if sorts else ''}><caption>{html(caption)}</caption>"]
    named = "".join(f'<th scope="col">{html(head)}</th>' for head in heads)
    lines.append(f"<thead><tr>{named}</tr></thead><tbody>")
    most = 40 if len(heads) <= 6 else 28
    for row in rows:
        cells = "".join(cell(each, "n" if at in numbers else "", most) for at, each in enumerate(row))
        lines.append(f"<tr>{cells}</tr>")
    return "\n".join([*lines, "</tbody></table>"])


def words(text: str) -> str:
    """A text of several lines as HTML."""
    return "<br>".join(html(line) for line in text.split("\n"))


def code(text: str) -> str:
    """Text to be pasted, line by line."""
    return "<br>".join(f"<code>{html(line)}</code>" for line in text.split("\n"))


def number(value: float | None, unit: str) -> str:
    """A quantity in engineering notation, `-` where there is none."""
    return html("-" if value is None or not math.isfinite(value) else show(value, unit))


def beside(value: float | None, limit: float, unit: str) -> tuple[str, str]:
    """A quantity and its limit, with as many digits as tell them apart."""
    if value is None or not math.isfinite(value):
        return "-", number(limit, unit)
    one, other = show_beside(value, limit, unit)
    return html(one), html(other)


def bars(rows: Sequence[tuple[str, float, float, str]], label: str) -> str:
    """Margins as bars against what is required: name, margin over required, corner. A short one is said in words."""
    height = 30 * len(rows) + 24
    finite = [min(max(value / required if required > 0.0 else value, 0.0), 4.0) for _, value, required, _ in rows]
    scale = (_WIDTH - 90) / max([1.25, *finite])
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_NAMES + _WIDTH} {height}" '
        f'width="{_NAMES + _WIDTH}" height="{height}" role="img" aria-label="{html(label)}" font-size="11" '
        "font-family=\"'DejaVu Sans Mono', Consolas, Menlo, monospace\">"
    ]
    limit = _NAMES + scale
    for at, ((name, value, required, corner), length) in enumerate(zip(rows, finite, strict=True)):
        y = 20 + 30 * at
        short = value < required
        fill, edge = ("#fff", RED) if short else ("#bbb", "#000")
        shown = f"{' of '.join(show_beside(value, required, '1'))}{' SHORT' if short else ''}"
        out.append(text(0, y + 11, _cut(name, 42), 11))
        out.append(
            f'<rect x="{_NAMES}" y="{y}" width="{max(1.0, length * scale):.1f}" height="14" fill="{fill}" '
            f'stroke="{edge}" stroke-width="{2.5 if short else 1}"/>'
        )
        out.append(text(_NAMES + max(length * scale, scale) + 6, y + 11, shown, 11, bold=short))
        out.append(text(_NAMES, y + 24, _cut(corner, 112), 9))
        # Only beside the bar, so that the corner below it can be read.
        out.append(wire(limit, y - 3, limit, y + 15, 2, "#000"))
    out.append(text(limit, 12, " required", 10))
    return "\n".join([*out, "</svg>"])


def _cut(words: str, most: int) -> str:
    shown = terminal(words)
    return shown if len(shown) <= most else shown[: most - 3] + "..."


def caution() -> str:
    """The caution, which every page carries."""
    return f'<p class="caution"><span class="mark">Caution:</span> {html(CAUTION)}</p>'


def sign_off() -> str:
    """A blank block for who reviews it."""
    heads = ("Role", "Name", "What was reviewed", "Date", "Signature")
    roles = ("prepared", "reviewed", "approved")
    rows = "".join(f'<tr><th scope="row">{role}</th>{"<td></td>" * 4}</tr>' for role in roles)
    head = "".join(f'<th scope="col">{each}</th>' for each in heads)
    return (
        f"<h2>Sign-off</h2>\n<p>Left blank for people. What is signed is the review, not this tool.</p>\n"
        f'<table class="blank"><caption>Signed by</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    )
