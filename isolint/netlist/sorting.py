"""The lines of a block by the letter that they begin with, and the runs of element cards in it, before any is read."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import count, repeat
from operator import call, itemgetter

from isolint.netlist.text_lines import is_comment

_FIRST = itemgetter(slice(0, 1))


@dataclass(slots=True, eq=False, repr=False)
class SortedLines:
    """The cards of a run as indices of lines in their block, ascending in each list.

    groups: by upper-case letter, the cards of one line that begin with it. others: cards of one line that begin with
    another letter. joined: where cards of several lines begin, and where the card behind each begins. solid: those of
    them with no comment or blank line inside. columns: where the indented ones begin, from 1. end: the first line that
    does not belong to the run.
    """

    groups: dict[str, list[int]]
    others: list[int]
    joined: dict[int, int]
    solid: set[int]
    columns: dict[int, int]
    end: int

    def cut(self, end: int) -> None:
        """Leave out the cards that begin in line `end` or behind it; the lists given out before stay as they are."""
        self.end = end
        self.groups = {letter: indices[: bisect_left(indices, end)] for letter, indices in self.groups.items()}
        self.others = self.others[: bisect_left(self.others, end)]
        self.joined = {head: behind for head, behind in self.joined.items() if head < end}

    def lists(self) -> list[list[int]]:
        """All lists of cards of one line."""
        return [*self.groups.values(), self.others]


class LineBlock:
    """The lines of a block by their first character; `run` gives one run of it after the other."""

    def __init__(self, lines: list[str], letters: Iterable[str]) -> None:
        self.lines = lines
        self._groups: dict[str, list[int]] = {letter: [] for letter in letters}
        self._odd: list[int] = []
        self._plus: list[int] = []
        put = {key: self._groups[letter].append for letter in self._groups for key in (letter, letter.lower())}
        put["+"] = self._plus.append
        # No step of Python for each line: the method that keeps its index is looked up and called in C.
        deque(map(call, map(put.get, map(_FIRST, lines), repeat(self._odd.append)), count()), maxlen=0)

    def run(self, start: int) -> tuple[SortedLines, int]:
        """The run of cards from line `start` up to the first line that only makes sense in its order: a dot card, a
        comment directive, text. The card in front of it counts if it is sure to be complete.

        Give the run, and how many lines from `start` on were looked at.
        """
        stop, complete = len(self.lines), False
        indented_plus: list[int] = []
        indented: list[tuple[str, int]] = []
        columns: dict[int, int] = {}
        for index in self._odd[bisect_left(self._odd, start) :]:
            line = self.lines[index]
            body = line.lstrip()
            if not body:
                continue
            first = body[0]
            if first in "*;#$/" and is_comment(body):
                if first != "*" or body[1:2] != ".":
                    continue
                stop = index
                break
            if first == "+":
                indented_plus.append(index)
            elif first.isalpha():
                indented.append((first.upper(), index))
                if line[0] != first:
                    columns[index] = len(line) - len(body) + 1
            else:
                stop, complete = index, True
                break
        groups = {
            letter: indices[bisect_left(indices, start) : bisect_left(indices, stop)]
            for letter, indices in self._groups.items()
        }
        found = SortedLines(groups, [], {}, set(), columns, stop)
        for letter, index in indented:
            groups.get(letter, found.others).append(index)
        if indented:
            for indices in groups.values():
                indices.sort()
        # Each continuation belongs to the last card in front of it; the last card of all may go on behind the run.
        plus = self._plus[bisect_left(self._plus, start) : bisect_left(self._plus, stop)] + indented_plus
        heads = sorted(index for indices in found.lists() for index in indices) if plus else []
        if not complete:
            found.cut(max((indices[-1] for indices in found.lists() if indices), default=start))
        if plus:
            plus.sort()
            _join(found, heads, plus[: bisect_left(plus, found.end)])
        return found, min(stop + 1, len(self.lines)) - start


def _join(found: SortedLines, heads: list[int], plus: list[int]) -> None:
    """Take the cards that continue out of the lists."""
    position = 0
    while position < len(plus):
        at = bisect_right(heads, plus[position]) - 1
        behind = min(heads[at + 1], found.end) if at + 1 < len(heads) else found.end
        found.joined[heads[at]] = behind
        next_card = bisect_left(plus, behind)
        if next_card - position == behind - heads[at] - 1:
            found.solid.add(heads[at])
        position = next_card
    for indices in found.lists():
        if not found.joined.keys().isdisjoint(indices):
            indices[:] = [index for index in indices if index not in found.joined]
