"""A review as Markdown, for the page of a CI job and for the one summary comment of a request.

All text of foreign origin stands in code. What is cut is said, counts never are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from isolint.reports.escape import markdown, markdown_cell, markdown_code
from isolint.review.review_words import because, label, plural, shown_number, tally
from isolint.review.values import Item, Review

LIMIT = 60_000
"""Bytes that a summary takes at most."""
_MOST_DIFFERENCES = 50
_CLOSING = 200


def render(review: Review) -> str:
    """Write the whole review."""
    return summary(review)


def summary(review: Review, more: Sequence[str] = (), limit: int = LIMIT) -> str:
    """Write the review in at most `limit` bytes. more: lines of whoever posts it, never cut."""
    head = [*_head(review), *more, ""] if more else [*_head(review), ""]
    foot = _foot(review)
    room = limit - _size([*head, *foot]) - _CLOSING
    lines: list[str] = []
    cut = 0
    for line in (*_table(review), *_differences(review), *_policy(review)):
        room -= _size([line])
        if not cut and room >= 0:
            lines.append(line)
        elif line.startswith(("| ", "- ")):
            cut += 1
    if cut:
        lines += ["", f"{cut} more lines are not shown."]
    return "\n".join([*head, *lines, *foot]) + "\n"


def _size(lines: Sequence[str]) -> int:
    return sum(len(line.encode("utf-8", "replace")) + 1 for line in lines)


def _head(review: Review) -> Iterator[str]:
    if review.errors:
        yield f"**incomplete: {plural(len(review.errors), 'job')} not done.** What follows is not all."
        yield ""
        for error in review.errors[:5]:
            yield f"- {markdown_code(error)}"
        yield ""
    yield f"isolint: {markdown(tally(review))}."


def _table(review: Review) -> list[str]:
    if not review.items:
        return []
    lines = ["| class | what | before | now | where |", "| --- | --- | --- | --- | --- |"]
    return [*lines, *map(row, review.items), ""]


def row(item: Item) -> str:
    """One item as a row of the table."""
    cause = because(item.cause, item.where)
    cells = (
        label(item),
        f"**{markdown(item.rule)}** {markdown_code(item.subject)}" + (f": {markdown_code(cause)}" if cause else ""),
        _state(item, before=True),
        _state(item, before=False),
        markdown_code(f"{item.where.file}:{item.where.line}"),
    )
    return f"| {' | '.join(map(markdown_cell, cells))} |"


def _state(item: Item, before: bool) -> str:
    state = item.before if before else item.after
    if state.margin is not None:
        return f"margin {state.margin:.2f}"
    if state.number is not None:
        return shown_number(state.number)
    return {"fail": "fails", "pass": "passes", "open": "open", "absent": "-"}.get(state.kind, "not judged")


def _differences(review: Review) -> list[str]:
    lines: list[str] = []
    for netlist in review.netlists:
        told = [f"- {change.kind}: {markdown_code(change.text)}" for change in netlist.differences[:_MOST_DIFFERENCES]]
        told = [f"- {markdown_code(note)}" for note in netlist.notes] + told
        if netlist.more:
            told.append(f"- and {netlist.more} more differences")
        if told:
            lines += ["", f"In {markdown_code(netlist.name)}:", "", *told]
    return lines


def _policy(review: Review) -> list[str]:
    if not review.policy:
        return []
    told = [f"- {markdown_code(change.file)}: {markdown_code(change.text)}" for change in review.policy]
    return ["", "The request changes how results are judged or accepted:", "", *told]


def _foot(review: Review) -> list[str]:
    judged = sum(netlist.judged for netlist in review.netlists)
    lines = ["", *(markdown_code(note) for note in review.notes)]
    depend = f"{plural(judged, 'netlist')} judged" + (
        f", {len(review.netlists) - judged} not" if judged < len(review.netlists) else ""
    )
    head = review.head[:12] or "the work tree"
    lines.append(f"{depend}; base `{review.base[:12]}`, head `{head}`, isolint {review.version}.")
    if review.caution:
        lines += ["", f"> {markdown(review.caution)}"]
    return lines
