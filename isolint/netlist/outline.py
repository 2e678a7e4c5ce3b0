"""What of a file runs where it is read, seen from its cards alone: for asking whether one netlist judges another.

It says of no include that it runs where the reader might not follow it, and of no file that it has no cards where the
reader might find some.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.netlist.decoding import decode
from isolint.netlist.dependencies import meaning
from isolint.netlist.includes import path_argument
from isolint.netlist.text_lines import cards
from isolint.netlist.title import title_of
from isolint.netlist.words import SKIPPED, STRUCTURE

_INCLUDE = (".include", ".inc", ".incl")


class _Card(NamedTuple):
    """A card outside of subcircuits and skipped blocks. certain: whether it is read whatever the parameters are."""

    text: str
    certain: bool


def executed(data: bytes) -> tuple[str, ...]:
    """The names of included files that are surely read where this file is, with all their cards on its own nets.

    None behind `.end`, inside a condition, a subcircuit or a section of a library, and no section of a file.
    """
    text = decode(data).text
    if ".endl" in text.lower():
        return ()
    found: dict[str, None] = {}
    for card in _outside(text, 0):
        word, _, rest = card.text.partition(" ")
        if card.certain and word.lower() in _INCLUDE and path_argument(rest):
            found[path_argument(rest)] = None
    return tuple(found)


def has_cards(data: bytes) -> bool:
    """Whether a file holds elements that run if it is read by itself, and not only definitions."""
    text = decode(data).text
    return any(card.text[0] != "." for card in _outside(text, title_of(text).first))


def _outside(text: str, first: int) -> Iterator[_Card]:
    depth = conditions = 0
    closing = ""
    certain = True
    for line in cards(text, first):
        if line.text[0] != ".":
            if not depth and not closing:
                yield _Card(line.text, certain and not conditions)
            continue
        word = meaning(line.text[1:].split(None, 1)[0].lower()) if line.text[1:].strip() else ""
        if closing:
            if word == closing:
                closing = ""
                continue
            if closing != "endc" or word not in STRUCTURE:
                continue
            # The reader takes the block for closed; whether it is one nobody knows.
            closing, certain = "", False
        if word == "end":
            return
        depth = max(0, depth + (word == "subckt") - (word == "ends"))
        conditions += (word == "if") - (word == "endif")
        closing = "endc" if word == "control" else SKIPPED.get(word, "")
        if word == "include" and not depth:
            yield _Card(line.text, certain and not conditions)
    if depth:
        # A body that is never closed: what follows its head may be meant to run.
        yield _Card("?", False)
