"""Element cards through the grammar: text to named parts, with the offset of what can't be read."""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

from lark import Lark, Token, Transformer, UnexpectedInput, UnexpectedToken

from isolint.netlist.cards import Number
from isolint.netlist.element import BadCard, Tails, quantity, quantity_or_text
from isolint.netlist.expressions import ExpressionError
from isolint.netlist.grammar import build
from isolint.netlist.malformed import letter_of


class Piece(NamedTuple):
    """A token or a parenthesised group: its text and where it starts and ends on the card."""

    kind: str
    text: str
    start: int
    end: int
    inner: tuple[Piece, ...] = ()


class Assignment(NamedTuple):
    """`key = text`, key in lower case, with the span of the text."""

    key: str
    start: int
    end: int
    parts: tuple[Piece, ...]


class Parsed(NamedTuple):
    """A card taken apart: its name, its pairs of nodes, what follows, and how the grammar names the form."""

    name: str
    pairs: tuple[tuple[str, str], ...]
    items: tuple[Piece, ...]
    tails: tuple[Assignment, ...]
    form: str = ""


STARTS = {
    **dict.fromkeys("RCL", "passive"),
    "K": "coupling",
    **dict.fromkeys("VI", "source"),
    **dict.fromkeys("DQJM", "device"),
    **dict.fromkeys("EG", "controlled"),
    **dict.fromkeys("FH", "sensed"),
    "B": "behavioural",
    "S": "switch",
    "W": "current_switch",
    "X": "instance",
    "A": "code_model",
}
"""The start of the grammar for each letter; other letters are black boxes."""


def _parts(children: list[Any]) -> list[Any]:
    """The children with tokens turned into parts."""
    return [
        Piece(child.type, str(child), child.start_pos or 0, (child.start_pos or 0) + len(child))
        if isinstance(child, Token)
        else child
        for child in children
    ]


def node_name(word: str) -> str:
    """A node as it is named: an expression in braces without blanks, so that it is the same however it is written."""
    return "".join(word.split()) if word[:1] == "{" else str(word)


class _Collector(Transformer[Token, Any]):
    """Gathers the parts of a card while the parser runs."""

    def pair(self, children: list[Any]) -> tuple[str, str]:
        return node_name(children[0]), node_name(children[1])

    def group(self, children: list[Any]) -> Piece:
        opening, *parts, closing = _parts(children)
        inner = tuple(part for part in parts if part.kind != "EQUAL")
        return Piece("GROUP", "", opening.start, closing.end, inner)

    parenthesised = group

    def assignment(self, children: list[Any]) -> Assignment:
        key, *parts = _parts(children)
        start, end = (parts[0].start, parts[-1].end) if parts else (key.end, key.end)
        return Assignment(key.text.lower(), start, end, tuple(parts))

    def tail(self, _children: list[Any]) -> None:
        return None

    def linear(self, children: list[Any]) -> Parsed:
        return _parsed("", children, "linear")

    def poly(self, children: list[Any]) -> Parsed:
        return _parsed("", children, "poly")

    def expression(self, children: list[Any]) -> Parsed:
        return _parsed("", children, "expression")

    def function(self, children: list[Any]) -> Parsed:
        return _parsed("", children, "function")

    def only_tails(self, children: list[Any]) -> Parsed:
        return _parsed("", children, "only_tails")

    def card(self, children: list[Any]) -> Parsed:
        inner = children[-1] if isinstance(children[-1], Parsed) else None
        if inner is None:
            return _parsed(str(children[0]), children[1:], "")
        outer = _parsed(str(children[0]), children[1:-1], "")
        return inner._replace(name=outer.name, pairs=outer.pairs + inner.pairs)

    passive = coupling = source = device = controlled = sensed = behavioural = card
    switch = current_switch = instance = black_box = code_model = card


def _parsed(name: str, children: list[Any], form: str) -> Parsed:
    children = _parts(children)
    return Parsed(
        name,
        tuple(child for child in children if type(child) is tuple),
        tuple(child for child in children if isinstance(child, Piece)),
        tuple(child for child in children if isinstance(child, Assignment)),
        form,
    )


@cache
def _parser() -> Lark:
    return build("cards", tuple(sorted({*STARTS.values(), "black_box"})), _Collector())


def parse_card(text: str) -> Parsed:
    """Take an element card apart; raise `BadCard` with the offset at which it stops to be one."""
    start = STARTS.get(letter_of(text), "black_box")
    try:
        parsed: Parsed = _parser().parse(text, start=start)  # type: ignore[assignment]
    except UnexpectedInput as error:
        raise BadCard("can't be read", _offset(error, text)) from None
    return parsed


def _offset(error: UnexpectedInput, text: str) -> int:
    if isinstance(error, UnexpectedToken) and error.token.type == "$END":
        return len(text)
    return min(max(int(error.pos_in_stream or 0), 0), len(text))


def flat(parts: tuple[Piece, ...]) -> list[Piece]:
    """The parts with those in parentheses in their place."""
    found: list[Piece] = []
    for part in parts:
        found.extend(part.inner if part.kind == "GROUP" else (part,))
    return found


def tails_of(assignments: tuple[Assignment, ...], text: str) -> Tails:
    """The `key=value` pairs of a card with their values read."""
    return {item.key: quantity_or_text(text[item.start : item.end]) for item in assignments}


def value_of(part: Piece) -> Number:
    """Read a value; raise `BadCard` where it can't be read."""
    try:
        return quantity(part.text)
    except ExpressionError as error:
        raise BadCard(f"has a value that can't be read: {error.text}", part.start) from None
