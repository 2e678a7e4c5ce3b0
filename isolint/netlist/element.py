"""What one element card says, before it is put into the columns of its scope."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal, NamedTuple

from isolint.errors import IsolintError
from isolint.netlist.card_values import read_value
from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.expressions import ExpressionError, constant, parse

_BRACED_PAIRS = re.compile(r"(?<!=)\{(\s*+[A-Za-z_][\w.]*+\s*+=(?!=)[^{}]*+)\}")

Tails = dict[str, Number | str]
"""The `key=value` pairs of a card, keys in lower case."""


class CardRemark(NamedTuple):
    """Something to say of a card that was read all the same.

    doubtful: whether something of the card may be lost. unit: whether it is about how a value is written, which is
    said once a file. computed: whether it is that nodes are expressions, of which more is said when all parameters are
    known.
    """

    level: Literal["warning", "note"]
    message: str
    cure: str
    doubtful: bool = False
    unit: bool = False
    computed: bool = False


class Element(NamedTuple):
    """One element card. The fields are those of the columns in `Scope`."""

    letter: str
    name: str
    nodes: tuple[str, ...]
    model: str | None = None
    value: Number | Stimulus | None = None
    controls: tuple[str, ...] = ()
    tails: Mapping[str, Number | str] | None = None
    remarks: tuple[CardRemark, ...] = ()


class BadCard(IsolintError):
    """A card that can't be read: `offset` is the character in its text at which reading stopped."""

    def __init__(self, text: str, offset: int = 0, cure: str = "") -> None:
        super().__init__(text, cure=cure)
        self.offset = offset


def bare(text: str) -> str:
    """The text without the braces or quotes that enclose it as a whole."""
    text = text.strip()
    if len(text) > 1 and text[0] in "'\"" and text[-1] == text[0]:
        text = text[1:-1].strip()
    if text[:1] == "{" and text.find("}") in (-1, len(text) - 1):
        text = text.strip("{}").strip()
    return text


def quantity(text: str) -> Number:
    """Read a value: a plain number, or an expression, folded when it is constant. Raise `ExpressionError`."""
    value = read_value(text)
    if value is not None:
        return value
    inner = bare(text)
    value = read_value(inner)
    if value is not None:
        return value
    expression = parse(inner)
    folded = constant(expression)
    return expression if folded is None else folded


def quantity_or_text(text: str) -> Number | str:
    """Read the value of a tail parameter; what is neither number nor expression stays text, flags behind it go."""
    text = text.strip().rstrip(",").rstrip()
    try:
        return quantity(text)
    except ExpressionError:
        first, rest = split_first(text)
        if not rest:
            return text
    try:
        return quantity(first)
    except ExpressionError:
        return text


def split_first(text: str) -> tuple[str, str]:
    """Split a text behind its first word or delimited expression."""
    text = text.lstrip()
    close = {"{": "}", "'": "'", '"': '"'}.get(text[:1])
    end = text.find(close, 1) if close else -1
    if end > 0:
        return text[: end + 1], text[end + 1 :].strip()
    first, _, rest = text.partition(" ")
    return first, rest.strip()


def unbraced(text: str) -> str:
    """The text with blanks for the braces round parameters, as in `{R=2k}`; nothing else moves."""
    return _BRACED_PAIRS.sub(lambda match: f" {match[1]} ", text) if "{" in text else text
