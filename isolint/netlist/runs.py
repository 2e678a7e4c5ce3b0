"""A run of element cards, many at once, into the columns of the scope that is open.

Cards that the grammar has to read are read one by one and put between the others, so that the columns are those that
reading card by card gives. A card that says more than what it is (one that can't be read, text, a name that is there
already) ends the run in front of it, with nothing of it read: it is left to the reader, which takes one card
after the other and makes the errors.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Callable, Sequence
from itertools import repeat
from operator import itemgetter
from typing import Any, NamedTuple

from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.element import BadCard, Element
from isolint.netlist.fast import SHAPES, Regular, Splitter
from isolint.netlist.groups import Batch, Grouper, TailSet
from isolint.netlist.prose import is_doubtful, is_encrypted
from isolint.netlist.recovery import recovered
from isolint.netlist.sorting import LineBlock, SortedLines
from isolint.netlist.text_lines import joined_text, one_card, without_comment

LEAST = 24
"""Fewer cards are read faster one by one."""

_LETTERS = sorted({letter for letter, _, _ in SHAPES.values()})


Card = Regular | Element


class CardRun(NamedTuple):
    """The cards of a run in the order of their lines.

    letters, names, nodes, models, values, keys (the names as they are compared), lines and columns run in parallel.
    tails, singles: what only some cards have, with their position; singles are those that were read one by one.
    doubtful: cards that may be prose, with line and column; they stand in no column.
    """

    letters: Sequence[str]
    names: Sequence[str]
    nodes: Sequence[tuple[str, ...]]
    models: Sequence[str | None]
    values: Sequence[Number | Stimulus | None]
    keys: Sequence[str]
    lines: array[int]
    columns: array[int]
    tails: list[tuple[int, TailSet]]
    singles: list[tuple[int, Card]]
    doubtful: list[tuple[Element, int, int]]


def name_key(name: str) -> str:
    """A name as it is compared, without case. ASCII in upper case, as most names are written already."""
    low = name.lower()
    return low.upper() if low.isascii() else low


class RunReader:
    """Reads runs with the memory of a `Splitter`."""

    def __init__(self, splitter: Splitter) -> None:
        self._splitter = splitter
        self._grouper = Grouper(splitter)
        self._block = LineBlock([], _LETTERS)

    def read(self, lines: list[str], start: int, number: int) -> tuple[CardRun | None, int, int]:
        """Read the run that begins at index `start` of the lines, in line `number` of the file.

        Give the run or None, how many lines it takes, and how many lines were looked at.
        """
        if self._block.lines is not lines:
            self._block = LineBlock(lines, _LETTERS)
        found, seen = self._block.run(start)
        if found.end - start < LEAST:
            return None, 0, seen
        left = list(found.others)
        batches: list[Batch] = []
        for letter, indices in found.groups.items():
            if indices:
                batches += self._grouper.read(letter, indices, lines, left)
        singles: dict[int, Card] = {}
        for index in sorted((*left, *found.joined)):
            card = self._single(lines, index, found, number - start)
            if card is None:
                found.cut(index)
                batches = [_cut(batch, index) for batch in batches]
                seen = len(lines) - start
                break
            singles[index] = card
        if found.end - start < LEAST:
            return None, 0, len(lines) - start
        return _merged(batches, singles, found.columns, number - start), found.end - start, seen

    def _single(self, lines: list[str], index: int, found: SortedLines, shift: int) -> Card | None:
        """Read one card as the reader does; None for one that it has more to say of."""
        behind = found.joined.get(index, index + 1)
        if "\\" in "".join(lines[index:behind]) and any(line.rstrip()[-1:] == "\\" for line in lines[index:behind]):
            return None
        if index in found.joined:
            raws = lines[index:behind]
            text = joined_text(raws) if index in found.solid else one_card(raws, index + shift).text
        else:
            text = lines[index].strip()
            regular = self._splitter.read(text)
            if regular is not None:
                return regular
            text = without_comment(text).rstrip()
        regular = self._splitter.read(text)
        if regular is not None:
            return regular
        if is_encrypted(text) or not text[0].isalpha():
            return None
        try:
            return recovered(text)
        except BadCard:
            return None


def _cut(batch: Batch, end: int) -> Batch:
    """The cards of a batch in front of line `end`."""
    most = bisect_left(batch.indices, end)
    return batch if most == len(batch.indices) else batch.picked([index < end for index in batch.indices])


def _merged(batches: list[Batch], singles: dict[int, Card], starts: dict[int, int], shift: int) -> CardRun:
    """Put all cards into the order of the lines."""
    doubtful = [
        (Element(*card), index + shift, starts.get(index, 1)) for index, card in singles.items() if is_doubtful(card)
    ]
    if doubtful:
        singles = {index: card for index, card in singles.items() if not is_doubtful(card)}
    order: list[int] = []
    letters: list[str] = []
    names: list[str] = []
    nodes: list[tuple[str, ...]] = []
    models: list[str | None] = []
    values: list[Number | Stimulus | None] = []
    for batch in batches:
        order += batch.indices
        letters += [batch.letter] * len(batch.indices)
        names += batch.names
        nodes += batch.nodes
        models += batch.models
        values += batch.values
    for index, card in singles.items():
        order.append(index)
        letters.append(card[0])
        names.append(card[1])
        nodes.append(card[2])
        models.append(card[3])
        values.append(card[4])
    columns: list[Sequence[Any]] = [letters, names, nodes, models, values]
    if len(order) > 1:
        in_order: Callable[[Sequence[Any]], Sequence[Any]]
        in_order = itemgetter(*sorted(range(len(order)), key=order.__getitem__))
        columns = [in_order(column) for column in columns]
        order = list(in_order(order))
    tails: list[tuple[int, TailSet]] = []
    for batch in batches:
        if batch.tails is not None:
            at_tails = [bisect_left(order, index) for index in batch.indices]
            tails += [(at, some) for at, some in zip(at_tails, batch.tails, strict=True) if some]
    at_single = [(bisect_left(order, index), card) for index, card in singles.items()]
    tails += [(at, dict(found)) for at, card in at_single if (found := card[6])]
    begins = array("l", map(starts.get, order, repeat(1))) if starts else array("l", (1,)) * len(order)
    lines = array("l", [index + shift for index in order])
    keys = _keys(columns[1])
    in_columns = (columns[0], columns[1], columns[2], columns[3], columns[4])
    return CardRun(*in_columns, keys, lines, begins, tails, at_single, doubtful)


def _keys(names: Sequence[str]) -> Sequence[str]:
    """`name_key` of each name, the name itself where it is the same."""
    joined = "\n".join(names)
    if not joined.isascii():
        return list(map(name_key, names))
    upper = joined.upper()
    return names if upper == joined else upper.split("\n")
