"""A review in words, as all formats say it. Plain text: whoever shows it makes it harmless for where it goes."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.errors import Place
from isolint.results import Level
from isolint.review.values import COUNTING, Cause, Item, Number, Review, State
from isolint.units import show, show_beside

NOTHING = "no electrical difference"
_NAMED = 12
"""Instances or boards that are named in a line."""


def headline(item: Item) -> str:
    """What an item is, in one line: the quantity before and now where both are known, else the message of now."""
    before, after = item.before, item.after
    if item.state in ("fixed", "settled"):
        return _gone(item)
    if item.state == "hidden":
        return f"{item.subject}: {item.rule} failed and is {_joined(item.notes) or 'not judged now'}"
    if item.instead:
        return f"{item.rule} instead of {item.instead}: {after.message}"
    if item.state == "unjudged":
        return after.message
    pair = _values(item)
    if pair and not _quantity(item).endswith(" margin"):
        return f"{item.subject}: {pair}"
    if before.margin is not None and after.margin is not None and after.required is not None:
        return f"{_quantity(item)} of {item.subject} {_margins(before, after)}, wanted {after.required:.2f}"
    return after.message


def _values(item: Item) -> str:
    """The number that the verdict rests on, before and now against its limit; "" where they can't be compared."""
    before, after = item.before.number, item.after.number
    if before is None or after is None or after.limit is None:
        return ""
    if (before.name, before.unit) != (after.name, after.unit):
        return ""
    sense = "at least" if after.sense == "at_least" else "at most"
    limit = f"{sense} {show(after.limit, after.unit)}"
    return f"{after.name} {show(before.value, before.unit)} -> {show(after.value, after.unit)} ({limit})"


def _gone(item: Item) -> str:
    before, after = item.before, item.after
    word = "fixed" if item.state == "fixed" else "settled"
    subject = item.subject.removeprefix("part:")
    if after.kind == "absent":
        why = "what it spoke of is gone" if item.state == "fixed" else "nothing asks for it any more"
        return f"{subject}: {item.rule} is {word}: {why}"
    if before.margin is not None and after.margin is not None:
        return f"{_quantity(item)} of {item.subject} {_margins(before, after)}"
    return f"{subject}: {item.rule} is {word}"


def _quantity(item: Item) -> str:
    """The name of what has a margin: that of the rule where it is a margin itself, else that of its number."""
    bad, _, _ = item.rule.rpartition("-")
    if bad.endswith("margin"):
        return bad.replace("-", " ")
    number = item.after.number
    return "margin" if number is None else f"margin of the {number.name}"


def _margins(before: State, after: State) -> str:
    assert before.margin is not None and after.margin is not None
    pair = f"{before.margin:.2f}", f"{after.margin:.2f}"
    if pair[0] == pair[1]:
        pair = show_beside(before.margin, after.margin, "1")
    return f"{pair[0]} -> {pair[1]}"


def label(item: Item) -> str:
    """`error, new`: the level at which it counts, and its class; accepted ones by whom."""
    level: Level | str = item.level if item.level != "none" else "note"
    if item.state not in COUNTING:
        return item.state
    accepted = f", accepted by the {item.after.accepted}" if item.after.accepted else ""
    return f"{level}, {item.state}{accepted}"


def numbers(item: Item) -> str:
    """`before 34.4 mA, now 73.1 mA, limit 50 mA (margin 1.45 -> 0.68) at VCC +5 %`; "" where there is none."""
    before, after = item.before.number, item.after.number
    if after is None:
        if item.before.margin is not None and item.after.margin is not None:
            return f"margin {_margins(item.before, item.after)}"
        return _measures(item)
    words = []
    if before is not None and before.unit == after.unit and before.name == after.name:
        pair = show(before.value, before.unit), show(after.value, after.unit)
        if pair[0] == pair[1] and before.value != after.value:
            pair = show_beside(before.value, after.value, after.unit)
        words = [f"before {pair[0]}", f"now {pair[1]}"]
    else:
        words = [f"now {show(after.value, after.unit)}"]
    if after.limit is not None:
        words.append(f"{'at least' if after.sense == 'at_least' else 'at most'} {show(after.limit, after.unit)}")
    told = ", ".join(words)
    if item.before.margin is not None and item.after.margin is not None:
        told += f" (margin {_margins(item.before, item.after)})"
    elif item.after.margin is not None:
        told += f" (margin {item.after.margin:.2f})"
    return told + (f" at {after.corner}" if after.corner else "")


def _measures(item: Item) -> str:
    before, after = item.before.measure, item.after.measure
    if before is None or after is None or before == after:
        return ""
    return f"how bad it is: {show(before, '1')} -> {show(after, '1')}"


def because(cause: Cause, where: Place | None = None) -> str:
    """The cause as half a sentence, "" where none is known; with its line where that is not the one of `where`."""
    changes = cause.changes
    more = f", and {cause.more} more" if cause.more else ""
    if cause.kind == "one" and changes:
        return f"because {changes[0]}{_line(cause, where)}"
    if cause.kind == "each":
        return f"because {'; '.join(changes)}{more}"
    if cause.kind == "any":
        return f"{' and '.join(changes)}{more}: putting back any one of them undoes it"
    if cause.kind == "together":
        return f"because of {' together with '.join(changes)}{more}: putting back one alone does not help"
    if cause.kind == "among" and changes:
        trials = f"not narrowed down: {cause.trials} trials" if cause.trials else "not narrowed down"
        if len(changes) == 1 and not more:
            return f"most probably: {changes[0]} ({trials})"
        return f"one of {', '.join(changes)}{more} ({trials})"
    return ""


def _line(cause: Cause, where: Place | None) -> str:
    now = next((anchor for anchor in cause.anchors if anchor.side == "new" or len(cause.anchors) == 1), None)
    if where is None or now is None or (now.file, now.line) == (where.file, where.line):
        return ""
    return f" ({now.file}:{now.line}{' before' if now.side == 'old' else ''})"


def where_else(item: Item) -> Iterator[str]:
    """In which instances and on which boards, nothing for what is there once."""
    if item.of > 1 or item.instances > 1:
        number = f"all {item.instances}" if item.instances >= item.of else f"{item.instances} of {item.of}"
        yield f"{number} instances: {_named(item.which, item.instances)}"
    if item.boards > 1:
        yield f"on {item.boards} boards: {_named(item.on, item.boards)}"


def _named(names: tuple[str, ...], number: int) -> str:
    shown = names if number <= _NAMED + 1 else names[:_NAMED]
    more = f" and {number - len(shown)} more" if number > len(shown) else ""
    return ", ".join(shown) + more


def remarks(item: Item) -> Iterator[str]:
    """What else there is to say of an item, one line each."""
    if item.state != "unjudged" and item.state != "hidden":
        yield from item.notes
    if item.came:
        yield f"came: {', '.join(item.came)}"
    if item.hides:
        yield f"hides {'; '.join(item.hides)}"
    if item.after_merge:
        yield item.after_merge
    yield from where_else(item)


def tally(review: Review) -> str:
    """`1 new, 1 worse, 2 fixed; 2 netlists depend on the change`; says so where there is nothing."""
    counts: dict[str, int] = {}
    accepted = 0
    for item in review.items:
        if item.after.accepted and item.state in COUNTING:
            accepted += 1
        else:
            counts[item.state] = counts.get(item.state, 0) + 1
    depend = f"{plural(len(review.netlists), 'netlist')} depend{'' if len(review.netlists) != 1 else 's'} on the change"
    told = [f"{number} {state}" for state, number in counts.items()]
    if accepted:
        told.append(f"{accepted} accepted")
    if told:
        return f"{', '.join(told)}; {depend}"
    if review.errors:
        unjudged = sum(not netlist.judged for netlist in review.netlists)
        return f"{depend}{f', {unjudged} not judged' if unjudged else ''}"
    if not any(netlist.differences or netlist.notes for netlist in review.netlists):
        return f"{depend}; {NOTHING}"
    return f"nothing became worse; {depend}"


def plural(number: int, noun: str) -> str:
    """`1 netlist`, `2 netlists`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def shown_number(number: Number | None) -> str:
    """A number with its unit, `-` for none."""
    return "-" if number is None else show(number.value, number.unit)


def _joined(notes: tuple[str, ...]) -> str:
    return "; ".join(notes)
