"""Lines that are no part of the circuit although they may have been meant to be: how much is lost with them.

A line that is not understood, or stands where it does not count, is an error if it names two or more nets of the
circuit: whatever it was, it may have joined them. Else it is a note. Which nets there are is known only when everything
is read, so that the lines wait until then.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from isolint.errors import Place
from isolint.netlist.cards import Scope
from isolint.netlist.malformed import shown
from isolint.netlist.prose import is_english

MAX_TEXT = 2_000_000
"""Characters of lost lines that are kept; what comes behind them is an error, since nobody looks at it."""

_MOST = 2_000
_WORD = re.compile(r"[^\s=(){},'\"`|]+")
_PROBE = re.compile(r"\b[vi]\w{0,3}\s?\([^()]{0,200}\)", re.IGNORECASE)
"""What is measured names nets and joins none."""
LITTLE_WORDS = frozenset(
    {"a", "an", "the", "in", "on", "of", "is", "at", "to", "for", "and", "or", "by", "with", "as", "out"}
)
_NODES = range(1, 3)


class LostLine(NamedTuple):
    """A line that is not read, and where it stands."""

    text: str
    place: Place


class Loss(NamedTuple):
    """Lines that are lost for one reason. scope: whose nets they may name. message, subject, remedy: of the note.

    what: how to call one of the lines in the error. strict: whether --strict counts them although they name no nets.
    numbers: whether a number may be a net.
    """

    scope: int
    lines: list[LostLine]
    message: str
    place: Place
    subject: str
    remedy: str
    what: str
    strict: bool = True
    numbers: bool = True


class NamedLine(NamedTuple):
    """A line that names nets, which nets, and how many more such lines there are for the same reason."""

    line: LostLine
    nets: tuple[str, ...]
    more: int


def nets_of(scope: Scope) -> frozenset[str]:
    """The nets of a scope in lower case."""
    return frozenset(node.lower() for nodes in scope.nodes for node in nodes) | {port.lower() for port in scope.ports}


def named_nets(text: str, nets: Iterable[str], numbers: bool = True) -> tuple[str, ...]:
    """The nets that a line names, each once. Numbers are nets only where the nodes of a card would stand."""
    known = nets if isinstance(nets, (frozenset, set)) else frozenset(nets)
    words = _WORD.findall(_PROBE.sub(" ", text[:_MOST]))
    if not any(any(map(str.isalpha, word)) for word in words):
        return ()
    english = is_english(text)
    found: dict[str, str] = {}
    for position, word in enumerate(words):
        low = word.lower()
        if low not in known:
            low = low.rstrip(".;:")
            if low not in known or not low:
                continue
        if low[0].isdigit() and not any(map(str.isalpha, low)) and not (numbers and position in _NODES):
            continue
        if english and low in LITTLE_WORDS:
            continue
        found.setdefault(low, word)
    return tuple(found.values())


def finding(loss: Loss, nets: Mapping[int, frozenset[str]]) -> NamedLine | None:
    """The first line of a loss that names two nets of its circuit, None if there is none."""
    first: LostLine | None = None
    named: tuple[str, ...] = ()
    count = 0
    for line in loss.lines:
        names = named_nets(line.text, nets[loss.scope], loss.numbers)
        if len(names) > 1:
            count += 1
            if first is None:
                first, named = line, names
    return None if first is None else NamedLine(first, named, count - 1)


def words_of(found: NamedLine, loss: Loss) -> str:
    """The message of an error about a line that names nets."""
    names = ", ".join(shown(name, 30) for name in found.nets[:4])
    more = f", {len(found.nets) - 4} more" if len(found.nets) > 4 else ""
    others = "" if not found.more else f" (and {found.more:,} more such line{'s' if found.more > 1 else ''})"
    return f"`{shown(found.line.text, 40)}` {loss.what}, but names the nets {names}{more}{others}: what it does is lost"


def total_length(lines: Sequence[LostLine]) -> int:
    """Characters of the lines, as far as they are kept."""
    return sum(min(len(line.text), _MOST) for line in lines)


def kept(text: str) -> str:
    """What is kept of a line."""
    return text[:_MOST]
