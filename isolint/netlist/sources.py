"""Independent sources: what stands behind the two nodes of a V or I card."""

from __future__ import annotations

from collections.abc import Mapping

from isolint.netlist.card_values import read_value
from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.element import BadCard, Element, quantity
from isolint.netlist.expressions import ExpressionError
from isolint.netlist.syntax import Parsed, Piece, value_of

_KINDS = {
    "PULSE": "PULSE",
    "SIN": "SIN",
    "SINE": "SIN",
    "EXP": "EXP",
    "PWL": "PWL",
    "SFFM": "SFFM",
    "AM": "AM",
    "TBL": "TABLE",
    "TABLE": "TABLE",
    "TRNOISE": "TRNOISE",
    "TRRANDOM": "TRRANDOM",
    "EXTERNAL": "EXTERNAL",
}
_SMALL_SIGNAL = frozenset({"AC", "DISTOF1", "DISTOF2", "PORTNUM", "Z0"})
_PLAIN_WORDS = frozenset({"REPEAT", "FOREVER", "ENDREPEAT", "FOR", "FILE", "LOAD", "OFF"})
_KEYWORDS = _SMALL_SIGNAL | _PLAIN_WORDS | frozenset(_KINDS)


class _Stimulus:
    """What is read of a source so far. kind: of its time function, empty for none."""

    def __init__(self) -> None:
        self.dc: Number | None = None
        self.ac: tuple[Number, ...] | None = None
        self.kind = ""
        self.args: tuple[Number, ...] = ()

    def take(self, items: list[Piece], position: int) -> int:
        """Read the item at a position with what belongs to it; gives the position of the next."""
        part = items[position]
        word = part.text.upper() if part.kind == "WORD" else ""
        position += 1
        if word == "DC":
            found, position = _values(items, position, 1)
            self.dc = found[0] if found else 0.0
        elif word in _SMALL_SIGNAL:
            found, position = _values(items, position, 2)
            if word == "AC":
                self.ac = found or (1.0,)
        elif word in _KINDS:
            position = self._function(_KINDS[word], items, position)
        elif word not in _PLAIN_WORDS:
            self._value(part)
        return position

    def _function(self, kind: str, items: list[Piece], position: int) -> int:
        inner = items[position].inner if position < len(items) else ()
        if any(part.kind == "KEY" and part.text.lower() == "file" for part in inner):
            self.kind = "FILE"
            return position + 1
        self.kind = kind
        self.args, position = _arguments(items, position)
        return position

    def _value(self, part: Piece) -> None:
        """An item without a word in front: the DC value, or more of the time function."""
        if part.kind == "GROUP":
            inner = _numbers(part.inner)
            if self.kind:
                self.args += inner
            elif len(inner) == 1:
                self.dc = inner[0]
            else:
                raise BadCard("can't be read", part.start)
        elif self.dc is None and not self.kind and self.ac is None:
            self.dc = value_of(part)
        elif not self.kind or part.kind != "QUOTED":
            raise BadCard("can't be read", part.start)

    def made(self) -> Stimulus:
        """The stimulus as a whole; no value is 0."""
        if self.kind:
            return Stimulus(self.kind, self.dc, self.args)
        if self.dc is None and self.ac is not None:
            return Stimulus("AC", None, self.ac)
        return Stimulus("DC", 0.0 if self.dc is None else self.dc)


def source(letter: str, parsed: Parsed, text: str, tails: Mapping[str, Number | str]) -> Element:
    """Read the stimulus of a source: DC, AC and at most one time function, in any order. No value is 0."""
    rest = dict(tails)
    found = _Stimulus()
    items = list(parsed.items)
    position = 0
    while position < len(items):
        position = found.take(items, position)
    stated = rest.pop("dc", None)
    if found.dc is None and stated is not None and not isinstance(stated, str):
        found.dc = stated
    stated = rest.pop("ac", None)
    if found.ac is None and stated is not None and not isinstance(stated, str):
        found.ac = (stated,)
    if found.kind == "PWL" and not found.args and ("file" in rest or "FILE" in text.upper()):
        found.kind = "FILE"
    rest.pop("file", None)
    return Element(letter, parsed.name, parsed.pairs[0], None, found.made(), (), rest or None)


def _is_number(part: Piece) -> bool:
    return part.kind in ("BRACED", "QUOTED") or (part.kind == "NUMBER" and read_value(part.text) is not None)


def _values(items: list[Piece], position: int, most: int) -> tuple[tuple[Number, ...], int]:
    """Up to `most` numbers from `position` on; a bare word behind DC is a parameter."""
    found: list[Number] = []
    while position < len(items) and len(found) < most:
        part = items[position]
        if _is_number(part) or (most == 1 and part.kind == "WORD" and part.text.upper() not in _KEYWORDS):
            found.append(value_of(part))
        elif part.kind == "GROUP" and len(part.inner) == 1 and not found:
            found.append(value_of(part.inner[0]))
        else:
            break
        position += 1
    return tuple(found), position


def _arguments(items: list[Piece], position: int) -> tuple[tuple[Number, ...], int]:
    """The numbers of a time function, in parentheses or bare."""
    if position < len(items) and items[position].kind == "GROUP":
        return _numbers(items[position].inner), position + 1
    found: list[Piece] = []
    while position < len(items) and _is_number(items[position]):
        found.append(items[position])
        position += 1
    return _numbers(tuple(found)), position


def _numbers(parts: tuple[Piece, ...]) -> tuple[Number, ...]:
    numbers: list[Number] = []
    waiting = list(reversed(parts))
    while waiting:
        part = waiting.pop()
        if part.kind == "GROUP":
            waiting.extend(reversed(part.inner))
            continue
        if part.kind == "KEY" or part.text.upper() in _PLAIN_WORDS:
            continue
        try:
            numbers.append(quantity(part.text))
        except ExpressionError as error:
            raise BadCard(f"has a value that can't be read: {error.text}", part.start) from None
    return tuple(numbers)
