"""A review as text: what has to be done first, one line an item, what is behind it indented; silence says why."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.reports.escape import log_lines, terminal
from isolint.review.review_words import because, headline, label, numbers, remarks, tally
from isolint.review.values import COUNTING, Item, NetlistReview, Review

_INDENT = "    "


def render(review: Review) -> str:
    """Write the whole review."""
    lines: list[str] = []
    for item in review.items:
        lines.extend(_item(item))
    for netlist in review.netlists:
        lines.extend(_netlist(netlist))
    lines.extend(f"policy: {terminal(change.file)}: {terminal(change.text)}" for change in review.policy)
    lines.extend(terminal(note) for note in review.notes)
    if review.errors:
        lines.append(f"incomplete: {len(review.errors)} not done (see standard error)")
    lines.append(terminal(tally(review)))
    if review.caution and review.items:
        lines.append(f"caution: {review.caution}")
    return log_lines("\n".join(lines) + "\n")


def _item(item: Item) -> Iterator[str]:
    yield f"{terminal(str(item.where))}: {label(item)}: {terminal(headline(item))} [{terminal(item.rule)}]"
    told = [numbers(item), because(item.cause, item.where), *remarks(item)]
    if item.state in COUNTING and headline(item) != item.after.message:
        told.insert(0, item.after.message)
    if item.cure:
        told.append(f"cure: {item.cure}")
    for line in told:
        if line:
            yield f"{_INDENT}{terminal(line)}"


def _netlist(netlist: NetlistReview) -> Iterator[str]:
    name = terminal(netlist.name)
    for note in netlist.notes:
        yield f"{name}: {terminal(note)}"
    for change in netlist.differences:
        yield f"{name}: {change.kind}: {terminal(change.text)}"
    if netlist.more:
        yield f"{name}: and {netlist.more} more differences"
