"""A comparison, or a row of states, as text, JSON, or one page with a small plot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from isolint.archive import pieces
from isolint.archive.codec import plain
from isolint.archive.comparing import CLASSES, Comparison, StateChange, StateStep
from isolint.reports.escape import html, json_document, terminal
from isolint.reports.summary import plural
from isolint.reports.svg import text, wire
from isolint.units import show

FORMATS = ("text", "json", "html")
_WIDTH, _HEIGHT, _BAR = 640, 170, 26


def comparison_text(found: Comparison) -> str:
    """One line a change, those that hurt first, and the counts."""
    lines = [f"{_counts(found)}; {plural(found.pairs, 'board')} in both"]
    if found.tool_changed:
        lines.append(_TOOL)
    lines += [f"note: {note}" for note in found.notes]
    lines += [_line(change, found.tool_changed) for change in found.changes]
    return "".join(f"{terminal(line)}\n" for line in lines)


_TOOL = "tool changed: the two were made by different versions, so that a change may be of the rules, not of a board"


def _counts(found: Comparison) -> str:
    told = [f"{number} {name}" for name, number in found.counts.items() if number]
    return ", ".join(told) or "no difference"


def _line(change: StateChange, tool_changed: bool) -> str:
    rule = f"{change.rule} instead of {change.instead}" if change.instead else change.rule
    about = " ".join(word for word in (change.subject, f"[{rule}]" if rule else "") if word)
    states = " -> ".join(word for word in (change.before, change.now) if word)
    accepted = " (accepted)" if change.accepted else ""
    accepted += " (tool changed)" if tool_changed else ""
    return f"{change.what}{accepted}: {change.board}{f': {about}' if about else ''}: {states}"


def comparison_json(found: Comparison) -> str:
    """The comparison as JSON, `isolint-comparison/1`."""
    about = {"format": "isolint-comparison/1", "pairs": found.pairs, "tool_changed": found.tool_changed}
    return json_document(
        {**about, "counts": found.counts, "notes": plain(found.notes), "changes": plain(found.changes)}
    )


def comparison_html(found: Comparison) -> str:
    """The comparison as one page."""
    body = ["<h1>What is different</h1>", f"<p>{html(_counts(found))}; {plural(found.pairs, 'board')} in both.</p>"]
    body += [f'<p class="fails">{html(_TOOL)}</p>'] if found.tool_changed else []
    body += [f"<p>{html(note)}</p>" for note in found.notes]
    heads = ("class", "board", "rule", "subject", "before", "now")
    marked = " (tool changed)" if found.tool_changed else ""
    rows = [
        tuple(map(html, (f"{each.what}{marked}", each.board, each.rule, each.subject, each.before, each.now)))
        for each in found.changes
    ]
    body.append(pieces.table("Changes", heads, rows, sorts=True))
    body.append(pieces.caution())
    return pieces.page("isolint comparison", body, script=True)


# -- several states -----------------------------------------------------------------------------------------------


def _heads(steps: Sequence[StateStep]) -> list[str]:
    used = [name for name in CLASSES if any(step.changes[name] for step in steps)]
    return ["state", "judged", "failures", "open", "smallest margin", *used, "remark"]


def _rows(steps: Sequence[StateStep]) -> Iterator[list[str]]:
    used = [name for name in CLASSES if any(step.changes[name] for step in steps)]
    for step in steps:
        worst = "-" if step.worst is None else show(step.worst, "1")
        changes = [str(step.changes[name]) for name in used]
        remark = f"incomplete: {step.incomplete}" if step.incomplete else ""
        yield [step.name, str(step.judged), str(step.fails), str(step.opens), worst, *changes, remark]


def trend_text(steps: Sequence[StateStep]) -> str:
    """A table, and below it the failures of each state as a bar."""
    heads, rows = _heads(steps), [[terminal(cell) for cell in row] for row in _rows(steps)]
    widths = [max(len(row[at]) for row in [heads, *rows]) for at in range(len(heads))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in [heads, *rows]
    ]
    most = max(step.fails for step in steps) or 1
    lines += ["", "failures"]
    for step in steps:
        bar = "?" * 3 if step.incomplete else "#" * round(50 * step.fails / most)
        lines.append(f"  {terminal(step.name).ljust(widths[0])}  {bar} {step.fails}".rstrip())
    return "".join(f"{line}\n" for line in lines)


def trend_json(steps: Sequence[StateStep]) -> str:
    """The states as JSON, `isolint-trend/1`."""
    return json_document({"format": "isolint-trend/1", "states": plain(tuple(steps))})


def trend_html(steps: Sequence[StateStep]) -> str:
    """The table and the plot as one page."""
    rows = [tuple(map(html, row)) for row in _rows(steps)]
    body = ["<h1>Trend</h1>", pieces.table("States in their order", _heads(steps), rows), _plot(steps)]
    body += ["<p>A state that lacks boards of the first is incomplete: fewer failures there are no progress.</p>"]
    return pieces.page("isolint trend", [*body, pieces.caution()])


def _plot(steps: Sequence[StateStep]) -> str:
    """Failures as bars, filled; open questions as bars, empty; of an incomplete state with a broken edge."""
    most = max((max(step.fails, step.opens) for step in steps), default=0) or 1
    across = max(70, min(160, (_WIDTH - 60) // len(steps)))
    width = 60 + across * len(steps)
    told = "; ".join(f"{step.name} {step.fails} failures, {step.opens} open" for step in steps)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {_HEIGHT + 50}" width="{width}" '
        f'height="{_HEIGHT + 50}" role="img" aria-label="{html(told)}" font-size="11">'
    ]
    for at, step in enumerate(steps):
        x = 40 + across * at
        edge = ' stroke-dasharray="4 3"' if step.incomplete else ""
        for number, fill, shift in ((step.fails, "#555", 0), (step.opens, "#fff", _BAR + 4)):
            height = round((_HEIGHT - 30) * number / most)
            out.append(
                f'<rect x="{x + shift}" y="{_HEIGHT - height}" width="{_BAR}" height="{height}" fill="{fill}" '
                f'stroke="#000"{edge}/>'
            )
            out.append(text(x + shift + 2, _HEIGHT - height - 4, str(number), 11))
        name = terminal(step.name)
        out.append(text(x, _HEIGHT + 16, name if len(name) <= 18 else f"{name[:15]}...", 11))
        if step.incomplete:
            out.append(text(x, _HEIGHT + 30, "incomplete", 11, bold=True))
    out.append(wire(30, _HEIGHT, width - 10, _HEIGHT, 1.4, "#000"))
    out.append(text(30, _HEIGHT + 46, "filled: failures; empty: open questions", 11))
    return "\n".join([*out, "</svg>"])
