"""What the reader's tests share: text in, cards and dumps out."""

from __future__ import annotations

from isolint.netlist import Cards, Note, read
from isolint.netlist.card_dump import dump
from isolint.source import MemoryTree


def read_text(text: str | bytes, others: dict[str, str | bytes] | None = None) -> Cards:
    """Read `text` as board.cir, with other files beside it."""
    return read(MemoryTree({"board.cir": text, **(others or {})}), "board.cir")


def deck(*cards: str) -> str:
    """A deck of the given lines below a title."""
    return "\n".join(("an invented board", *cards)) + "\n"


def elements(cards: Cards, scope: int = 0) -> list[str]:
    """The element lines of one scope's dump, without their places."""
    kept = Cards(cards.path, cards.files, (cards.scopes[scope],), frozenset(), (), 0, 0, {})
    lines = [line for line in dump(kept).splitlines() if line.startswith("(") and not line.startswith(_STRUCTURE)]
    return [line[1:].rpartition(" @")[0] for line in lines]


_STRUCTURE = ("(file", "(param", "(model", "(func", "(subckt", "(global", "(temperature")


def one(*lines: str) -> str:
    """The dump line of the only element of a deck."""
    cards = read_text(deck(*lines))
    found = elements(cards)
    assert len(found) == 1, found
    return found[0]


def notes(cards: Cards) -> list[str]:
    """Level, line and message of each note."""
    return [f"{note.level} {note.place.line} {note.message}" for note in cards.notes]


def only_note(cards: Cards) -> Note:
    """The one note that there is."""
    assert len(cards.notes) == 1, notes(cards)
    return cards.notes[0]
